"""Checks of a session's statements about its meter against one another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from shopflow.calc.meterair import MeterKind
from shopflow.calc.metering import ElementKind
from shopflow.errors import FieldError
from shopflow.testfile.meter import OWN_ELEMENT, PRESSURE_DIFFERENCE, STANDARD_ELEMENT
from shopflow.texts import gettext

Values = Mapping[str, Any]


def meter_faults(values: Values) -> Iterator[FieldError]:
    """Faults of fields that contradict the way the bench reads.

    `values` are the fields that could be read; one that was refused is not among them.
    """
    kind = values.get("reading_kind")
    if kind == PRESSURE_DIFFERENCE:
        yield from _element(values)
        if values.get("meter_kind"):
            yield FieldError(
                "bench.meter",
                gettext(
                    'not with reading = "{pressure_difference}"',
                    pressure_difference=PRESSURE_DIFFERENCE,
                ),
            )
    elif kind is not None:
        yield from _no_element(values)
        yield from _meter_air(values)
    yield from _scale(values)


def _no_element(values: Values) -> Iterator[FieldError]:
    for name in ("element_kind", *STANDARD_ELEMENT, *OWN_ELEMENT):
        if values.get(name):
            key = "element" if name == "element_kind" else name
            yield FieldError(
                f"bench.{key}",
                gettext(
                    'only with reading = "{pressure_difference}"',
                    pressure_difference=PRESSURE_DIFFERENCE,
                ),
            )


def _meter_air(values: Values) -> Iterator[FieldError]:
    """Air at the meter, and what the meter makes of it: both or neither."""
    names = ("meter_temperature", "meter_pressure")
    stated = [name for name in names if values.get(name) is not None]
    if stated and not values.get("meter_kind", "refused"):
        yield FieldError(
            "bench.meter",
            gettext(
                'missing; {stated} needs it: "volume" counts the air that passes, a '
                '"restriction" shows it by a pressure difference',
                stated=stated[0],
            ),
        )
    if values.get("meter_kind") and not stated and not values.get("scale_density"):
        yield FieldError(
            "bench.meter_temperature", gettext("missing; meter needs it or meter_pressure")
        )


def _scale(values: Values) -> Iterator[FieldError]:
    """The air that a scale is marked for matters where the scale is a restriction's."""
    marked_for = values.get("scale_density")
    if marked_for and values.get("meter_kind", MeterKind.RESTRICTION) != MeterKind.RESTRICTION:
        yield FieldError(
            "bench.scale_density",
            gettext('{marked_for}: only with meter = "restriction"', marked_for=marked_for),
        )


def _element(values: Values) -> Iterator[FieldError]:
    """All of a metering element, and nothing of the other kind."""
    kind = values.get("element_kind")
    if not kind:
        if kind is not None:
            yield FieldError(
                "bench.element",
                gettext(
                    'missing; reading = "{pressure_difference}" needs it',
                    pressure_difference=PRESSURE_DIFFERENCE,
                ),
            )
        return
    own = kind == ElementKind.OWN
    needed, other = (OWN_ELEMENT, STANDARD_ELEMENT) if own else (STANDARD_ELEMENT, OWN_ELEMENT)
    for name in (*needed, "meter_pressure"):
        if values.get(name, "refused") is None:
            yield FieldError(
                f"bench.{name}", gettext('missing; element = "{kind}" needs it', kind=kind)
            )
    for name in other:
        if values.get(name) is not None:
            yield FieldError(f"bench.{name}", gettext('not with element = "{kind}"', kind=kind))
    bore, pipe = values.get("element_diameter"), values.get("pipe_diameter")
    if bore and pipe and bore.si >= pipe.si:
        yield FieldError(
            "bench.element_diameter",
            gettext("{bore} is not smaller than the pipe, {pipe}", bore=bore, pipe=pipe),
        )
