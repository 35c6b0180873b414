"""Calibrations by points, held against published data and reference libraries."""

from __future__ import annotations

from math import sqrt
from typing import Any

import GTC
import numpy as np
import pytest
from scipy.stats import chi2

from shopflow import testfile
from shopflow.calc.area_gain import compare_areas
from shopflow.calc.batch_reduction import reduce_all
from shopflow.calc.calibration import (
    CalibrationCurve,
    CalibrationModel,
    calibration_curve,
    doubts,
)
from shopflow.calc.chi_squared import chance_above
from shopflow.calc.components import budget_at
from shopflow.calc.estimates import Input
from shopflow.calc.polynomial import fit_polynomial
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.results import FLOW_AS_TESTED
from shopflow.calc.sanity import warnings

CFM = 0.3048**3 / 60.0

NORRIS_X = (
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5,
    666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
)  # fmt: skip
NORRIS_Y = (
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
)  # fmt: skip
PONTIUS_X = tuple(150_000.0 * step for step in (*range(1, 21), *range(1, 21)))
PONTIUS_Y = (
    0.11019, 0.21956, 0.32949, 0.43899, 0.54803, 0.65694, 0.76562, 0.87487, 0.98292, 1.09146,
    1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
    0.11052, 0.22018, 0.32939, 0.43886, 0.54798, 0.65739, 0.76596, 0.87474, 0.98300, 1.09150,
    1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829,
)  # fmt: skip
CERTIFIED = {
    "Norris": (
        *(NORRIS_X, NORRIS_Y, 1),
        (-0.262323073774029, 1.00211681802045),
        (0.232818234301152, 0.429796848199937e-3),
        0.884796396144373,
    ),
    "Pontius": (
        *(PONTIUS_X, PONTIUS_Y, 2),
        (0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14),
        (0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16),
        0.205177424076185e-3,
    ),
}
"""Places, values, degree; certified coefficients, their standard deviations, and that of the
residuals."""


@pytest.mark.source("NIST StRD, linear least squares: Norris and Pontius, certified values")
@pytest.mark.parametrize("name", CERTIFIED)
def test_certified_fits_come_out_to_ten_digits(name: str) -> None:
    x, y, degree, coefficients, deviations, residual = CERTIFIED[name]
    fit = fit_polynomial(x, y, np.ones(len(x)), degree)
    spread = sqrt(fit.chi_squared / fit.freedom)
    assert fit.coefficients.tolist() == pytest.approx(coefficients, rel=1e-10)
    answer = spread * np.sqrt(fit.covariance.diagonal())
    assert answer.tolist() == pytest.approx(deviations, rel=1e-10)
    assert spread == pytest.approx(residual, rel=1e-10)


ISO_X, ISO_Y = (1, 2, 3, 4, 5, 6), (3.3, 5.6, 7.1, 9.3, 10.7, 12.1)


@pytest.mark.source("ISO/TS 28037:2010, clause 6, as in GTC's documentation; GTC's line_fit_wls")
@pytest.mark.parametrize(
    ("y", "standard"),
    [(ISO_Y, [0.5] * 6), ((3.2, 4.3, 7.6, 8.6, 11.7, 12.8), [0.5, 0.5, 0.5, 1.0, 1.0, 1.0])],
)
def test_a_weighted_line_is_gtc_s_to_the_last_digit(y: Any, standard: list[float]) -> None:
    fit = fit_polynomial(ISO_X, y, standard, 1)
    other = GTC.type_a.line_fit_wls(list(ISO_X), list(y), standard)
    a, b = other.a_b
    assert fit.coefficients.tolist() == pytest.approx([GTC.value(a), GTC.value(b)], rel=1e-12)
    cross = a.u * b.u * GTC.get_correlation(a, b)
    covariance = [a.u**2, cross, cross, b.u**2]
    assert fit.covariance.ravel().tolist() == pytest.approx(covariance, rel=1e-12)
    assert fit.chi_squared == pytest.approx(other.ssr, rel=1e-12)
    for place in (0.7, 3.5, 9.0):
        there = a + b * place
        assert float(fit.at(place)) == pytest.approx(GTC.value(there), rel=1e-12)
        assert float(fit.standard(place)) == pytest.approx(GTC.uncertainty(there), rel=1e-10)


@pytest.mark.source("NumPy's polyfit with the covariance of known weights")
@pytest.mark.parametrize("degree", [1, 2, 3])
def test_a_weighted_curve_is_numpy_s(degree: int) -> None:
    x = np.array([10.0, 30.0, 60.0, 90.0, 130.0, 170.0, 210.0])
    y = np.array([9.7, 29.6, 60.4, 91.0, 133.1, 175.0, 217.2])
    u = 0.004 * y + 0.05
    fit = fit_polynomial(x, y, u, degree)
    wanted, covariance = np.polyfit(x, y, degree, w=1.0 / u, cov="unscaled")
    assert fit.coefficients[::-1].tolist() == pytest.approx(wanted.tolist(), rel=1e-8)
    assert fit.covariance[::-1, ::-1] == pytest.approx(covariance, rel=1e-7)
    assert fit.slope(x).tolist() == pytest.approx(
        np.polyval(np.polyder(wanted), x).tolist(), rel=1e-8
    )


@pytest.mark.source("SciPy's chi2")
def test_the_chance_of_chi_squared_is_scipy_s() -> None:
    for freedom in (1, 2, 3, 4, 7, 12, 47):
        for value in (0.0, 0.3, 2.0, 9.488, 40.0):
            wanted = float(chi2.sf(value, freedom))
            assert chance_above(value, freedom) == pytest.approx(wanted, rel=1e-10, abs=1e-14)
    with pytest.raises(ValueError, match="degree of freedom"):
        chance_above(1.0, 0)


LINE = ((20.0, 60.0, 100.0, 140.0, 180.0), (19.6, 60.1, 101.0, 142.2, 183.0))


def curve(
    flows: tuple[float, ...] = LINE[1],
    relative: float = 0.01,
    model: CalibrationModel = CalibrationModel.LINE,
) -> CalibrationCurve:
    readings = tuple(reading * CFM for reading in LINE[0])
    true = tuple(flow * CFM for flow in flows)
    return calibration_curve(readings, true, (relative,) * len(true), model)


def test_beyond_its_points_a_calibration_holds_the_nearest_one_s_factor() -> None:
    answer = curve()
    low, high = answer.span
    for end, beyond in ((low, 0.3 * low), (high, 1.2 * high)):
        share = beyond / end
        assert float(answer.true_flow(beyond)) == pytest.approx(
            share * float(answer.true_flow(end))
        )
        assert float(answer.standard(beyond)) == pytest.approx(share * float(answer.standard(end)))
    assert float(answer.true_flow(0.0)) == 0.0
    inside = float(answer.slope(100.0 * CFM))
    step = answer.true_flow(100.01 * CFM) - answer.true_flow(99.99 * CFM)
    assert inside == pytest.approx(float(step) / (0.02 * CFM), rel=1e-9)


def test_points_that_lie_too_far_are_told_and_widen_the_fit() -> None:
    good, bent = curve(), curve((19.6, 62.0, 105.0, 142.2, 176.0), relative=0.004)
    assert good.fit.enlargement == 1.0
    assert doubts(good) == ""
    assert bent.fit.enlargement == pytest.approx(sqrt(bent.fit.chi_squared / 3))
    assert "farther from the straight line than their uncertainties allow" in doubts(bent)
    assert "choose a higher curve" in doubts(bent)
    raw = np.sqrt(np.array([1.0, 0.1]) @ bent.fit.covariance @ np.array([1.0, 0.1]))
    assert float(bent.fit.standard(0.1)) == pytest.approx(bent.fit.enlargement * float(raw))


@pytest.mark.parametrize(
    ("flows", "model", "words"),
    [
        ((19.6, 60.1, 101.0, 99.0, 60.0), CalibrationModel.QUADRATIC, "does not rise all the way"),
        ((19.6, 60.1, 101.0), CalibrationModel.QUADRATIC, "needs 4 points or more"),
    ],
)
def test_what_gives_no_calibration_is_refused(
    flows: tuple[float, ...], model: CalibrationModel, words: str
) -> None:
    readings = LINE[0][: len(flows)]
    with pytest.raises(ValueError, match=words):
        calibration_curve(readings, flows, (0.01,) * len(flows), model)


SESSION = """schema = 1
side = "intake"
[air]
barometer = "1013 hPa"
temperature = "20 degC"
humidity = "40 %"
[valve]
head_diameter = "44.5 mm"
[bench]
name = "north"
calibration_id = "N-1"
gauge_id = "G-1"
test_pressure = "{pressure} inH2O"
leakage = "2.0 cfm"
calibration_model = "line"
calibration_readings = [20, 60, 100, 140, 180]
calibration_reading_unit = "cfm"
calibration_flows = [19.6, 60.1, 101.0, 142.2, 183.0]
calibration_flow_unit = "cfm"
calibration_uncertainties = [2.0, 1.0, 1.0, 1.2, 1.2]
[uncertainty]
calibration = "0.8 %"
pressure = "0 %"
lift = "0 mm"
resolution = "0.5 cfm"
leakage = "0 cfm"
density = "0 %"
[readings]
lift_unit = "mm"
flow_unit = "cfm"
lift = [2, 6, 10]
flow = [[42.5], [{middle}], [123.5]]
"""


def session(pressure: float = 28.0, middle: float = 101.0) -> Reduction:
    text = SESSION.format(pressure=pressure, middle=middle)
    return reduce(testfile.loads(text).flow_test())


def gtc_line() -> Any:
    """The calibration in cfm as uncertain numbers of GTC's, its shared part beside."""
    y = [19.6, 60.1, 101.0, 142.2, 183.0]
    u = [part / 200.0 * flow for part, flow in zip((2.0, 1.0, 1.0, 1.2, 1.2), y, strict=True)]
    points = [GTC.ureal(*pair) for pair in zip(y, u, strict=True)]
    fit = GTC.type_b.line_fit_wls(list(LINE[0]), points)
    a, b = fit.a_b
    shared = GTC.ureal(1.0, 0.004)
    low = (a + b * 20.0) / 20.0
    return lambda reading: (a + b * reading if reading >= 20.0 else low * reading) * shared


@pytest.mark.source("GTC: a line through uncertain points, a flow less a leakage")
def test_a_flow_by_points_agrees_with_gtc() -> None:
    """The leakage of 2 cfm lies below the lowest point, whose factor it has."""
    answer, true = session(), gtc_line()
    for index, reading in enumerate((42.5, 101.0, 123.5)):
        resolved = GTC.ureal(0.0, 0.5 / sqrt(12.0))
        slope = GTC.value(true(reading + 1.0) - true(reading))
        flow = true(reading) + slope * resolved - true(2.0)
        assert answer.flow_as_tested[index] / CFM == pytest.approx(GTC.value(flow), rel=1e-9)
        budget = budget_at(answer, index)
        assert budget.combined / CFM == pytest.approx(GTC.uncertainty(flow), rel=1e-6)
    names = [part.name for part in budget_at(answer, 0).components]
    assert names[2:4] == ["Calibration, fit of its points", "Calibration, shared by its points"]


@pytest.mark.source("GTC: two flows by one calibration")
def test_a_gain_by_one_calibration_keeps_only_what_its_fit_differs_by() -> None:
    before, after = session(), session(middle=108.0)
    true = gtc_line()
    scale = {reading: GTC.value(true(reading + 1.0) - true(reading)) for reading in (101.0, 108.0)}
    leak = true(2.0)
    flows = [
        true(reading) + scale[reading] * GTC.ureal(0.0, 0.5 / sqrt(12.0)) - leak
        for reading in (101.0, 108.0)
    ]
    ratio = GTC.log(flows[1] / flows[0])
    point = compare_areas([before], [after]).points[1]
    assert point.gain == pytest.approx(GTC.value(flows[1] / flows[0]) - 1.0, rel=1e-9)
    relative = point.standard_uncertainty / (1.0 + point.gain)
    assert relative == pytest.approx(GTC.uncertainty(ratio), rel=1e-6)


def test_another_calibration_shares_nothing_of_its_fit() -> None:
    text = SESSION.format(pressure=28.0, middle=108.0)
    other = reduce(testfile.loads(text.replace('"N-1"', '"N-2"')).flow_test())
    item, same = session(), session(middle=108.0)
    apart = compare_areas([item], [other]).points[1].standard_uncertainty
    together = compare_areas([item], [same]).points[1].standard_uncertainty
    assert apart > 2.0 * together


def test_a_reading_beyond_the_points_is_warned_about_at_its_lift() -> None:
    text = SESSION.format(pressure=28.0, middle=101.0).replace("[123.5]", "[190.0]")
    answer = warnings(reduce(testfile.loads(text).flow_test()))
    (beyond,) = [doubt for doubt in answer if "point of the bench's calibration" in doubt.text]
    assert beyond.place == 2
    assert "above the highest point" in beyond.text
    assert not any("calibration" in doubt.text for doubt in warnings(session()))


def test_calibration_by_points_counts_as_stated_without_a_shared_part() -> None:
    text = SESSION.format(pressure=28.0, middle=101.0).replace('calibration = "0.8 %"\n', "")
    reduction = reduce(testfile.loads(text).flow_test())
    assert Input.CALIBRATION not in reduction.area_errors.unknown
    narrower, with_shared = (FLOW_AS_TESTED.expanded(item) for item in (reduction, session()))
    assert narrower is not None
    assert with_shared is not None
    assert (narrower < with_shared).all()


def test_tests_by_points_and_by_a_factor_are_reduced_together_as_alone() -> None:
    factor = "\n".join(
        line
        for line in SESSION.format(pressure=28.0, middle=101.0).splitlines()
        if not line.startswith("calibration_") or line.startswith("calibration_id")
    )
    texts = [SESSION.format(pressure=28.0, middle=101.0), factor]
    tests = [testfile.loads(text).flow_test() for text in texts]
    for alone, together in zip(map(reduce, tests), reduce_all(tests), strict=True):
        assert together.flow.tolist() == pytest.approx(alone.flow.tolist(), rel=1e-12)
        assert together.budget.calibration.tolist() == pytest.approx(
            np.broadcast_to(alone.budget.calibration, 3).tolist(), rel=1e-12
        )
        for area in ("effective_area_expanded_uncertainty", "flow_expanded_uncertainty"):
            item, other = getattr(alone, area), getattr(together, area)
            assert other.tolist() == pytest.approx(item.tolist(), rel=1e-12)
