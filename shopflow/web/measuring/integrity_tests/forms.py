"""The form of a pressure, vacuum, leak or crack test's result."""

from __future__ import annotations

from typing import Any

from shopflow.models import IntegrityKind, IntegrityTest
from shopflow.services.measuring.integrity_tests import NEEDED
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, QuantityField, TypedField
from shopflow.web.forms import EditForm

MEDIUM = {
    IntegrityKind.PRESSURE: (lazy("Medium"), lazy("For example water, or air under water.")),
    IntegrityKind.VACUUM: (lazy("Medium"), lazy("For example air, valves seated.")),
    IntegrityKind.LEAK: (lazy("Medium"), lazy("For example solvent in the chamber.")),
    IntegrityKind.CRACK: (
        lazy("Method"),
        lazy("For example dye penetrant, or magnetic particles."),
    ),
}


class IntegrityTestForm(EditForm):
    """The conditions of a test, and its result."""

    place = TypedField(
        lazy("Part tested (optional)"), lazy("For example cylinder 2; blank: whole head.")
    )
    medium = TypedField(lazy("Medium"), needed=True)
    pressure = QuantityField(lazy("Pressure"), "pressure", lazy("For example 40 psi."))
    duration = QuantityField(lazy("Time held"), "time", lazy("For example 10 min."))
    drop = QuantityField(lazy("Drop (optional)"), "pressure", lazy("For example 0.5 psi."))
    result = ChoiceField(
        lazy("Result"),
        {"": lazy("Choose"), "passed": lazy("Passed"), "failed": lazy("Failed")},
        needed=True,
    )
    notes = TypedField(lazy("Note (optional)"), lazy("For example where it leaks."))

    @classmethod
    def of(cls, kind: IntegrityKind, row: IntegrityTest | None = None) -> IntegrityTestForm:
        """The form for a kind of test, filled from a result where there is one."""
        names = ("place", "medium", "pressure", "duration", "drop", "notes", "version")
        start: dict[str, Any] = {name: getattr(row, name) for name in names} if row else {}
        form = cls(data={**start, "result": row.result if row else ""})
        form.medium.label.text, form.medium.description = MEDIUM[kind]
        if kind is IntegrityKind.VACUUM:
            form.pressure.label.text, form.pressure.description = (
                gettext("Vacuum"),
                gettext("For example 20 inHg."),
            )
        if kind is IntegrityKind.CRACK:
            del form.pressure, form.duration, form.drop
        for name in NEEDED[kind]:
            form[name].flags.required = True
        return form
