"""Places of measurements, checked against the places their head has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from shopflow.errors import FieldError, ValidationError
from shopflow.models import EngineType, HeadPlan, PlaceKind
from shopflow.models.places import OF_A_VALVE
from shopflow.services.measuring import plausibility
from shopflow.texts import gettext, translated


class HasPlaces(Protocol):
    """A head, on record or to be, as its places are told from."""

    @property
    def engine_type(self) -> EngineType:
        """Its engine type."""

    @property
    def cylinders(self) -> str:
        """Numbers of its cylinders in the engine; empty where they run from 1."""

    @property
    def plan(self) -> HeadPlan | None:
        """Its places; none while the layout of its engine type is not recorded."""


def read_place(kind: PlaceKind, head: HasPlaces, values: Mapping[str, Any]) -> dict[str, Any]:
    """The valve's number for what was given; raises ValidationError for a place the head lacks.

    A valve is known by its name or number; the only one of its side by its cylinder and side.
    """
    cylinder, side = values.get("cylinder"), values.get("side") or ""
    wrong = _wrong_cylinder(head, cylinder)
    if wrong:
        raise ValidationError([FieldError("cylinder", wrong)])
    typed = str(values.get("valve") or "").strip()
    if cylinder is None or not side:
        if typed:
            raise ValidationError(
                [FieldError("valve", gettext("choose the cylinder and side as well"))]
            )
        return {"valve": None}
    names = head.engine_type.valve_names(side)
    if typed:
        return {"valve": _numbered(typed, names, head.engine_type, side)}
    return {"valve": 1 if kind in OF_A_VALVE and len(names) == 1 else None}


def valve_number(typed: str, names: Sequence[str]) -> int | None:
    """The number of a valve by its name or number; none where no valve is meant."""
    plain = typed.strip().casefold()
    for number, name in enumerate(names, start=1):
        if plain in (name.casefold(), str(number)) and plain:
            return number
    return None


def _numbered(typed: str, names: Sequence[str], engine_type: EngineType, side: str) -> int:
    number = valve_number(typed, names)
    if number is None:
        offered = ", ".join(name or "1" for name in names)
        message = _not_a_valve(typed, side, offered, engine_type.title)
        raise ValidationError([FieldError("valve", message)])
    return number


def _not_a_valve(typed: str, side: str, offered: str, engine_type: str) -> str:
    """Text for a valve that the head has not; `offered` is empty where its layout is not set."""
    if offered:
        return gettext(
            "'{typed}' is not an {side} valve of this head: choose {offered}",
            typed=typed,
            side=translated(side),
            offered=offered,
        )
    return gettext(
        "'{typed}' is not an {side} valve of this head: set the head layout of {engine_type}",
        typed=typed,
        side=translated(side),
        engine_type=engine_type,
    )


def _wrong_cylinder(head: HasPlaces, cylinder: int | None) -> str:
    """Fault of a cylinder's number; empty if there is none."""
    if cylinder is None:
        return ""
    plan = head.plan
    if plan is None or not head.cylinders:
        return plausibility.cylinder(str(cylinder), head.engine_type.cylinders)
    if cylinder in plan.cylinders:
        return ""
    offered = ", ".join(map(str, plan.cylinders))
    return gettext(
        "'{cylinder}' is not a cylinder of this head: enter one of {offered}",
        cylinder=cylinder,
        offered=offered,
    )
