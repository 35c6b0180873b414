"""The form of one measured figure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from shopflow.models import Datum, EngineType, Measurement, MeasurementKind, When
from shopflow.models.places import OF_A_VALVE
from shopflow.services.bench.section_checks import ALONG
from shopflow.texts import gettext, lazy
from shopflow.units import CONDITION, CONDITIONS, pretty, units_of
from shopflow.web.context import system
from shopflow.web.fields import ChoiceField, CountField, QuantityField, TypedField
from shopflow.web.forms import EditForm, Form

SIDES = {"": lazy("Neither side"), "intake": lazy("Intake"), "exhaust": lazy("Exhaust")}
WHENS = {When.AFTER.value: lazy("After the work"), When.BEFORE.value: lazy("Before the work")}
FIGURES = frozenset({"value", "lower", "upper"})
CONDITION_NAMES = (lazy("Good"), lazy("Repaired"), lazy("Damaged"))
KEPT = ("side", "valve", "place", "datum", "when", "unit", "lower", "upper")
"""Fields that the next measurement of a row most likely shares with the last."""

_BARE = re.compile(r"\s*[+-]?[0-9.]+(?:[eE][+-]?[0-9]+)?\s*")


def with_unit(typed: str | None, unit: str) -> str:
    """Typed text, with this unit added to a bare number."""
    text = typed or ""
    return f"{text.strip()} {unit}" if _BARE.fullmatch(text) else text


class StrikeForm(Form):
    """Reason why a measurement no longer counts."""

    reason = TypedField(
        lazy("Reason"), lazy("For example measured on cylinder 3, not 2."), needed=True
    )


class MeasurementForm(EditForm):
    """A value with its place and limits; a bare number is in the unit chosen."""

    cylinder = CountField(lazy("Cylinder"), least=1)
    side = ChoiceField(lazy("Side"), SIDES)
    valve = ChoiceField(lazy("Valve"), {})
    place = TypedField(lazy("Place (optional)"), lazy("For example pushrod pinch."))
    distance = QuantityField(lazy("Distance along the port"), "length", lazy("For example 25 mm."))
    datum = ChoiceField(lazy("From"), Datum)
    when = ChoiceField(lazy("Taken"), WHENS, default=When.AFTER.value)
    value = TypedField(lazy("Measured"), needed=True, render_kw={"inputmode": "decimal"})
    unit = ChoiceField(lazy("Unit"), {})
    lower = TypedField(lazy("Minimum"), render_kw={"inputmode": "decimal"})
    upper = TypedField(lazy("Maximum"), render_kw={"inputmode": "decimal"})
    notes = TypedField(lazy("Note"))

    @classmethod
    def of(
        cls, kind: MeasurementKind, engine_type: EngineType, start: Mapping[str, Any]
    ) -> MeasurementForm:
        """The form for a kind of measurement on a head of this type, in the shop's unit."""
        usual = kind.unit_in(system())
        is_condition = kind.dimension == CONDITION
        given = {name: value for name, value in start.items() if value}
        form = (ConditionForm if is_condition else cls)(data={"unit": usual, **given})
        if start.get("cylinder"):
            # One of a row: the place is counted on, only the number is still to be typed.
            form.value.render_kw = {**(form.value.render_kw or {}), "autofocus": True}
        if kind.code not in ALONG:
            del form.distance, form.datum
        names = engine_type.named_valves if kind.place_kind in OF_A_VALVE else []
        form.valve.choices = {"": gettext("Not chosen")} | {
            name: name.capitalize() for name in names
        }
        if not names:
            del form.valve
        if is_condition:
            del form.unit, form.lower, form.upper
        else:
            form.unit.choices = {symbol: pretty(symbol) for symbol in units_of(kind.dimension)}
        return form

    @classmethod
    def over(cls, row: Measurement) -> MeasurementForm:
        """The form filled from a figure, each number as it was typed."""
        unit = row.value.unit
        names = ("cylinder", "side", "place", "distance", "datum", "when", "notes", "version")
        start = {name: getattr(row, name) for name in names}
        engine_type = row.job_head.head.engine_type
        if row.valve is not None and row.valve <= len(engine_type.valve_names(row.side)):
            start["valve"] = engine_type.valve_names(row.side)[row.valve - 1]
        for name in FIGURES:
            figure = getattr(row, name)
            if figure is not None:
                start[name] = figure.number if figure.unit == unit else figure.text
        return cls.of(row.kind, engine_type, {**start, "unit": unit})

    @property
    def values(self) -> dict[str, Any]:
        """Typed values, each bare number with its unit."""
        values = super().values
        unit = values.pop("unit", "")
        for name in FIGURES & values.keys():
            values[name] = with_unit(values[name], unit)
        return values

    def for_the_next(self, cylinders: int) -> dict[str, Any]:
        """Defaults of the next measurement: the same location, one cylinder on."""
        values = {name: self[name].data for name in KEPT if name in self and self[name].data}
        if self.cylinder.data and int(self.cylinder.data) < cylinders:
            values["cylinder"] = str(int(self.cylinder.data) + 1)
        return values


class ConditionForm(MeasurementForm):
    """A condition with its place: a word to choose, without unit and limits."""

    value = ChoiceField(
        lazy("Condition"), dict(zip(CONDITIONS, CONDITION_NAMES, strict=True)), needed=True
    )
