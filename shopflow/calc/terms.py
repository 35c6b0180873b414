"""The terms of a flow test's formulas: the numbers between its readings and its results."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from shopflow.calc.across import ideal_flux
from shopflow.calc.areas import curtain_area, head_area, least_valve_area
from shopflow.calc.array_types import Array, Floats
from shopflow.calc.flow import corrected_flow
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.standard_flow import standard_flow
from shopflow.calc.uncertainty import RunStatistics


class RunTerm(NamedTuple):
    """One run at a pressure of its own."""

    flow: float
    """Corrected, at its own pressure, m3/s."""

    flux: float
    """Ideal mass flux at that pressure, kg/(s m2)."""


@dataclass(frozen=True, slots=True)
class Terms:
    """Terms from which the results of a test are calculated, each over its lifts, SI."""

    indicated: Floats
    """Mean of the runs, brought to the test pressure."""

    leakage: Floats
    """As indicated, brought to the test pressure."""

    factor: Floats
    """Calibration factor times the correction for the meter's air."""

    flux: Floats
    """Ideal mass flux at the test pressure, kg/(s m2)."""

    reference_flux: Floats
    """The same at the reference pressure."""

    standard_flow: Floats
    """Flow per area at the reference pressure in the standard air, m/s."""

    curtain_area: Floats
    """Of all valves that open together, as the other areas, m2."""

    head_area: Floats
    least_area: Floats | None
    by_run: tuple[tuple[RunTerm, ...], ...] | None
    """Of each run at each lift; None where all were at the test pressure."""

    def row(self, number: int) -> Terms:
        """The terms of one of many tests that are rows."""
        rows: Any = {
            name: None if (column := getattr(self, name)) is None else column[number]
            for name in Terms.__slots__
        }
        return Terms(**rows)


def terms(test: FlowTest, rho: Array, lifts: Floats, runs: RunStatistics) -> Terms:
    """The terms of a test, or of tests whose numbers are columns.

    Parameters
    ----------
    test : in SI
    rho : density of the room air, kg/m3
    lifts : of the test, m
    runs : of the indicated flows, brought to the test pressure

    Returns
    -------
    Terms, every array in the shape of the lifts
    """

    def over_lifts(value: Array) -> Floats:
        return np.broadcast_to(value, lifts.shape)

    valve = test.valve
    least = None if valve.seat is None else least_valve_area(valve.head_diameter, valve.seat, lifts)
    return Terms(
        indicated=runs.mean,
        leakage=over_lifts(test.leakage * test.leakage_scale),
        factor=over_lifts(test.calibration_factor * test.air_correction),
        flux=over_lifts(ideal_flux(test, rho, test.test_pressure)),
        reference_flux=over_lifts(ideal_flux(test, rho, test.reference_pressure)),
        standard_flow=over_lifts(standard_flow(1.0, test.side, test.reference_pressure)),
        curtain_area=curtain_area(valve.head_diameter, lifts) * valve.count,
        head_area=over_lifts(head_area(valve.head_diameter) * valve.count),
        least_area=None if least is None else least * valve.count,
        by_run=_by_run(test, rho),
    )


def _by_run(test: FlowTest, rho: float) -> tuple[tuple[RunTerm, ...], ...] | None:
    """Each run's corrected flow, and the ideal flux at its own pressure."""
    if test.run_pressures is None:
        return None
    factor = test.calibration_factor * test.air_correction
    leakage = test.leakage / np.sqrt(test.leakage_pressure or test.test_pressure)
    pairs = zip(test.runs, test.run_pressures, strict=True)
    return tuple(
        tuple(
            RunTerm(
                float(corrected_flow(run, leakage * np.sqrt(pressure), factor)),
                float(ideal_flux(test, rho, pressure)),
            )
            for run, pressure in zip(runs, pressures, strict=True)
        )
        for runs, pressures in pairs
    )
