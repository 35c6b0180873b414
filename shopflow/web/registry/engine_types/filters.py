"""The form that narrows past results down; all of it is in the address."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import request

from shopflow.models import Purpose
from shopflow.services.bench.past_tests import LAST_OF_PORT
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, DayField, QuantityField
from shopflow.web.forms import Form

ANY = {"": lazy("Any")}


class FilterForm(Form):
    """Filter of past tests."""

    class Meta:
        """Nothing is changed by it, so that no token is wanted."""

        csrf = False

    refusal = lazy("Filters not applied.")

    side = ChoiceField(
        lazy("Side"), {"intake": lazy("Intake"), "exhaust": lazy("Exhaust")}, default="intake"
    )
    stage = ChoiceField(lazy("Stage"), ANY, default="")
    purpose = ChoiceField(
        lazy("Purpose"),
        ANY | {purpose.value: purpose for purpose in Purpose},
    )
    kin = ChoiceField(
        lazy("Types"), {"": lazy("This and related types"), "own": lazy("This type only")}
    )
    over = ChoiceField(lazy("Plot against"), {"lift": lazy("Lift"), "L/D": "L/D"}, default="lift")
    since = DayField(lazy("Tested from"))
    until = DayField(lazy("Tested until"))
    least_valve = QuantityField(
        lazy("Valve head from"), "length", lazy("For example 44 mm or 2.04 in.")
    )
    most_valve = QuantityField(lazy("Valve head to"), "length", lazy("For example 46 mm."))

    @classmethod
    def from_query(cls, stages: Sequence[str]) -> FilterForm:
        """The form as the address has it; fields absent from the address take their defaults."""
        data = {name: request.args[name] for name in request.args if name in cls.names()}
        form = cls(formdata=request.args if data else None)
        # What an address leaves out of a choice is its first answer, not a fault.
        for field in (form.side, form.stage, form.purpose, form.kin, form.over):
            field.data = data.get(field.name, field.default or "")
        named = {
            LAST_OF_PORT: gettext("Last test of each port"),
            **{stage: stage for stage in stages},
        }
        form.stage.choices = {"": gettext("Any"), **named}
        return form

    @property
    def narrowing(self) -> dict[str, Any]:
        """Arguments for the service: all fields except the choice of types and of the axis."""
        return {name: value for name, value in self.values.items() if name not in ("kin", "over")}

    @property
    def asked_for(self) -> dict[str, str]:
        """Fields that are in the address."""
        return {name: request.args[name] for name in request.args if name in self._fields}

    @classmethod
    def names(cls) -> set[str]:
        """Names of its fields."""
        return {field.name for field in cls(formdata=None)}
