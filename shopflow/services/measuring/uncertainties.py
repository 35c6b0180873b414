"""Uncertainty of a size: as its flow test states it, else as the shop measures that kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc import valve_sizes
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.models import MeasurementKind
from shopflow.units import units_of

CODES = {
    "head_diameter": "valve head diameter",
    "stem_diameter": "stem diameter",
    "seat_angle": "seat angle",
    "seat_width": "seat width",
    "throat_diameter": "throat diameter",
}
"""Kinds of measurement by the size of a valve that each one is."""


class UsualUncertainties:
    """Standard uncertainties of the shop's kinds of measurement, by their codes."""

    def __init__(self, kinds: Mapping[str, MeasurementKind]) -> None:
        self._kinds = kinds

    def standard(self, code: str, value: float) -> float | None:
        """Standard uncertainty of a measurement of a kind with this value, SI.

        None where the shop has not stated it.
        """
        kind = self._kinds.get(code)
        if kind is None or kind.uncertainty is None:
            return None
        is_share = kind.uncertainty.unit in units_of("ratio")
        return kind.uncertainty.si * (value if is_share else 1.0) / COVERAGE_FACTOR

    def of_valve(self, test: FlowTest) -> dict[str, float | None]:
        """Standard uncertainty of each size of a test's valve and seat, m or rad: as the test
        states it, else as the shop does."""
        if test.valve.seat is None:
            return {}
        return {name: self._of_size(name, test) for name in valve_sizes.FIELDS}

    def filled(self, reduced: Reduction) -> Reduction:
        """The figures of a test with the uncertainty of each size that it does not state itself."""
        sizes: dict[str, Any] = self.of_valve(reduced.test)
        stated = replace(reduced.test.uncertainty, **sizes)
        return replace(reduced, test=replace(reduced.test, uncertainty=stated))

    def _of_size(self, name: str, test: FlowTest) -> float | None:
        stated: float | None = getattr(test.uncertainty, name)
        if stated is not None:
            return stated
        return self.standard(CODES[name], valve_sizes.size(test.valve, name))


NOTHING_STATED = UsualUncertainties({})
"""Of a shop that has stated nothing."""


def usual(db: Session) -> UsualUncertainties:
    """Read what the shop has stated of its kinds of measurement, in one statement."""
    return UsualUncertainties({kind.code: kind for kind in db.scalars(select(MeasurementKind))})
