"""The form that narrows past results down; all of it is in the address."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import request

from shopflow.models import Purpose
from shopflow.services.bench.results import LAST_OF_PORT
from shopflow.web.fields import ChoiceField, DayField, QuantityField
from shopflow.web.forms import Form

ANY = {"": "Any"}


class FilterForm(Form):
    """Filter of past tests."""

    class Meta:
        """Nothing is changed by it, so that no token is wanted."""

        csrf = False

    refusal = "Not narrowed down yet."

    side = ChoiceField("Side", {"intake": "Intake", "exhaust": "Exhaust"}, default="intake")
    stage = ChoiceField("Stage", ANY, default="")
    purpose = ChoiceField(
        "Purpose",
        ANY | {purpose_named.value: purpose_named.value.capitalize() for purpose_named in Purpose},
    )
    kin = ChoiceField("Types", {"": "This and its relatives", "own": "This type alone"})
    over = ChoiceField("Draw over", {"lift": "Lift", "L/D": "L/D"}, default="lift")
    since = DayField("Tested from")
    until = DayField("Tested until")
    least_valve = QuantityField("Valve head from", "length", "For example 44 mm or 2.04 in.")
    most_valve = QuantityField("Valve head to", "length", "For example 46 mm.")

    @classmethod
    def from_query(cls, stages: Sequence[str]) -> FilterForm:
        """The form as the address has it; fields absent from the address take their defaults."""
        data = {name: request.args[name] for name in request.args if name in cls.names()}
        form = cls(formdata=request.args if data else None)
        # What an address leaves out of a choice is its first answer, not a fault.
        for field in (form.side, form.stage, form.purpose, form.kin, form.over):
            field.data = data.get(field.name, field.default or "")
        named = {LAST_OF_PORT: "Last test of each port", **{stage: stage for stage in stages}}
        form.stage.choices = ANY | named
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
