"""Control charts of a bench's checks, held against SciPy and benches of known truth."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.control import BASELINE, CHANCE, FEW_CHANCE, control_chart
from shopflow.calc.student import factor
from tests.optional import present

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, individuals control charts: flow rates.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
SHOPS = 4000


@pytest.mark.source("NIST/SEMATECH e-Handbook, 6.3.2.2, flow rates; limits by SciPy's t")
def test_limits_of_the_handbooks_flow_rates_are_the_prediction_interval() -> None:
    chart = control_chart(FLOW_RATES)
    assert chart is not None
    assert chart.centre == pytest.approx(50.81, abs=5e-3)
    reach = stats.t.ppf(1 - CHANCE / 2, 9) * np.std(FLOW_RATES, ddof=1) * sqrt(1.1)
    assert chart.next_limits == pytest.approx((50.81 - reach, 50.81 + reach), abs=1e-6)
    # "the process is in control, since none of the plotted points fall outside" (same page)
    assert chart.outside == chart.runs == ()
    assert chart.latest_fault == ""


@pytest.mark.source("SciPy, scipy.stats.t.ppf")
@pytest.mark.parametrize("freedom", [1, 2, 4, 9, 30])
@pytest.mark.parametrize("chance", [0.2, 0.05, 0.01, 0.0027])
def test_factors_are_those_of_student_s_t(chance: float, freedom: int) -> None:
    assert factor(chance, freedom) == pytest.approx(stats.t.ppf(1 - chance / 2, freedom), rel=1e-8)


def test_a_value_is_never_inside_limits_that_it_made_itself() -> None:
    steady = [1.000, 1.001, 0.999, 1.0005, 0.9995]
    for last in (1.02, 1.2, 1e6):
        chart = control_chart([*steady, last])
        assert chart is not None
        assert chart.limits[-1] == present(control_chart(steady)).next_limits
        assert chart.outside == (5,)
        assert chart.latest_fault == "outside its control limits"
        assert 5 not in chart.baseline
        assert chart.next_limits == chart.limits[-1]


def test_the_baseline_is_frozen_and_later_values_do_not_move_it() -> None:
    first = control_chart(FLOW_RATES)
    later = control_chart([*FLOW_RATES, 53.0, 49.0, 60.0, 45.0])
    assert first is not None
    assert later is not None
    assert later.is_frozen
    assert later.next_limits == first.next_limits
    assert later.centre == first.centre
    assert set(later.limits[BASELINE:]) == {first.next_limits}


def test_every_value_of_a_run_on_one_side_is_marked() -> None:
    base = [1.00, 1.01, 0.99, 1.00, 0.98, 0.99, 1.01, 1.00, 1.02, 1.00]
    values = [*base, 0.99, *[1.012, 1.014] * 4]
    chart = control_chart(values)
    assert chart is not None
    assert chart.runs == tuple(range(11, 19))
    assert chart.latest_fault == "one of 8 or more in a row on one side of the baseline's mean"
    assert present(control_chart(values[:-1])).runs == ()


def test_few_values_give_no_limits() -> None:
    assert control_chart(FLOW_RATES[:2]) is None
    assert control_chart([]) is None
    chart = control_chart(FLOW_RATES[:3])
    assert chart is not None
    assert chart.limits == ((-inf, inf),) * 3


def test_values_that_never_change_are_in_control_and_a_division_keeps_them_so() -> None:
    assert present(control_chart([1.1] * 12)).outside == ()
    alike = [1.0, 1.0, 1.0, 1.0, 1.0, 1.002]
    assert present(control_chart(alike)).outside == (5,)
    assert present(control_chart(alike, division=0.004)).outside == ()


def test_a_jump_of_five_deviations_at_the_sixth_value_is_flagged_in_85_of_100_benches() -> None:
    rng = np.random.default_rng(20261129)
    values = rng.normal(1.0, 0.004, (SHOPS, 6))
    values[:, 5] += 5 * 0.004
    flagged = sum(5 in present(control_chart(row)).outside for row in values.tolist())
    assert flagged / SHOPS >= 0.85


def test_false_alarms_are_as_rare_as_stated() -> None:
    """An unchanged bench, 18 values: each while the baseline grows, each later, and runs."""
    rng = np.random.default_rng(20261130)
    charts = [present(control_chart(row)) for row in rng.normal(1.0, 0.004, (SHOPS, 18)).tolist()]
    at = np.zeros(18)
    for chart in charts:
        at[list(chart.outside)] += 1 / SHOPS
    assert at[:3].tolist() == [0.0] * 3
    # The first has just its chance; leaving out what lay far outside adds a little later on.
    assert at[3] == pytest.approx(FEW_CHANCE, abs=0.011)
    assert at[4:10].max() < 1.4 * FEW_CHANCE
    assert at[12:].max() < 2.5 * CHANCE
    assert sum(bool(chart.runs) for chart in charts) / SHOPS < 0.06
