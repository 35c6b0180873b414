"""Gain of steps: means over parts of the lift, as the comparisons of their tests."""

from __future__ import annotations

import dataclasses
import itertools

import pytest

from shopflow.calc.area_gain import compare_areas
from shopflow.calc.areas import Valve
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.standard_flow import standard_flow
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.verdicts import Verdict
from shopflow.calc.worth import parts_of_lift, worth

STATED = Uncertainties(calibration=0.014, repeatability=0.004, pressure=0.003, lift=20e-6)


def session(
    lifts: list[float],
    flows: list[float],
    stated: Uncertainties = STATED,
    key: tuple[str, str] | None = ("bench", "2026-1"),
) -> Reduction:
    test = FlowTest(
        side="intake", barometer=101325.0, temperature=293.15, humidity=0.0,
        valve=Valve(0.044, 1, None), port_area=None, test_pressure=6974.489,
        reference_pressure=6974.489, calibration_factor=1.0, leakage=0.0, uncertainty=stated,
        lifts=tuple(lifts), runs=tuple((flow,) for flow in flows), calibration_key=key,
    )  # fmt: skip
    return reduce(test)


RECEIVED = session([0.002, 0.005, 0.008, 0.012], [0.020, 0.048, 0.070, 0.080])
SEAT = session([0.002, 0.004, 0.008, 0.012], [0.022, 0.043, 0.0705, 0.0801])
PORTED = session([0.001, 0.004, 0.008, 0.0125], [0.011, 0.0432, 0.076, 0.095])


def test_steps_add_up_to_the_total_in_every_part() -> None:
    answer = worth([RECEIVED, SEAT, PORTED])
    assert answer is not None
    assert [part.name for part in answer.parts] == ["whole", "low", "mid", "high"]
    assert (answer.parts[0].low, answer.parts[0].high) == (0.002, 0.012)
    for index, total in enumerate(answer.total):
        gains = [steps[index].flow.gain for steps in answer.steps]
        assert sum(gains) == pytest.approx(total.flow.gain, rel=1e-12)


def test_the_parts_of_the_lift_make_up_the_whole() -> None:
    total, *rest = parts_of_lift(0.002, 0.012, 0.044)
    assert [part.low for part in rest] == pytest.approx([0.002, 0.15 * 0.044, 0.25 * 0.044])
    for earlier, later in itertools.pairwise(rest):
        assert earlier.high == later.low
    assert rest[-1].high == total.high


def test_sessions_without_lifts_in_common_have_no_worth() -> None:
    shallow = session([0.001, 0.0015], [0.01, 0.015])
    assert worth([RECEIVED, shallow]) is None


def test_a_step_is_the_comparison_of_its_two_tests() -> None:
    """The whole as `compare_areas` has it over the same lifts, in flow at one pressure and air."""
    answer = worth([RECEIVED, SEAT])
    mean = compare_areas([RECEIVED], [SEAT]).mean
    assert answer is not None
    assert mean is not None
    area = answer.total[0].flow.area
    assert area.gain == pytest.approx(mean.gain, rel=1e-12)
    assert area.expanded_uncertainty == pytest.approx(mean.expanded_uncertainty, rel=1e-12)
    assert area.verdict == mean.verdict
    flow = standard_flow(mean.after, "intake", SEAT.test.reference_pressure)
    assert answer.total[0].flow.after == pytest.approx(float(flow), rel=1e-12)
    assert answer.total[0].flow.gain_percent == pytest.approx(100.0 * mean.gain, rel=1e-12)


def test_a_common_calibration_counts_on_the_difference_alone() -> None:
    other = reduce(dataclasses.replace(SEAT.test, calibration_key=("bench", "2026-2")))
    shared, apart = (worth([RECEIVED, later]) for later in (SEAT, other))
    assert shared is not None
    assert apart is not None
    item, two = (answer.total[0].flow.expanded_uncertainty for answer in (shared, apart))
    assert 0.0 < item < two


@pytest.mark.parametrize(
    ("earlier", "later", "percent"),
    [
        (("bench", "2026-1"), ("bench", "2026-1"), 0.0),
        (("bench", "2026-1"), ("bench", "2026-2"), 1.96 * 0.7 * 2**0.5),
        (None, None, 1.96 * 0.7 * 2**0.5),
    ],
    ids=["shared", "two calibrations", "neither named"],
)
def test_the_calibration_s_part_of_a_step_by_hand(
    earlier: tuple[str, str] | None, later: tuple[str, str] | None, percent: float
) -> None:
    """1.4 % with k = 2 on both sides, and next to nothing else: it cancels, or counts twice over.

    Within the 0.01 % that the repeatability of 0.001 % leaves.
    """
    sure = Uncertainties(calibration=0.014, repeatability=1e-5, pressure=0.0, lift=0.0)
    lifts, flows = [0.002, 0.005, 0.008], [0.020, 0.048, 0.070]
    answer = worth([session(lifts, flows, sure, earlier), session(lifts, flows, sure, later)])
    assert answer is not None
    for step in answer.total:
        assert step.flow.expanded_uncertainty_percent == pytest.approx(percent, abs=0.01)


def test_a_gain_within_its_uncertainty_is_not_called() -> None:
    answer = worth([RECEIVED, SEAT])
    assert answer is not None
    high = answer.total[-1].flow
    assert abs(high.gain) < high.expanded_uncertainty
    assert high.verdict == Verdict.NO_DIFFERENCE
    assert not high.significant


def test_where_nothing_is_stated_there_is_no_uncertainty() -> None:
    bare = [session([0.002, 0.008], flows, Uncertainties()) for flows in ([0.02, 0.07],) * 2]
    answer = worth(bare)
    assert answer is not None
    assert not answer.total[0].flow.is_stated
    assert answer.total[0].flow.expanded_uncertainty == 0.0
    assert answer.total[0].flow.verdict == Verdict.NOT_STATED
