"""One side's effective area over the other's."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.calc.brought import bring
from shopflow.calc.estimates import Estimates
from shopflow.calc.reduction import Reduction


@dataclass(frozen=True, slots=True)
class RatioPoint:
    """Both effective areas at a lift, or in the mean over some, m2, and their ratio."""

    low: float
    high: float
    """Range of lift of a mean, m; at one lift both are that lift."""

    above: float
    below: float
    standard_uncertainty: float
    """Of the ratio, from what is stated."""

    freedom: float
    expanded_uncertainty: float | None
    """Of the ratio for 95 %; None where it is not stated."""

    @property
    def lift(self) -> float:
        """The lift, or the first of a mean, m."""
        return self.low

    @property
    def ratio(self) -> float:
        """Area above over that below."""
        return self.above / self.below


@dataclass(frozen=True)
class Ratio:
    """An effective area over another, over the lifts they have in common."""

    points: tuple[RatioPoint, ...]
    mean: RatioPoint | None
    """Of the two means over the common range; None where there is no such range."""


def ratio(below: Reduction, above: Reduction) -> Ratio:
    """Effective area of one session over that of another, as exhaust over intake.

    Parameters
    ----------
    below, above : the sessions below and above the line

    Returns
    -------
    Ratio, at the lifts of the one above the line inside the range both cover

    Notes
    -----
    What both share, as the factor of one calibration, is in numerator and denominator alike and
    cancels. Source: JCGM 100:2008, 5.2 and F.1.2.4.
    """
    brought = bring([below, above])
    if brought is None:
        return Ratio((), None)
    under, over = brought.estimates
    ratios = over / under
    points = [
        RatioPoint(
            *span,
            float(over.values[index]),
            float(under.values[index]),
            float(ratios.values[index] * ratios.standard[index]),
            float(ratios.freedom[index]),
            _expanded(ratios, index) if brought.is_known else None,
        )
        for index, span in enumerate(brought.places)
    ]
    return Ratio(tuple(points[:-1]), points[-1])


def _expanded(ratios: Estimates, index: int) -> float:
    return float(ratios.values[index] * ratios.expanded[index])
