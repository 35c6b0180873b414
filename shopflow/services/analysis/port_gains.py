"""Gain of each port of a head: its last flow test over its first, by its place on the head."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.models import BenchSession, HeadPlan, Visit
from shopflow.models.places import SIDES, port_label

_NUMBER = re.compile(r"\s*([0-9]{1,3})")


@dataclass(frozen=True)
class PortGain:
    """A port by its cylinders and side, the tests taken of it and what they gained."""

    cylinders: tuple[int, ...]
    side: str
    label: str
    tests: int
    gain: float | None
    """Gain of the last test in mean effective area over the first, as a share; none of one test."""


def of_visit(visit: Visit) -> list[PortGain]:
    """Every port of a head; none while its layout is not recorded.

    A flow test names a cylinder and a side, so that valves with a port each count together.
    """
    plan = visit.head.plan
    if plan is None:
        return []
    return [
        _port_gain(cylinders, side, visit.sessions)
        for side in SIDES
        for cylinders in _ports(plan, side)
    ]


def _ports(plan: HeadPlan, side: str) -> Sequence[tuple[int, ...]]:
    shared = plan.ports[side]
    return [(number,) for number in plan.cylinders] if shared is None else shared


def has_ports_to_compare(visit: Visit) -> bool:
    """True where two or more ports of one side were tested."""
    ports = {(test.side, test.cylinder.strip()) for test in visit.sessions}
    return any(sum(side == of_side for of_side, _ in ports) > 1 for side in SIDES)


def _port_gain(cylinders: tuple[int, ...], side: str, tests: Sequence[BenchSession]) -> PortGain:
    own = [
        test for test in tests if test.side == side and cylinder_number(test.cylinder) in cylinders
    ]
    gains = [test.gain_over_first for test in own if test.gain_over_first is not None]
    label = port_label(cylinders, side)
    return PortGain(cylinders, side, label, len(own), gains[-1] if gains else None)


def cylinder_number(cylinder: str) -> int | None:
    """Number of the cylinder that a test names, as 3 of "3 left"."""
    match = _NUMBER.match(cylinder)
    return int(match[1]) if match else None
