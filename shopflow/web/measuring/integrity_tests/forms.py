"""The form of a pressure, vacuum, leak or crack test's result."""

from __future__ import annotations

from typing import Any

from shopflow.models import IntegrityKind, IntegrityTest
from shopflow.services.measuring.integrity_tests import NEEDED
from shopflow.web.fields import ChoiceField, QuantityField, TypedField
from shopflow.web.forms import EditForm

MEDIUM = {
    IntegrityKind.PRESSURE: ("Medium", "For example water, or air under water."),
    IntegrityKind.VACUUM: ("Medium", "For example air, valves seated."),
    IntegrityKind.LEAK: ("Medium", "For example solvent in the chamber."),
    IntegrityKind.CRACK: ("Method", "For example dye penetrant, or magnetic particles."),
}


class IntegrityTestForm(EditForm):
    """The conditions of a test, and its result."""

    place = TypedField("Part tested (optional)", "For example cylinder 2; blank: whole head.")
    medium = TypedField("Medium", needed=True)
    pressure = QuantityField("Pressure", "pressure", "For example 40 psi.")
    duration = QuantityField("Time held", "time", "For example 10 min.")
    drop = QuantityField("Drop (optional)", "pressure", "For example 0.5 psi.")
    result = ChoiceField(
        "Result", {"": "Choose", "passed": "Passed", "failed": "Failed"}, needed=True
    )
    notes = TypedField("Note (optional)", "For example where it leaks.")

    @classmethod
    def of(cls, kind: IntegrityKind, row: IntegrityTest | None = None) -> IntegrityTestForm:
        """The form for a kind of test, filled from a result where there is one."""
        names = ("place", "medium", "pressure", "duration", "drop", "notes", "version")
        start: dict[str, Any] = {name: getattr(row, name) for name in names} if row else {}
        form = cls(data={**start, "result": row.result if row else ""})
        form.medium.label.text, form.medium.description = MEDIUM[kind]
        if kind is IntegrityKind.VACUUM:
            form.pressure.label.text, form.pressure.description = "Vacuum", "For example 20 inHg."
        if kind is IntegrityKind.CRACK:
            del form.pressure, form.duration, form.drop
        for name in NEEDED[kind]:
            form[name].flags.required = True
        return form
