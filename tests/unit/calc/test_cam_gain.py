"""Gains over cams: the joint model drawn afresh, and what a cam can and cannot show."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from shopflow.calc.area_gain import compare_areas
from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.cam_gain import cam_mean, compare_over_cams
from shopflow.calc.cycle import OpenPort, Port, side_of_cycle
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.verdicts import Verdict
from tests.optional import present
from tests.unit.calc.sessions import CFM
from tests.unit.calc.test_area_gain import AFTER, BEFORE, OTHER_AIR, Readings, a_test

DRAWS = 20_000
MOTION = ValveMotion(SineSquaredLobe(280.0, 10.5e-3), 108.0, lash=0.2e-3)


def motion(lift: float) -> ValveMotion:
    return ValveMotion(SineSquaredLobe(270.0, lift), 108.0)


def drawn_means(test: Reduction, motion: ValveMotion, rng: np.random.Generator) -> np.ndarray:
    """Means over the cam of a test whose inputs are drawn as the joint model has them."""
    angles = np.linspace(motion.opens, motion.closes, 801)
    lifts = np.minimum(motion.lift(angles), test.lifts[-1])
    errors, count = test.area_errors, len(test.lifts)
    relative = np.zeros((DRAWS, count))
    for name, effect in errors.relative.items():
        own = name in ("runs", "resolution")
        relative += effect * rng.standard_normal((DRAWS, count if own else 1))
    areas = test.effective_area * (1.0 + relative)
    curve = PchipInterpolator(np.r_[0.0, test.lifts], np.c_[np.zeros(DRAWS), areas], axis=1)
    return np.asarray(np.trapezoid(curve(lifts), axis=1) / (len(angles) - 1))


@pytest.mark.source("JCGM 101:2008: 20 000 draws of a test's inputs, SciPy's curve through each")
@pytest.mark.parametrize("lift", [3e-3, 8e-3, 12e-3])
def test_uncertainty_of_a_mean_over_the_cam_is_that_of_draws(lift: float) -> None:
    """Within 2.5 %: five standard errors of the spread of so many draws."""
    test = a_test(AFTER, **OTHER_AIR)
    rng = np.random.default_rng(7)
    answer, draws = cam_mean(test, motion(lift)), drawn_means(test, motion(lift), rng)
    assert answer.area == pytest.approx(draws.mean(), rel=2e-3)
    assert answer.expanded_uncertainty is not None
    # 95 % of many degrees of freedom: the scatter is a small part of the whole.
    assert answer.expanded_uncertainty == pytest.approx(1.96 * draws.std(), rel=0.04)


def test_the_mean_is_that_of_the_cycle() -> None:
    test = a_test(AFTER)
    total = side_of_cycle(OpenPort(MOTION, Port.of(test)), 100.0)
    answer = cam_mean(test, MOTION)
    assert answer.area == pytest.approx(total.mean_effective_area, rel=1e-6)
    assert answer.share_beyond_test == present(total.share_beyond_test) > 0.0


def test_every_area_a_tenth_more_is_a_gain_of_a_tenth() -> None:
    rows = tuple(tuple(1.1 * run for run in row) for row in AFTER["runs"])
    more: Readings = {**AFTER, "runs": rows}
    # The leakage grows with the readings, so that the net flow does.
    answer = compare_over_cams(
        a_test(AFTER), a_test(more, leakage=0.66 * CFM), [motion(6e-3), MOTION]
    )
    assert [part.gain for part in answer.parts] == pytest.approx([0.1, 0.1], rel=1e-9)
    assert {part.verdict for part in answer.parts} == {Verdict.GAIN}


def test_a_lift_that_one_side_tested_makes_no_gain() -> None:
    """The first test ends at 6 mm, the second goes on: above 6 mm both are held there."""
    short: Readings = {"lifts": AFTER["lifts"][:3], "runs": AFTER["runs"][:3]}
    (part,) = compare_over_cams(a_test(short), a_test(AFTER), [MOTION]).parts
    assert abs(part.gain) < 5e-3
    assert part.high == 6e-3
    assert part.verdict == Verdict.NO_DIFFERENCE
    apart = cam_mean(a_test(AFTER), MOTION).area / cam_mean(a_test(short), MOTION).area
    assert apart > 1.05


def test_a_first_lift_that_one_side_tested_makes_no_gain() -> None:
    late: Readings = {"lifts": AFTER["lifts"][1:], "runs": AFTER["runs"][1:]}
    (part,) = compare_over_cams(a_test(late), a_test(AFTER), [MOTION]).parts
    assert part.low == 4e-3
    assert abs(part.gain) < 1e-3


def test_a_cam_below_the_first_common_lift_states_nothing() -> None:
    low, high = compare_over_cams(a_test(BEFORE), a_test(AFTER), [motion(1.5e-3), MOTION]).parts
    assert low.verdict == Verdict.NOT_STATED
    assert low.expanded_uncertainty is None
    assert high.expanded_uncertainty is not None


def test_no_lift_in_common_compares_nothing() -> None:
    low: Readings = {"lifts": (1, 2), "runs": ((20.0,), (40.0,))}
    high: Readings = {"lifts": (3, 4), "runs": ((60.0,), (80.0,))}
    assert compare_over_cams(a_test(low), a_test(high), [MOTION]).parts == ()


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ({"uncertainty": Uncertainties(0.012)}, {"uncertainty": Uncertainties(0.012)}),
        ({}, {"uncertainty": Uncertainties(0.012, None, 0.005, 0.02e-3, density=0.006)}),
        ({}, {"side": "exhaust"}),
    ],
    ids=["calibration alone", "leakage stated on one side", "intake against exhaust"],
)
def test_where_nothing_can_be_said_nothing_is(before: Any, after: Any) -> None:
    bare: Readings = {"lifts": (2, 4, 7, 10), "runs": ((42.5,), (76.5,), (106.0,), (123.5,))}
    plain = {} if "uncertainty" not in before else {"divisions": None}
    answer = compare_over_cams(a_test(bare, **before, **plain), a_test(bare, **after, **plain),
                              [MOTION])  # fmt: skip
    assert answer.parts[0].verdict == Verdict.NOT_STATED
    assert answer.parts[0].expanded_uncertainty is None


def test_a_test_that_says_nothing_of_its_readings_states_no_mean_uncertainty() -> None:
    bare: Readings = {"lifts": (2, 10), "runs": ((42.5,), (123.5,))}
    answer = cam_mean(a_test(bare, uncertainty=Uncertainties(0.012), divisions=None), MOTION)
    assert answer.expanded_uncertainty is None
    assert answer.area > 0.0


def test_what_tests_share_cancels_as_it_does_in_the_mean_over_lift() -> None:
    """A calibration in common and no other error of size: U of the gain is far below the mean's."""
    sure = Uncertainties(0.05, 0.0001, 0.0, 0.0, leakage=0.0, density=0.0)
    first, last = a_test(AFTER, uncertainty=sure), a_test(AFTER, uncertainty=sure)
    (part,) = compare_over_cams(first, last, [MOTION]).parts
    mean = cam_mean(first, MOTION)
    assert part.expanded_uncertainty is not None
    assert mean.expanded_uncertainty is not None
    assert mean.expanded_uncertainty / mean.area > 0.04
    assert part.expanded_uncertainty < 0.01
    over_lift = compare_areas([first], [last]).mean
    assert over_lift is not None
    assert over_lift.expanded_uncertainty is not None
    assert part.expanded_uncertainty == pytest.approx(over_lift.expanded_uncertainty, rel=0.5)


def test_single_division_at_a_single_lift_is_never_called() -> None:
    """As of a mean over one lift: the gain must exceed one division of the net reading."""
    item: Readings = {"lifts": (10,), "runs": ((123.5, 123.5, 123.5, 123.5),)}
    up: Readings = {"lifts": (10,), "runs": ((124.0, 124.0, 124.0, 124.0),)}
    sure = Uncertainties(0.0, 0.0001, 0.0, 0.0, leakage=0.0, density=0.0)
    settings: dict[str, Any] = {"uncertainty": sure, "leakage": 0.0}
    (part,) = compare_over_cams(a_test(item, **settings), a_test(up, **settings), [MOTION]).parts
    assert part.verdict == Verdict.NO_DIFFERENCE
