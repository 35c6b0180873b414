"""Work plan templates that a shop may start with: offered, never added unasked.

They are of built-in steps and have no prices: a blank one takes the shop's usual price when a head
is planned by it. Their order of work is common practice, no source.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from shopflow.texts import lazy


class StarterStep(NamedTuple):
    """A step by the code of its kind, with its instructions."""

    kind: str
    instructions: Any = ""


class Starter(NamedTuple):
    """A template: its name, when to use it, its steps in order."""

    key: str
    name: Any
    notes: Any
    steps: tuple[StarterStep, ...]


_Step = StarterStep
_TEARDOWN = _Step(
    "teardown",
    lazy(
        "Measure every installed height before the retainers come off. Keep valves and springs by "
        "place."
    ),
)
_WASH = _Step("hot-wash")
_MEASURE = _Step("inspection")
_CRACKS = _Step("crack-check")
_PRESSURE = _Step("pressure-test")
_RESURFACE = _Step("resurface", lazy("Take off as little as cleans the deck up."))
_VACUUM = _Step("vacuum-test")
_AS_RECEIVED = _Step("flow-test", lazy("As received, with its own valves."))
_AGAIN = _Step("flow-test", lazy("Same cylinder, adapter and pressure as before."))
_AFTER = _Step("flow-test", lazy("After the work. Same cylinder, adapter and pressure."))
_ASSEMBLY = _Step("assembly", lazy("Measure every installed height and set the shims."))

STARTERS = (
    Starter(
        "inspect",
        lazy("Inspect and quote"),
        lazy("Nothing is cut: find out what the head needs, then quote."),
        (_TEARDOWN, _WASH, _CRACKS, _MEASURE),
    ),
    Starter(
        "valve-job",
        lazy("Valve job"),
        lazy("Valves and seats renewed, ports left alone."),
        (
            _TEARDOWN, _WASH, _MEASURE, _CRACKS, _Step("guide"), _Step("valve-grind"),
            _Step("seat-cut"), _RESURFACE, _VACUUM, _ASSEMBLY,
        ),
    ),
    Starter(
        "street-port",
        lazy("Street port"),
        lazy("Seats and bowls for the road, flow tested before and after."),
        (
            _TEARDOWN, _WASH, _MEASURE, _AS_RECEIVED, _Step("seat-cut"), _Step("throat-cut"),
            _Step("port-work", lazy("Blend the bowls to the throat. Leave the floor.")),
            _AFTER, _Step("valve-grind"), _RESURFACE, _VACUUM, _ASSEMBLY,
        ),
    ),
    Starter(
        "race-port",
        lazy("Race port"),
        lazy("Full port, chamber and seats, with a flow test between steps."),
        (
            _TEARDOWN, _WASH, _CRACKS, _MEASURE, _AS_RECEIVED, _Step("guide"), _Step("seat-cut"),
            _AGAIN, _Step("throat-cut"), _AGAIN,
            _Step("port-work", lazy("Finish one port of each side, test it, then copy it.")),
            _AGAIN, _Step("chamber-work", lazy("Match the volumes of all chambers.")), _RESURFACE,
            _Step("valve-grind"), _AFTER, _VACUUM, _ASSEMBLY,
        ),
    ),
    Starter(
        "crack-repair",
        lazy("Crack repair"),
        lazy("Weld a cracked casting, renew what the heat spoils, and test it."),
        (
            _TEARDOWN, _WASH, _CRACKS, _Step("weld-repair"),
            _Step("crack-check", lazy("The weld and all around it.")), _PRESSURE,
            _Step("seat-insert"), _Step("guide"), _Step("seat-cut"), _RESURFACE, _VACUUM, _ASSEMBLY,
        ),
    ),
    Starter(
        "resurface",
        lazy("Clean and resurface"),
        lazy("A head off a gasket job: clean, check, resurface."),
        (_Step("hot-wash"), _CRACKS, _PRESSURE, _RESURFACE),
    ),
)  # fmt: skip
