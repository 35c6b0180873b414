"""A flow test as a simulation takes it: direction, and air before and behind the head."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from shopflow.calc.across import pressures_across
from shopflow.calc.reduction import Reduction, reduce
from shopflow.testfile import SessionDocument

DIRECTIONS = {"intake": "into cylinder", "exhaust": "out of cylinder"}
"""Direction of the flow in a test of each side, in the words of the file."""


@dataclass(frozen=True)
class TestedPort:
    """A flow test with its results, and its number in the file."""

    number: int
    document: SessionDocument
    reduction: Reduction

    @property
    def direction(self) -> str:
        """Direction of the flow in it."""
        return DIRECTIONS[self.document.side]

    @cached_property
    def pressures(self) -> tuple[float, float]:
        """Stagnation pressure upstream and static pressure downstream, Pa."""
        test = self.reduction.test
        upstream, downstream = pressures_across(test, test.test_pressure)
        return float(upstream), float(downstream)

    @property
    def pressure_ratio(self) -> float:
        """Static pressure downstream over stagnation pressure upstream."""
        upstream, downstream = self.pressures
        return downstream / upstream

    @property
    def upstream_density(self) -> float:
        """Stagnation density upstream, kg/m3: the room's air brought to the pressure there."""
        return self.reduction.air_density * self.pressures[0] / self.reduction.test.barometer


def tested_ports(documents: Iterable[SessionDocument]) -> list[TestedPort]:
    """The tests in the order of the file: intake first, by cylinder, the smallest pressure first.

    Raises ValueError where a test gives no results.
    """
    ordered = sorted(documents, key=_order)
    return [
        TestedPort(number, document, reduce(document.flow_test()))
        for number, document in enumerate(ordered, start=1)
    ]


def untested(ports: Iterable[TestedPort]) -> list[tuple[str, str]]:
    """Each side and direction of flow that no test covers, in the words of the file."""
    tested = {(port.document.side, port.direction) for port in ports}
    every = [(side, direction) for side in DIRECTIONS for direction in DIRECTIONS.values()]
    return [pair for pair in every if pair not in tested]


def _order(document: SessionDocument) -> tuple[bool, int, str, float]:
    cylinder = document.cylinder
    return document.side == "exhaust", len(cylinder), cylinder, document.test_pressure.si
