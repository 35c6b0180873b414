"""The form of a head."""

from __future__ import annotations

from shopflow.texts import lazy
from shopflow.web.fields import TypedField, WordsField
from shopflow.web.forms import EditForm


class HeadForm(EditForm):
    """Recorded data of a casting."""

    casting_number = TypedField(lazy("Casting number"))
    serial = TypedField(lazy("Serial"), lazy("Stamped or tagged on the casting."))
    material = TypedField(lazy("Material"))
    ports = TypedField(lazy("Ports"), lazy("For example siamesed exhaust 2 and 3."))
    chamber = TypedField(lazy("Chamber"), lazy("For example pent roof or wedge."))
    cylinders = TypedField(
        lazy("Cylinder numbers (optional)"),
        lazy("Of a V engine, for example 1, 3, 5, 7. Blank counts from 1."),
    )
    notes = WordsField(lazy("Notes"))
