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
    found = worth([RECEIVED, SEAT, PORTED])
    assert found is not None
    assert [part.name for part in found.parts] == ["whole", "low", "mid", "high"]
    assert (found.parts[0].low, found.parts[0].high) == (0.002, 0.012)
    for place, total in enumerate(found.total):
        gains = [steps[place].flow.gain for steps in found.steps]
        assert sum(gains) == pytest.approx(total.flow.gain, rel=1e-12)


def test_the_parts_of_the_lift_make_up_the_whole() -> None:
    whole, *rest = parts_of_lift(0.002, 0.012, 0.044)
    assert [part.low for part in rest] == pytest.approx([0.002, 0.15 * 0.044, 0.25 * 0.044])
    for earlier, later in itertools.pairwise(rest):
        assert earlier.high == later.low
    assert rest[-1].high == whole.high


def test_sessions_without_lifts_in_common_have_no_worth() -> None:
    shallow = session([0.001, 0.0015], [0.01, 0.015])
    assert worth([RECEIVED, shallow]) is None


def test_a_step_is_the_comparison_of_its_two_tests() -> None:
    """The whole as `compare_areas` has it over the same lifts, in flow at one pressure and air."""
    found = worth([RECEIVED, SEAT])
    mean = compare_areas([RECEIVED], [SEAT]).mean
    assert found is not None
    assert mean is not None
    whole = found.total[0].flow.area
    assert whole.gain == pytest.approx(mean.gain, rel=1e-12)
    assert whole.expanded_uncertainty == pytest.approx(mean.expanded_uncertainty, rel=1e-12)
    assert whole.verdict == mean.verdict
    flow = standard_flow(mean.after, "intake", SEAT.test.reference_pressure)
    assert found.total[0].flow.after == pytest.approx(float(flow), rel=1e-12)
    assert found.total[0].flow.gain_percent == pytest.approx(100.0 * mean.gain, rel=1e-12)


def test_a_common_calibration_counts_on_the_difference_alone() -> None:
    other = reduce(dataclasses.replace(SEAT.test, calibration_key=("bench", "2026-2")))
    shared, apart = (worth([RECEIVED, later]) for later in (SEAT, other))
    assert shared is not None
    assert apart is not None
    one, two = (found.total[0].flow.expanded_uncertainty for found in (shared, apart))
    assert 0.0 < one < two


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
    found = worth([session(lifts, flows, sure, earlier), session(lifts, flows, sure, later)])
    assert found is not None
    for step in found.total:
        assert step.flow.expanded_uncertainty_percent == pytest.approx(percent, abs=0.01)


def test_a_gain_within_its_uncertainty_is_not_called() -> None:
    found = worth([RECEIVED, SEAT])
    assert found is not None
    high = found.total[-1].flow
    assert abs(high.gain) < high.expanded_uncertainty
    assert high.verdict == Verdict.NO_DIFFERENCE
    assert not high.significant


def test_where_nothing_is_stated_there_is_no_uncertainty() -> None:
    bare = [session([0.002, 0.008], flows, Uncertainties()) for flows in ([0.02, 0.07],) * 2]
    found = worth(bare)
    assert found is not None
    assert not found.total[0].flow.is_stated
    assert found.total[0].flow.expanded_uncertainty == 0.0
    assert found.total[0].flow.verdict == Verdict.NOT_STATED
