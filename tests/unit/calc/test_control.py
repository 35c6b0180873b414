"""Control charts against the NIST/SEMATECH e-Handbook."""

from __future__ import annotations

import pytest

from shopflow.calc.control import control_chart

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, individuals control charts: flow rates.
FLOW_RATES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


@pytest.mark.source("NIST/SEMATECH e-Handbook, 6.3.2.2, flow rates")
def test_limits_of_the_handbooks_example() -> None:
    chart = control_chart(FLOW_RATES)
    assert chart is not None
    assert chart.centre == pytest.approx(50.81, abs=5e-3)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    # "the process is in control, since none of the plotted points fall outside" (same page)
    assert chart.outside == ()
    assert chart.latest_fault == ""


def test_a_value_far_off_is_outside() -> None:
    chart = control_chart([*FLOW_RATES * 2, 62.0])
    assert chart is not None
    assert chart.outside == (20,)
    assert chart.latest_fault == "outside its control limits"


def test_eight_in_a_row_on_one_side_speak_of_a_shift() -> None:
    values = [1.00, 1.01, 0.99, 1.00, 0.98, 0.99, 1.01, 1.00] + [1.012, 1.014] * 4
    chart = control_chart(values)
    assert chart is not None
    assert chart.runs == (15,)
    assert "in a row" in chart.latest_fault


def test_few_values_give_no_limits() -> None:
    assert control_chart(FLOW_RATES[:5]) is None
    assert control_chart([]) is None


def test_values_that_never_change_are_in_control() -> None:
    chart = control_chart([1.0] * 12)
    assert chart is not None
    assert (chart.lower, chart.upper) == (1.0, 1.0)
    assert chart.outside == chart.runs == ()
