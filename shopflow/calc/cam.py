"""A cam and its valve: lobe lift over crank angle, and the valve lift that is left of it.

Crank angles are in degrees. A lobe's own are counted from its centreline, a valve's from the top
dead center of the overlap.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.monotone import MonotoneCubic
from shopflow.texts import gettext

BISECTIONS = 60
"""Halvings after which a crossing angle lies within the last digit of a float."""


LEAST_LIFT = 1e-9
"""m; a valve that lifts less is shut: what is left is rounding."""


class Lobe(Protocol):
    """Lobe lift, m, over crank degrees from the centreline; monotone between its knots."""

    knots: Floats

    def lift(self, angles: Floats) -> Floats:
        """Lobe lift at crank angles; zero outside the lobe."""


class TabledLobe:
    """A lobe measured at crank angles: the monotone cubic through its points.

    Parameters
    ----------
    angles : from the centreline, strictly increasing, degrees
    lifts : of the lobe there, zero at both ends, m

    Notes
    -----
    Straight lines would cut the corners of a curve that is round at its nose: half a percent of
    area and more where a table steps by ten degrees. An ordinary cubic spline overshoots where a
    ramp ends and lifts the valve before it opens. The monotone cubic does neither, and is the
    curve that areas over lift go by.
    """

    def __init__(self, angles: Floats, lifts: Floats) -> None:
        self.knots = np.asarray(angles, dtype=float)
        self._curve = MonotoneCubic(self.knots, np.asarray(lifts, dtype=float))

    def lift(self, angles: Floats) -> Floats:
        """Lobe lift at crank angles; zero outside the lobe."""
        first, last = self.knots[0], self.knots[-1]
        inside = self._curve.at(np.clip(angles, first, last))
        return np.where((angles <= first) | (angles >= last), 0.0, inside)


class SineSquaredLobe:
    r"""A stand-in for a lobe of which only duration and greatest lift are known.

    .. math:: l = l_{max} \sin^2(\pi (\theta - \theta_{opens})/d)

    Parameters
    ----------
    duration : d, between its zero lifts, crank degrees
    greatest : lift of the lobe, m

    Notes
    -----
    A shape of convenience and no maker's lobe: its lift is half the greatest in the mean.
    """

    def __init__(self, duration: float, greatest: float) -> None:
        self.duration, self.greatest = duration, greatest
        self.knots = np.array([-0.5, 0.0, 0.5]) * duration

    def lift(self, angles: Floats) -> Floats:
        """Lobe lift at crank angles; zero outside the lobe."""
        inside = np.abs(angles) < self.duration / 2.0
        return np.where(inside, self.greatest * np.cos(np.pi * angles / self.duration) ** 2, 0.0)


@dataclass(frozen=True)
class ValveMotion:
    """Valve lift over crank angle: what rocker ratio and lash make of a lobe's."""

    lobe: Lobe
    centreline: float
    """Of the lobe, crank degrees after top dead center of the overlap; an exhaust's is negative."""

    rocker_ratio: float = 1.0
    lash: float = 0.0
    """At the valve, m."""

    def __post_init__(self) -> None:
        """Raise ValueError where lash takes all of the lift."""
        if not self.greatest_lift > LEAST_LIFT:
            raise ValueError(gettext("the lash leaves no valve lift"))

    def lift(self, angles: Floats) -> Floats:
        """Valve lift, max(0, ratio x lobe lift - lash), at crank angles, m."""
        lobe = self.lobe.lift(np.asarray(angles) - self.centreline)
        return np.asarray(np.maximum(self.rocker_ratio * lobe - self.lash, 0.0))

    @property
    def opens(self) -> float:
        """Crank angle at which the valve leaves its seat."""
        return self._open[0]

    @property
    def closes(self) -> float:
        """Crank angle at which it is on its seat again."""
        return self._open[1]

    @cached_property
    def _open(self) -> tuple[float, float]:
        spans = self._spans(0.0)
        return spans[0][0], spans[-1][1]

    @property
    def duration(self) -> float:
        """Crank degrees from opening to closing."""
        return self.closes - self.opens

    @cached_property
    def greatest_lift(self) -> float:
        """Of the valve, m."""
        return float(self._unseated(self.lobe.knots).max())

    def above(self, lift: float) -> tuple[float, float] | None:
        """Crank angles at which the valve first rises above a lift and last falls below it; None
        where it stays below."""
        spans = self._spans(lift)
        return (spans[0][0], spans[-1][1]) if spans else None

    def share_above(self, lift: float) -> float:
        """Share of the open period at lifts above one, 0 to 1."""
        return sum(end - start for start, end in self._spans(lift)) / self.duration

    def _unseated(self, angles: Floats) -> Floats:
        """Valve lift as if it could be negative, at angles from the lobe's centreline."""
        return np.asarray(self.rocker_ratio * self.lobe.lift(angles) - self.lash)

    def _spans(self, lift: float) -> list[tuple[float, float]]:
        """Crank angles between which the lift is above one, in order."""
        return [
            (start + self.centreline, end + self.centreline)
            for start, end in self._spans_of_knots(lift)
        ]

    def _spans_of_knots(self, lift: float) -> Iterator[tuple[float, float]]:
        knots = self.lobe.knots
        above = self._unseated(knots) - lift
        for low, high, first, last in zip(knots, knots[1:], above, above[1:], strict=False):
            if first > 0.0 or last > 0.0:
                start = low if first >= 0.0 else self._crossing(high, low, lift)
                end = high if last >= 0.0 else self._crossing(low, high, lift)
                yield float(start), float(end)

    def _crossing(self, above: float, below: float, lift: float) -> float:
        """The angle between two at which the lift falls to one, by bisection."""
        for _ in range(BISECTIONS):
            middle = (above + below) / 2.0
            if self._unseated(np.array(middle)) > lift:
                above = middle
            else:
                below = middle
        return (above + below) / 2.0
