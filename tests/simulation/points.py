"""A bench that does not read in proportion, and the day it was calibrated at known flows.

The physics here is its own: nothing is taken from the program under test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

PLACES = (8.0, 25.0, 50.0, 75.0, 100.0, 130.0, 160.0)
"""True flows of the plates it is set against, cfm."""

LOW, BEND = 0.965, 0.00045
"""The true flow is LOW times the reading, and BEND times its square; per cfm."""

OWN = 0.003
"""Standard uncertainty of each plate's flow by itself; what all share is the calibration's."""


@dataclass(frozen=True)
class Points:
    """A calibration by points, as it was written down."""

    readings: tuple[float, ...]
    flows: tuple[float, ...]

    @property
    def keys(self) -> str:
        """As the session file has them."""
        stated = [round(200.0 * OWN, 6)] * len(self.readings)
        return (
            'calibration_model = "quadratic"\ncalibration_reading_unit = "cfm"\n'
            f'calibration_flow_unit = "cfm"\ncalibration_readings = {list(self.readings)}\n'
            f"calibration_flows = {list(self.flows)}\ncalibration_uncertainties = {stated}"
        )

    @property
    def factor(self) -> str:
        """One factor in place of them, the mean of theirs, as the session file has it."""
        ratios = np.asarray(self.flows) / np.asarray(self.readings)
        return f"calibration_factor = {float(ratios.mean()):.6f}"


def shown(true: float) -> float:
    """Reading of the bench at a true flow, cfm: the positive root of LOW x + BEND x2 = true."""
    return float((-LOW + np.sqrt(LOW**2 + 4.0 * BEND * true)) / (2.0 * BEND))


def calibrated(rng: np.random.Generator, shared: float) -> Points:
    """A calibration day: every plate's flow is off by an error of its own, and one they share."""
    own = OWN * rng.standard_normal(len(PLACES))
    flows = [
        place * (1.0 + error) / (1.0 + shared) for place, error in zip(PLACES, own, strict=True)
    ]
    return Points(
        tuple(round(shown(place), 4) for place in PLACES),
        tuple(round(float(flow), 5) for flow in flows),
    )
