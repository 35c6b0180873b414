"""Uncertainty of a size: as its flow test states it, else as the shop measures that kind."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.models import MeasurementKind
from shopflow.units import units_of


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


def usual(db: Session) -> UsualUncertainties:
    """What the shop has stated of its kinds of measurement, in one statement."""
    return UsualUncertainties({kind.code: kind for kind in db.scalars(select(MeasurementKind))})
