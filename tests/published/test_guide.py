"""Examples of the guides to uncertainty, and of GTC, through this program's own sums."""

from __future__ import annotations

import math

import GTC
import pytest
from scipy.stats import t

from shopflow.calc.comparison import ComparedPoint, compare
from shopflow.calc.coverage import effective_degrees_of_freedom
from shopflow.calc.reduction import reduce
from shopflow.calc.student import factor_95
from shopflow.calc.uncertainty import (
    COVERAGE_FACTOR,
    Uncertainties,
    root_sum_of_squares,
    run_statistics,
)
from tests.unit.calc.sessions import CFM, one_lift


@pytest.mark.source("JCGM 100:2008, H.1, end gauge: u = 32 nm, ν_eff = 16; GTC agrees")
def test_the_end_gauge() -> None:
    """l = ls + d − ls (δα θ + αs δθ): u 31.7106 nm, ν_eff 16.656 (the guide truncates)."""
    length, alpha, away = 50000623.0, 11.5e-6, -0.1
    parts = [25.0, 9.7, length * away * 0.58e-6, length * alpha * 0.029]
    freedoms = [18, 25.6, 50, 2]
    u = float(root_sum_of_squares(*parts))
    nu = float(effective_degrees_of_freedom(parts, freedoms))
    assert u == pytest.approx(31.7106, abs=6e-5)
    assert nu == pytest.approx(16.656, abs=6e-4)
    assert (round(u), math.floor(nu)) == (32, 16)
    by_gtc = GTC.ureal(length, 25, 18) + GTC.ureal(215, 9.7, 25.6) - length * (
        GTC.ureal(0, 0.58e-6, 50) * away + alpha * GTC.ureal(0, 0.029, 2)
    )  # fmt: skip
    assert u == pytest.approx(by_gtc.u, rel=1e-9)
    assert nu == pytest.approx(GTC.dof(by_gtc), rel=1e-6)


@pytest.mark.source("JCGM 100:2008, G.4.1: ν_eff 19, t95 2.09, U95 2.155 %")
def test_the_expanded_uncertainty_of_three_components() -> None:
    parts, freedoms = [0.25, 0.57, 0.82], [9, 4, 14]
    nu = float(effective_degrees_of_freedom(parts, freedoms))
    assert nu == pytest.approx(18.999, abs=6e-4)
    u = float(root_sum_of_squares(*parts))
    assert t.ppf(0.975, 19) == pytest.approx(2.0930, abs=6e-5)
    assert factor_95(nu) * u == pytest.approx(2.155, abs=6e-4)


@pytest.mark.source("GTC: an orifice's flow through Cd (π/4) d² sqrt(2Δp/ρ)")
def test_the_flow_of_an_orifice() -> None:
    """Q 0.08627259 m3/s, u 2.391449e-4, ν_eff 2486: relative parts by their powers."""
    flow = 0.6113 * math.pi / 4 * 0.060**2 * math.sqrt(2 * 1500 * 287.05 * 293.15 / 101325)
    parts = [0.0025, 2 * 0.01 / 60, 0.5 * 3 / 1500, 0.5 * 50 / 101325, 0.5 * 0.3 / 293.15]
    u = flow * float(root_sum_of_squares(*parts))
    nu = float(effective_degrees_of_freedom(parts, [math.inf, 50, 50, 50, 20]))
    assert flow == pytest.approx(0.08627259, abs=6e-9)
    assert u == pytest.approx(2.391449e-4, rel=1e-6)
    assert nu == pytest.approx(2486, abs=1)


@pytest.mark.source("GTC; JCGM 100:2008, G.4: five repeats with a component of kind B")
def test_five_repeats_with_another_component_have_25_degrees() -> None:
    nu = float(effective_degrees_of_freedom([0.122474, 0.15], [4, math.inf]))
    assert nu == pytest.approx(25.000, abs=6e-4)
    by_gtc = GTC.type_a.estimate([201.2, 200.8, 201.5, 200.9, 201.1]) + GTC.ureal(0, 0.15)
    assert GTC.dof(by_gtc) == pytest.approx(nu, abs=1e-3)
    assert factor_95(25.0) == pytest.approx(2.05954, abs=6e-6)


TABLE_G2 = {
    1: 12.71, 2: 4.30, 3: 3.18, 4: 2.78, 5: 2.57, 6: 2.45, 7: 2.36, 8: 2.31, 9: 2.26, 10: 2.23,
    11: 2.20, 12: 2.18, 13: 2.16, 14: 2.14, 15: 2.13, 16: 2.12, 17: 2.11, 18: 2.10, 19: 2.09,
    20: 2.09, 25: 2.06, 30: 2.04, 35: 2.03, 40: 2.02, 45: 2.01, 50: 2.01,
}  # fmt: skip


@pytest.mark.source("JCGM 100:2008, table G.2: t for 95 %, every row as printed")
def test_each_row_of_the_table_of_t() -> None:
    assert {freedom: round(factor_95(freedom), 2) for freedom in TABLE_G2} == TABLE_G2
    assert round(factor_95(100.0), 3) == 1.984
    assert round(factor_95(math.inf), 3) == 1.960


def gain(calibration: float, first: float, second: float) -> ComparedPoint:
    """From 200 to 206 cfm under one calibration (standard, relative); the rest in cfm."""
    key = ("north", "N-7")
    before, after = (
        one_lift(flow * CFM, Uncertainties(2 * calibration, u / flow), calibration_key=key)
        for flow, u in ((200, first), (206, second))
    )
    return compare(reduce(before), reduce(after)).points[0]


@pytest.mark.source("JCGM 100:2008, 5.2.2, by hand: 200 (1.5) and 206 (1.55) with r = 0.8")
def test_a_correlated_difference() -> None:
    """U 1.93132. What is common to both makes the correlation: c² · 200 · 206 = r u1 u2."""
    common = math.sqrt(0.8 * 1.5 * 1.55 / (200 * 206))
    rests = [math.sqrt(u**2 - (flow * common) ** 2) for u, flow in ((1.5, 200), (1.55, 206))]
    answer = gain(common, *rests).gain_expanded_uncertainty / CFM
    assert answer == pytest.approx(1.93132, abs=6e-6)
    by_gtc = GTC.ureal(206, 1.55, independent=False)
    other = GTC.ureal(200, 1.5, independent=False)
    GTC.set_correlation(0.8, by_gtc, other)
    assert answer == pytest.approx(2 * (by_gtc - other).u, rel=1e-9)


@pytest.mark.source("GTC: ratio of two flows under one calibration, u 0.358896 %")
def test_a_ratio_under_one_calibration_has_none_of_it() -> None:
    """0.7 % of calibration, 0.5 cfm each: only what each session has of its own is left."""
    sessions = [
        reduce(one_lift(flow * CFM, Uncertainties(0.014, 0.5 / flow))) for flow in (200, 206)
    ]
    own = root_sum_of_squares(*(session.budget.own for session in sessions))
    answer = 100 * 206 / 200 * float(own[0])
    assert answer == pytest.approx(0.358896, abs=6e-7)
    factor = GTC.ureal(1.0, 0.007)
    by_gtc = (factor * GTC.ureal(206, 0.5)) / (factor * GTC.ureal(200, 0.5))
    assert answer == pytest.approx(100 * by_gtc.u, rel=1e-9)


@pytest.mark.source("JCGM 100:2008, 6.2.1 and 6.3.3, SciPy: k = 2 covers about 95 % of a normal")
def test_twice_the_standard_uncertainty_covers_95_percent() -> None:
    covered = 1 - 2 * t.sf(COVERAGE_FACTOR, math.inf)
    assert covered == pytest.approx(0.95, abs=5e-3)


# JCGM 100:2008, table H.2: volts, milliamperes and radians observed together five times.
OBSERVED = (
    (5.007, 4.994, 5.005, 4.990, 4.999),
    (19.663, 19.639, 19.640, 19.685, 19.678),
    (1.0456, 1.0438, 1.0468, 1.0428, 1.0433),
)


@pytest.mark.source("JCGM 100:2008, H.2 (table H.2): means and their standard uncertainties; GTC")
def test_observations_of_an_impedance_have_the_means_and_spreads_of_the_guide() -> None:
    answer = run_statistics(OBSERVED)
    assert answer.mean == pytest.approx([4.9990, 19.6610, 1.04446], rel=1e-12)
    printed = [0.0032, 0.0095, 0.00075]
    for error, rounded, row in zip(answer.standard_error, printed, OBSERVED, strict=True):
        assert error == pytest.approx(rounded, abs=0.51 * 10 ** math.floor(math.log10(rounded) - 1))
        assert error == pytest.approx(GTC.type_a.estimate(row).u, rel=1e-9)
