"""Gains in effective area: the worked example, GTC, and what sharing does."""

from __future__ import annotations

from dataclasses import replace
from math import inf, sqrt
from typing import Any, TypedDict

import GTC
import numpy as np
import pytest

from shopflow.calc.area_gain import AreaComparison, compare_areas
from shopflow.calc.comparison import compare
from shopflow.calc.estimates import Input
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.settling import next_reading
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.verdicts import Verdict
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test

WORKED = Uncertainties(0.012, None, 0.005, 0.02e-3, leakage=0.3 * CFM, density=0.006)


class Readings(TypedDict):
    """A test's lifts, mm, and the readings at each, cfm."""

    lifts: tuple[float, ...]
    runs: tuple[tuple[float, ...], ...]


BEFORE: Readings = {
    "lifts": (2, 4, 7, 10),
    "runs": ((42.5, 43.0), (76.5, 77.5), (106.0, 107.0), (123.5, 123.0)),
}
AFTER: Readings = {
    "lifts": (2, 4, 6, 8, 10),
    "runs": ((33.0, 33.5), (60.0, 59.5), (77.5, 77.0), (87.5, 87.0, 87.0), (94.0, 93.5)),
}
AIR = {"barometer": 101300.0, "temperature": 293.15, "test_pressure": 28 * INCH_OF_WATER}
OTHER_AIR = {"barometer": 97000.0, "temperature": 303.15, "test_pressure": 15 * INCH_OF_WATER}


def a_test(readings: Readings, **changes: Any) -> Reduction:
    """A test of the worked example, in mm and cfm."""
    settings: dict[str, Any] = {
        "humidity": 0.4,
        "calibration_factor": 1.0,
        "leakage": 0.6 * CFM,
        "uncertainty": WORKED,
        "lifts": tuple(lift * 1e-3 for lift in readings["lifts"]),
        "runs": tuple(tuple(run * CFM for run in row) for row in readings["runs"]),
        "divisions": (0.5 * CFM,) * len(readings["lifts"]),
        "calibration_key": ("bench", "calibration"),
        "gauge": "gauge",
    }
    return reduce(flow_test(**(settings | AIR | changes)))


def worked(**changes: Any) -> AreaComparison:
    return compare_areas([a_test(BEFORE, **changes)], [a_test(AFTER, **OTHER_AIR, **changes)])


# comparison.md: gain, degrees of freedom and U in percent, as printed there.
PRINTED = {
    2: (1.91717e-4, 1.91596e-4, -0.0631863, 669.476, 3.87088),
    4: (3.47502e-4, 3.47103e-4, -0.114768, 83.9410, 2.31602),
    6: (4.45355e-4, 4.49796e-4, 0.997235, None, None),
    8: (5.12336e-4, 5.07989e-4, -0.848490, None, None),
    10: (5.57868e-4, 5.46621e-4, -2.01599, 30.8813, 1.80932),
}
MEAN = (4.22910e-4, 4.21475e-4, -0.339380, 199.286, 1.64216)


def test_the_worked_example_comes_out_to_the_digits_printed() -> None:
    answer = worked()
    assert answer.mean is not None
    rows = [*zip(answer.points, PRINTED.values(), strict=True), (answer.mean, MEAN)]
    for point, (before, after, gain, _, expanded) in rows:
        assert point.before == pytest.approx(before, rel=3e-6)
        assert point.after == pytest.approx(after, rel=3e-6)
        assert 100.0 * point.gain == pytest.approx(gain, rel=3e-6)
        if expanded is None:
            assert point.expanded_uncertainty is None
            assert point.verdict == Verdict.NOT_STATED
        else:
            assert point.expanded_uncertainty is not None
            assert 100.0 * point.expanded_uncertainty == pytest.approx(expanded, rel=3e-6)
            assert point.verdict == Verdict.NO_DIFFERENCE


def test_the_worked_example_s_scatter_is_pooled() -> None:
    scatters = [a_test(BEFORE).area_errors.scatter, a_test(AFTER).area_errors.scatter]
    assert [round(scatter.relative, 8) for scatter in scatters] == [0.00715961, 0.00584782]
    assert [item.freedom for item in scatters] == [4, 6]


def test_one_lift_agrees_with_gtc() -> None:
    """10 mm of the worked example without the lift's part, in GTC's uncertain numbers."""
    bare = replace(WORKED, lift=None)
    (*_, point) = worked(uncertainty=bare).points
    calibration = GTC.ureal(1.0, 0.006)
    pressure = GTC.ureal(0.0, 0.005)
    areas = []
    for readings, air in ((BEFORE, AIR), (AFTER, OTHER_AIR)):
        test = a_test(readings, **air, uncertainty=bare)
        runs = readings["runs"][-1]
        mean, errors = sum(runs) / len(runs), test.area_errors
        scatter = errors.scatter.relative * mean / sqrt(len(runs))
        shown = GTC.ureal(mean, scatter, errors.scatter.freedom) + GTC.ureal(0, 0.5 / sqrt(12))
        density = GTC.ureal(test.air_density, 0.006 * test.air_density)
        p, dp = air["barometer"], air["test_pressure"] * (1.0 + pressure)
        r = (p - dp) / p
        flux = GTC.sqrt(7.0 * p * density * (r ** (1 / 0.7) - r ** (1.2 / 0.7)))
        net = shown - GTC.ureal(0.6, 0.3)
        areas.append(calibration * density * net * CFM / flux)
    gain = areas[1] / areas[0]
    expanded = GTC.reporting.k_factor(GTC.dof(gain)) * GTC.uncertainty(gain)
    assert point.gain + 1.0 == pytest.approx(GTC.value(gain), rel=1e-12)
    assert point.expanded_uncertainty == pytest.approx(expanded, rel=1e-7)


def standard_of(**changes: Any) -> float:
    """Expanded uncertainty of the mean, percent, where the later test is another so."""
    answer = compare_areas([a_test(BEFORE)], [a_test(AFTER, **{**OTHER_AIR, **changes})])
    assert answer.mean is not None
    assert answer.mean.expanded_uncertainty is not None
    return 100.0 * answer.mean.expanded_uncertainty


@pytest.mark.parametrize("change", [{"calibration_key": ("bench", "later")}, {"gauge": "other"},
                                    {"calibration_key": None}, {"gauge": ""}])  # fmt: skip
def test_what_both_name_cancels_and_what_one_leaves_out_does_not(change: dict[str, Any]) -> None:
    assert standard_of(**change) > standard_of() * 1.02


def test_two_readings_that_are_the_same_are_two_tests() -> None:
    """However alike, their errors are independent."""
    answer = compare_areas([a_test(BEFORE)], [a_test(BEFORE)])
    assert answer.mean is not None
    assert answer.mean.expanded_uncertainty is not None
    assert answer.mean.expanded_uncertainty > 0.005


def test_an_input_that_one_test_leaves_unknown_is_unknown_for_both() -> None:
    half = a_test(AFTER, **OTHER_AIR, uncertainty=replace(WORKED, leakage=None))
    answer = compare_areas([a_test(BEFORE)], [half])
    assert answer.half_stated == {Input.LEAKAGE}
    assert answer.mean is not None
    assert answer.mean.verdict == Verdict.NOT_STATED
    assert answer.mean.expanded_uncertainty is None
    assert compare(a_test(BEFORE), half).mean_verdict == Verdict.NOT_STATED


def test_stated_as_nothing_is_not_unknown() -> None:
    none = a_test(AFTER, **OTHER_AIR, uncertainty=replace(WORKED, leakage=0.0))
    answer = compare_areas([a_test(BEFORE)], [none])
    assert not answer.half_stated
    assert answer.mean is not None
    assert answer.mean.verdict != Verdict.NOT_STATED


SINGLE: Readings = {**BEFORE, "runs": tuple((row[0],) for row in BEFORE["runs"])}


def test_one_reading_each_and_no_division_state_nothing() -> None:
    bare = a_test(SINGLE, divisions=None)
    answer = compare_areas([bare], [bare])
    assert answer.unread == (0, 1)
    assert {point.verdict for point in answer.points} == {Verdict.NOT_STATED}
    reading = next_reading([bare], [bare], answer)
    assert reading is not None
    assert (reading.test, reading.lift) == (1, 0.007)


def test_a_division_that_one_leaves_unknown_needs_scatter_of_both() -> None:
    answer = compare_areas([a_test(SINGLE)], [a_test(BEFORE, divisions=None)])
    assert answer.unread == (0,)
    with_scatter = compare_areas([a_test(BEFORE)], [a_test(BEFORE, divisions=None)])
    assert with_scatter.unread == ()


def test_a_larger_stated_repeatability_takes_the_place_of_the_scatter() -> None:
    large = a_test(BEFORE, uncertainty=replace(WORKED, repeatability=0.02))
    assert large.area_errors.scatter.relative == 0.02
    assert large.area_errors.scatter.freedom == inf
    small = a_test(BEFORE, uncertainty=replace(WORKED, repeatability=0.002))
    assert small.area_errors.scatter == a_test(BEFORE).area_errors.scatter


def test_intake_against_exhaust_is_neither_gain_nor_loss() -> None:
    answer = compare_areas([a_test(BEFORE)], [a_test(AFTER, side="exhaust")])
    assert not answer.is_one_side
    assert {point.verdict for point in answer.points} == {Verdict.NOT_STATED}
    assert answer.mean is not None
    assert answer.mean.verdict == Verdict.NOT_STATED


def test_a_test_of_one_lift_takes_its_slope_from_another_of_the_port() -> None:
    test = a_test({"lifts": (7,), "runs": ((106.0, 107.0),)})
    curve = a_test(BEFORE)
    (with_slope,) = compare_areas([curve], [test]).points
    (by_line,) = compare_areas([test], [a_test({"lifts": (7,), "runs": ((106.0, 107.0),)})]).points
    assert with_slope.expanded_uncertainty is not None
    assert by_line.expanded_uncertainty is not None
    # The straight line from no lift is steeper than the curve is at 7 mm.
    assert with_slope.expanded_uncertainty < by_line.expanded_uncertainty


def test_a_gain_in_every_lift_is_called_with_all_judged_together() -> None:
    rows = tuple(tuple(run * 1.08 for run in row) for row in BEFORE["runs"])
    more: Readings = {**BEFORE, "runs": rows}
    answer = compare_areas([a_test(BEFORE)], [a_test(more)])
    assert [point.verdict for point in answer.points] == [Verdict.GAIN] * 4
    assert answer.mean is not None
    assert answer.mean.verdict == Verdict.GAIN
    back = compare_areas([a_test(more)], [a_test(BEFORE)])
    assert back.mean is not None
    assert back.mean.verdict == Verdict.LOSS


def test_parts_of_the_lift_are_means_over_them() -> None:
    before, after = [a_test(BEFORE)], [a_test(AFTER, **OTHER_AIR)]
    answer = compare_areas(before, after, parts=[(0.002, 0.010), (0.002, 0.006), (0.006, 0.010)])
    total, low, high = answer.parts
    assert answer.mean is not None
    assert total.before == pytest.approx(answer.mean.before, rel=1e-12)
    assert (low.before + high.before) / 2 == pytest.approx(total.before, rel=1e-12)


def test_one_reading_more_that_would_settle_the_mean_is_named() -> None:
    """A gain a little within its uncertainty, mostly of scatter."""
    quiet = Uncertainties(0.0, None, 0.0, 0.0, leakage=0.0, density=0.0)
    runs = tuple((value, value * 1.012) for value in (42.5, 76.5, 106.0, 123.5))
    first = a_test({"lifts": (2, 4, 7, 10), "runs": runs}, uncertainty=quiet)
    for step in np.arange(1.008, 1.03, 0.0005):
        more = tuple(tuple(float(step) * run for run in row) for row in runs)
        second = a_test({"lifts": (2, 4, 7, 10), "runs": more}, uncertainty=quiet)
        answer = compare_areas([first], [second])
        reading = next_reading([first], [second], answer)
        assert answer.mean is not None
        if reading is not None and reading.settles_mean:
            assert answer.mean.verdict == Verdict.NO_DIFFERENCE
            assert reading.test == 1
            return
    raise AssertionError("no reading settles the mean at any gain")


def test_nothing_in_common_gives_nothing() -> None:
    far = a_test({"lifts": (12, 14), "runs": ((125.0,), (126.0,))})
    answer = compare_areas([a_test(BEFORE)], [far])
    assert answer.points == ()
    assert answer.mean is None
    assert next_reading([a_test(BEFORE)], [far], answer) is None


def test_the_air_leaves_a_restriction_s_area_as_it_is() -> None:
    test = flow_test(density_exponent=0.0, uncertainty=replace(WORKED, density=0.05))
    assert isinstance(test, FlowTest)
    assert not reduce(test).area_errors.relative[Input.DENSITY].any()
