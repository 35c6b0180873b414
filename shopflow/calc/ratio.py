"""One side's flow over the other's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.alike import Alike
from shopflow.calc.curve import mean_over_lift
from shopflow.calc.uncertainty import COVERAGE_FACTOR, root_sum_of_squares


@dataclass(frozen=True, slots=True)
class RatioPoint:
    """Both flows at one lift of the session above the line, m3/s, and their ratio."""

    lift: float
    lift_over_diameter: float
    above: float
    below: float
    ratio: float
    expanded_uncertainty: float


@dataclass(frozen=True, slots=True)
class Ratio:
    """A flow over another, over the lifts they have in common."""

    points: tuple[RatioPoint, ...]
    mean: float | None
    """Ratio of the two mean flows over the common range; none where there is no such range."""

    shared: bool
    """Whether both were made under one calibration, which cancels."""


def ratio(found: Alike) -> Ratio:
    r"""Flow of one session over that of another, as exhaust over intake.

    .. math:: r = \frac{q_a}{q_b},\quad
              \left(\frac{u(r)}{r}\right)^2 =
              \left(\frac{u(q_a)}{q_a}\right)^2 + \left(\frac{u(q_b)}{q_b}\right)^2

    Parameters
    ----------
    found : the session below the line and the one above it, brought to the lifts of the latter;
        flows at their reference pressures and room-air density

    Returns
    -------
    Ratio, at those lifts

    Notes
    -----
    A calibration factor that multiplies both flows is in numerator and denominator alike, so its
    error leaves the ratio as it is. Source: JCGM 100:2008, 5.1.6 and 5.2.2; F.1.2.4 for what two
    quantities have in common.
    """
    if found.is_empty:
        return Ratio((), None, found.shared)
    under, over = found.flow
    relative = root_sum_of_squares(*(found.standard_uncertainty / found.flow))
    ratios = over / under
    arrays = (
        found.lifts,
        found.lift_over_diameter,
        over,
        under,
        ratios,
        COVERAGE_FACTOR * relative * ratios,
    )
    points = tuple(RatioPoint(*row) for row in np.rec.fromarrays(arrays).tolist())
    return Ratio(points, _ratio_of_means(found), found.shared)


def _ratio_of_means(found: Alike) -> float:
    under, over = (mean_over_lift(found.lifts, flow) for flow in found.flow)
    return over / under
