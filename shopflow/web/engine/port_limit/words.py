"""Limits of a port, in sentences."""

from __future__ import annotations

from shopflow.calc.port_limit import Crossing, Limit
from shopflow.services.engine.port_limit import PlaceOnTheWay, PortLimit
from shopflow.texts import gettext, lazy, listed
from shopflow.units import UnitSystem

OPENING = 0
"""Index of the valve opening among the places on the way."""

ABOUT = (
    lazy(
        "Geometry, not flow: the least area there is room for between valve and seat, in the "
        "throat less the stem, and at each section measured. What flows through it is for the "
        "bench to say: a rounder seat or a smoother bend is worth what no area shows."
    ),
    lazy(
        "A place is shown to be the narrowest where every other is wider by more than the "
        "uncertainty of both (95 %): of each size as the flow test states it, else as the shop "
        "states it for that measurement type."
    ),
    lazy(
        "Valve opening: π L cos β (D − 2w + L/2 sin 2β), later π (D − w) √((L − w tan β)² + w²), "
        "with w the seat width on the radius (Heywood 1988, section 6.3.2, from memory; derived "
        "afresh)."
    ),
)
"""Method behind the results, shown with them."""


def verdict(limit: Limit, places: tuple[PlaceOnTheWay, ...]) -> str:
    """The statement on the narrowest place at one lift."""
    if limit.is_shown:
        return gettext("narrower than every other")
    if limit.rivals:
        return gettext(
            "no measurable difference from {places}",
            places=listed([_inside(places[index]) for index in limit.rivals]),
        )
    return gettext("not tested")


def _inside(place: PlaceOnTheWay) -> str:
    """The name of a place inside a sentence."""
    return place.name[:1].lower() + place.name[1:]


def finding(crossing: Crossing | None, highest: Limit, limit: PortLimit, units: UnitSystem) -> str:
    """The lift above which the valve opening is no longer the narrowest place, in a sentence.

    `highest` is the limit at the last lift tested.
    """
    if crossing is None:
        return gettext(
            "The valve opening is the narrowest place up to {lift}, the last lift tested.",
            lift=units.text(highest.lift, "lift"),
        )
    lift = units.text(crossing.lift, "lift")
    if crossing.expanded_uncertainty is not None:
        margin = units.text(crossing.expanded_uncertainty, "lift")
        lift = f"{units.number(crossing.lift, 'lift')} ± {margin}"
    names = [
        _inside(limit.places[index])
        for index in sorted({crossing.passage, *highest.rivals})
        if index != OPENING
    ]
    if len(names) > 1:
        return gettext(
            "Up to {lift} of lift the valve opening is the narrowest place. Above that it is one "
            "of {places}: no measurable difference between them. More lift opens no more area.",
            lift=lift,
            places=listed(names),
        )
    return gettext(
        "Up to {lift} of lift the valve opening is the narrowest place. Above that: {place}, "
        "and more lift opens no more area.",
        lift=lift,
        place=names[0],
    )
