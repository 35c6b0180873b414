"""A comparison as plain sentences, the same on screen, on paper and on the command line."""

from __future__ import annotations

from collections.abc import Iterator

from shopflow.calc.area_gain import AreaComparison, AreaGain
from shopflow.calc.estimates import Input
from shopflow.calc.rounding import matched
from shopflow.calc.settling import NextReading
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.verdicts import Verdict
from shopflow.units import from_si, pretty

FLOW_SHOWN = f"flow at 28 inH₂O in air of {STANDARD_DENSITY} kg/m³"
"""Description of the flow that effective areas are shown as where tests of many heads are
together."""

COMPARED = f"Compared: effective area, shown as {FLOW_SHOWN}."

VERDICTS = {
    Verdict.GAIN: "a gain",
    Verdict.LOSS: "a loss",
    Verdict.NO_DIFFERENCE: "no difference shown",
    Verdict.NOT_STATED: "uncertainty not stated",
}
INPUTS = {
    Input.CALIBRATION: "calibration",
    Input.PRESSURE: "test pressure",
    Input.LIFT: "lift setting",
    Input.LEAKAGE: "leakage",
    Input.DENSITY: "air density",
}
"""Inputs that a test states an uncertainty of, in words."""


def percent(gain: AreaGain) -> str:
    """A gain with its uncertainty, as "+6.0 ± 1.1 %".

    >>> percent(AreaGain(0.002, 0.010, 1.0, 1.06, 0.011, Verdict.GAIN))
    '+6.0 ± 1.1 %'
    """
    if not gain.expanded_uncertainty:
        margin = "" if gain.expanded_uncertainty is None else " ± 0.0"
        return f"{100.0 * gain.gain:+.1f}{margin} %"
    value, margin = matched(100.0 * gain.gain, 100.0 * gain.expanded_uncertainty)
    return f"{'' if value.startswith('-') else '+'}{value} ± {margin} %"


UNLIKE = {Verdict.GAIN: "flows more", Verdict.LOSS: "flows less"}
"""Of two ports neither has gained or lost on the other, nor has one that was not cut."""


def called(verdict: Verdict, is_gain: bool) -> str:
    """A verdict in a table; it is a gain or loss only of one port that was cut.

    >>> called(Verdict.GAIN, is_gain=False)
    'flows more'
    """
    return str(verdict) if is_gain else UNLIKE.get(verdict, str(verdict))


def verdict(gain: AreaGain, lift_unit: str, is_gain: bool = True) -> str:
    """The verdict on a gain, or on a difference that is none of the work.

    >>> verdict(AreaGain(0.002, 0.010, 1.0, 1.06, 0.011, Verdict.GAIN), "mm")
    '+6.0 ± 1.1 % in effective area, 2 to 10 mm: a gain'
    """
    words = VERDICTS if is_gain else VERDICTS | UNLIKE
    return f"{percent(gain)} in effective area, {lifts(gain, lift_unit)}: {words[gain.verdict]}"


def lifts(gain: AreaGain, unit: str) -> str:
    """The lifts that a gain is over, as "2 to 10 mm"."""
    ends = [_lift(gain.low, unit)] + ([_lift(gain.high, unit)] if gain.high > gain.low else [])
    return f"{' to '.join(ends)} {pretty(unit)}"


def reasons(comparison: AreaComparison, before_tests: int = 1) -> Iterator[str]:
    """Reasons why no verdict is given; none where one is."""
    if not comparison.is_one_side:
        yield "Intake and exhaust are compared as a ratio: neither is a gain or loss of the other."
    for side in sorted({index >= before_tests for index in comparison.unread}):
        yield (
            f"The {'later' if side else 'earlier'} test says nothing of its readings: enter one "
            "division of the scale as its resolution, or repeat a lift."
        )
    for name in sorted(comparison.half_stated):
        yield (
            f"Only one of the tests states the uncertainty of its {INPUTS[name]}: enter it for the "
            "other."
        )


def advice(reading: NextReading | None, lift_unit: str, before_tests: int = 1) -> str:
    """Advise the next reading, as "Repeat 4 mm once more to know."; empty where none helps."""
    if reading is None:
        return ""
    lift = f"{_lift(reading.lift, lift_unit)} {pretty(lift_unit)}"
    if reading.test < before_tests:
        return f"One more reading of the earlier test at {lift} would have settled it."
    purpose = "to know" if reading.settles_mean else "to know about that lift"
    return f"Repeat {lift} once more {purpose}."


def _lift(si: float, unit: str) -> str:
    return f"{from_si(si, unit):.3f}".rstrip("0").rstrip(".")
