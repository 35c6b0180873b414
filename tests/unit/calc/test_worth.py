"""What steps were worth: means over parts of the lift, held against scipy and GTC."""

from __future__ import annotations

import dataclasses
import itertools

import GTC
import numpy as np
import pytest
from scipy.integrate import quad

from shopflow.calc.areas import Valve
from shopflow.calc.curve import mean_weights
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.worth import Part, parts_of_lift, step, worth

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


@pytest.mark.parametrize(("low", "high"), [(0.002, 0.012), (0.003, 0.0095), (0.0051, 0.0052)])
def test_a_mean_is_the_integral_of_the_curve_over_its_span(low: float, high: float) -> None:
    """scipy.integrate.quad of numpy.interp."""
    lifts, flow = RECEIVED.lifts, RECEIVED.flow
    breaks = [float(lift) for lift in lifts if low < lift < high]
    area, _ = quad(lambda x: np.interp(x, lifts, flow), low, high, points=breaks or None)
    weights = mean_weights(lifts, low, high)
    assert weights @ flow == pytest.approx(area / (high - low), rel=1e-12)
    assert weights.sum() == pytest.approx(1.0, rel=1e-12)


def test_the_mean_at_one_lift_is_the_curve_there() -> None:
    weights = mean_weights(RECEIVED.lifts, 0.0065, 0.0065)
    assert weights @ RECEIVED.flow == pytest.approx(0.059, rel=1e-12)


def test_steps_add_up_to_the_total_in_every_part() -> None:
    found = worth([RECEIVED, SEAT, PORTED])
    assert found is not None
    assert [part.name for part in found.parts] == ["whole", "low", "mid", "high"]
    assert (found.parts[0].low, found.parts[0].high) == (0.002, 0.012)
    for place, total in enumerate(found.total):
        gains = [steps[place].gain for steps in found.steps]
        assert sum(gains) == pytest.approx(total.gain, rel=1e-12)


def test_the_parts_of_the_lift_make_up_the_whole() -> None:
    whole, *rest = parts_of_lift(0.002, 0.012, 0.044)
    assert [part.low for part in rest] == pytest.approx([0.002, 0.15 * 0.044, 0.25 * 0.044])
    for earlier, later in itertools.pairwise(rest):
        assert earlier.high == later.low
    assert rest[-1].high == whole.high


def test_sessions_without_lifts_in_common_have_no_worth() -> None:
    shallow = session([0.001, 0.0015], [0.01, 0.015])
    assert worth([RECEIVED, shallow]) is None


def _gtc_mean(found: Reduction, part: Part, calibration: object) -> object:
    """The mean with its uncertainty, by GTC: what is common is one uncertain number."""
    weights = mean_weights(found.lifts, part.low, part.high)
    pressure = GTC.ureal(0.0, 0.5 * STATED.pressure)
    lift = GTC.ureal(0.0, STATED.lift)
    slopes = np.gradient(found.flow, found.lifts)
    total = 0.0
    for weight, flow, slope in zip(weights, found.flow, slopes, strict=True):
        reading = GTC.ureal(float(flow), STATED.repeatability * float(flow))
        total = total + float(weight) * (
            reading * calibration + float(flow) * pressure + float(slope) * lift
        )
    return total


def test_a_gain_under_one_calibration_agrees_with_gtc() -> None:
    part = Part("whole", 0.002, 0.012)
    calibration = GTC.ureal(1.0, STATED.calibration / 2.0)
    gain = _gtc_mean(PORTED, part, calibration) - _gtc_mean(RECEIVED, part, calibration)
    found = step(RECEIVED, PORTED, part)
    assert found.gain == pytest.approx(GTC.value(gain), rel=1e-12)
    assert found.expanded_uncertainty == pytest.approx(2.0 * GTC.uncertainty(gain), rel=1e-9)


def test_a_gain_under_two_calibrations_agrees_with_gtc() -> None:
    part = Part("whole", 0.002, 0.012)
    after = reduce(dataclasses.replace(PORTED.test, calibration_key=("bench", "2026-2")))
    first, second = (GTC.ureal(1.0, STATED.calibration / 2.0) for _ in range(2))
    gain = _gtc_mean(after, part, second) - _gtc_mean(RECEIVED, part, first)
    found = step(RECEIVED, after, part)
    assert found.expanded_uncertainty == pytest.approx(2.0 * GTC.uncertainty(gain), rel=1e-9)


def test_a_gain_within_its_uncertainty_is_not_shown() -> None:
    found = step(RECEIVED, SEAT, Part("high", 0.011, 0.012))
    assert 0.0 < found.gain < found.expanded_uncertainty
    assert not found.significant


def test_where_nothing_is_stated_there_is_no_uncertainty() -> None:
    bare = [session([0.002, 0.008], flows, Uncertainties()) for flows in ([0.02, 0.07],) * 2]
    assert step(bare[0], bare[1], Part("whole", 0.002, 0.008)).expanded_uncertainty == 0.0
