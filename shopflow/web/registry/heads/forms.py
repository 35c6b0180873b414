"""The form of a head."""

from __future__ import annotations

from shopflow.web.fields import TypedField, WordsField
from shopflow.web.forms import EditForm


class HeadForm(EditForm):
    """Recorded data of a casting."""

    casting_number = TypedField("Casting number")
    serial = TypedField("Serial", "Stamped or tagged on the casting.")
    material = TypedField("Material")
    ports = TypedField("Ports", "For example siamesed exhaust 2 and 3.")
    chamber = TypedField("Chamber", "For example pent roof or wedge.")
    cylinders = TypedField(
        "Cylinder numbers (optional)", "Of a V engine, for example 1, 3, 5, 7. Blank counts from 1."
    )
    notes = WordsField("Notes")
