"""Gain of each step of a job: means over parts of the lift, which add up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from shopflow.calc.area_gain import AreaGain, compare_areas
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
from shopflow.calc.standard_flow import standard_flow
from shopflow.calc.verdicts import Verdict
from shopflow.texts import gettext_noop

WHOLE = gettext_noop("whole")
PARTS = (gettext_noop("low"), gettext_noop("mid"), gettext_noop("high"))
LOW_UP_TO = 0.15
MID_UP_TO = 0.25
"""L/D that part low lift from mid and mid from high; common practice, no source. Past a quarter
the curtain is larger than the valve head."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the lift, from `low` to `high`, m."""

    name: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class FlowGain:
    """A gain in effective area as flow: both restated to one pressure and the standard air."""

    area: AreaGain
    before: float
    after: float
    """m3/s."""

    @property
    def lift(self) -> float:
        """The lift, or the first of a mean, m."""
        return self.area.low

    @property
    def gain(self) -> float:
        """m3/s."""
        return self.after - self.before

    @property
    def gain_percent(self) -> float:
        """Of the flow and of the area alike."""
        return 100.0 * self.area.gain

    @property
    def is_stated(self) -> bool:
        """True where an uncertainty can be stated."""
        return self.area.expanded_uncertainty is not None

    @property
    def expanded_uncertainty(self) -> float:
        """Of the gain for 95 %, m3/s; 0 where it is not stated."""
        return (self.area.expanded_uncertainty or 0.0) * self.before

    @property
    def expanded_uncertainty_percent(self) -> float:
        """The same in percent of the earlier flow."""
        return 100.0 * (self.area.expanded_uncertainty or 0.0)

    @property
    def verdict(self) -> Verdict:
        """Verdict: a gain, a loss, or neither."""
        return self.area.verdict

    @property
    def significant(self) -> bool:
        """True where the verdict calls a gain or a loss."""
        return self.verdict in (Verdict.GAIN, Verdict.LOSS)


def as_flow(area: AreaGain, test: FlowTest) -> FlowGain:
    """A gain in effective area as flow at the reference pressure of a test."""
    before, after = (
        float(standard_flow(passed, test.side, test.reference_pressure))
        for passed in (area.before, area.after)
    )
    return FlowGain(area, before, after)


@dataclass(frozen=True, slots=True)
class Step:
    """One session against another over a part of the lift."""

    part: Part
    flow: FlowGain


@dataclass(frozen=True, slots=True)
class Worth:
    """A port's sessions in order: each against the one before, and the last against the first."""

    parts: tuple[Part, ...]
    steps: tuple[tuple[Step, ...], ...]
    """For each session after the first, a step for each part."""

    total: tuple[Step, ...]


def parts_of_lift(low: float, high: float, head_diameter: float) -> tuple[Part, ...]:
    """The whole of a range of lift, and its low, mid and high parts where it reaches into them.

    Parameters
    ----------
    low, high : range of lift, m
    head_diameter : of the valve, m

    Examples
    --------
    >>> [part.name for part in parts_of_lift(0.002, 0.008, 0.044)]
    ['whole', 'low', 'mid']
    """
    bounds = (0.0, LOW_UP_TO * head_diameter, MID_UP_TO * head_diameter, float("inf"))
    parts = [Part(WHOLE, low, high)]
    for name, start, end in zip(PARTS, bounds, bounds[1:], strict=False):
        first, last = max(low, start), min(high, end)
        if first < last:
            parts.append(Part(name, first, last))
    return tuple(parts)


def worth(sessions: Sequence[Reduction]) -> Worth | None:
    """Gain of each test of a port over the one before, and of the last over the first.

    Parameters
    ----------
    sessions : two or more of one port in order

    Returns
    -------
    Worth; None where the sessions have no range of lift in common

    Notes
    -----
    Means of the effective area are taken over the lifts that all the sessions cover, so that the
    steps add up to the total; as flow they are stated at the last one's reference pressure. The
    parts go by the first session's valve. See `compare_areas` for uncertainty and verdicts: the
    whole has one of its own, the parts are judged together.
    """
    low = max(float(session.lifts[0]) for session in sessions)
    high = min(float(session.lifts[-1]) for session in sessions)
    if low > high:
        return None
    parts = parts_of_lift(low, high, sessions[0].test.valve.head_diameter)
    stated = sessions[-1].test
    steps = [steps_between(*pair, parts, stated) for pair in pairwise(sessions)]
    return Worth(parts, tuple(steps), steps_between(sessions[0], sessions[-1], parts, stated))


def steps_between(
    before: Reduction, after: Reduction, parts: Sequence[Part], stated: FlowTest
) -> tuple[Step, ...]:
    """One session against another over parts of the lift that both cover, the whole first."""
    span, *others = ((part.low, part.high) for part in parts)
    (of_whole,) = compare_areas([before], [after], [span]).parts
    gains = (of_whole, *compare_areas([before], [after], others).parts)
    return tuple(Step(part, as_flow(gain, stated)) for part, gain in zip(parts, gains, strict=True))
