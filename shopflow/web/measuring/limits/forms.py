"""The form of one limit."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField

from shopflow.models import EngineType, MeasurementKind
from shopflow.texts import gettext, lazy, ngettext
from shopflow.web.fields import ChoiceField, TypedField
from shopflow.web.forms import Form

SIDES = {"": lazy("Intake and exhaust"), "intake": lazy("Intake"), "exhaust": lazy("Exhaust")}


class LimitForm(Form):
    """Between what a kind of figure must be; it takes the place of what is set for the side."""

    kind_id = ChoiceField(lazy("Measurement"), {}, needed=True)
    side = ChoiceField(lazy("Side"), SIDES)
    lower = TypedField(
        lazy("Minimum (optional)"), lazy("With its unit. For example 0.0015 in or 0.04 mm.")
    )
    upper = TypedField(lazy("Maximum (optional)"), lazy("With its unit."))
    source = TypedField(lazy("Source"), lazy("For example workshop manual, page 12."))

    @classmethod
    def offering(cls, kinds: Sequence[MeasurementKind]) -> LimitForm:
        """The form with these kinds of figure on offer."""
        form = cls()
        form.kind_id.choices = {"": gettext("Choose")} | {str(kind.id): kind.name for kind in kinds}
        return form


class CopyForm(Form):
    """The engine type whose limits to copy."""

    refusal = lazy("Not copied yet.")

    source_id = ChoiceField(lazy("Copy from"), {}, needed=True)
    replace = BooleanField(lazy("Replace limits set here already"))

    @classmethod
    def offering(cls, sources: Sequence[tuple[EngineType, int]]) -> CopyForm:
        """The form with these engine types on offer, each with the number of its limits."""
        form = cls()
        form.source_id.choices = {"": gettext("Choose")} | {
            str(row.id): f"{row.title} ({ngettext('{num} limit', '{num} limits', count)})"
            for row, count in sources
        }
        return form
