"""Gain of a head: the mean over its ports, with the errors that they share."""

from __future__ import annotations

import dataclasses
from math import log, sqrt
from typing import Any

import pytest

from shopflow.calc.area_gain import compare_areas
from shopflow.calc.head_gain import head_gains
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.worth import worth
from tests.optional import present
from tests.unit.calc.sessions import CFM, flow_test

OWN = Uncertainties(calibration=0.0, repeatability=0.01, pressure=0.0, lift=0.0)
SHARED = Uncertainties(calibration=0.0, repeatability=0.0, pressure=0.02, lift=0.0)


def flowing(scale: float, **changes: Any) -> Reduction:
    flows = (26, 56, 95, 128, 153, 168, 175)
    runs = tuple((scale * flow * CFM,) for flow in flows)
    return reduce(flow_test(runs=runs, leakage=0.0, **changes))


def test_one_port_gains_what_its_comparison_says() -> None:
    before, after = flowing(1.0), flowing(1.06)
    total, low, mid, high = head_gains([(before, after)])
    mean = present(compare_areas([before], [after]).mean)
    assert total.percent == pytest.approx(100.0 * mean.gain, rel=1e-12)
    assert total.standard_uncertainty == pytest.approx(mean.standard_uncertainty / (1 + mean.gain))
    stated = present(mean.expanded_uncertainty) / (1.0 + mean.gain)
    assert total.expanded_uncertainty == pytest.approx(stated)
    steps = present(worth([before, after])).total
    parts = [gain.part for gain in (total, low, mid, high)]
    assert parts == [step.part.name for step in steps]


def test_what_one_test_leaves_unknown_is_unknown_for_the_gain() -> None:
    """As in the comparison of the two, which states no uncertainty: never a ± of less."""
    half = dataclasses.replace(OWN, pressure=None)
    before, after = flowing(1.0, uncertainty=OWN), flowing(1.05, uncertainty=half)
    mean = present(compare_areas([before], [after]).mean)
    assert mean.expanded_uncertainty is None
    gain = head_gains([(before, after)])[0]
    assert gain.expanded_uncertainty == 0.0
    assert gain.standard_uncertainty > 0.0
    both = head_gains([(before, after), (before, flowing(1.05, uncertainty=OWN))])[0]
    assert both.expanded_uncertainty == 0.0


def test_ports_count_once_together() -> None:
    gains = head_gains([(flowing(1.0), flowing(1.04)), (flowing(1.0), flowing(1.08))])
    assert gains[0].value == pytest.approx((log(1.04) + log(1.08)) / 2.0, rel=1e-9)
    assert gains[0].ports == 2


def test_own_errors_lessen_with_the_ports_and_shared_ones_do_not() -> None:
    def uncertainty(stated: Uncertainties, count: int) -> float:
        ports = [
            (
                flowing(1.0, uncertainty=stated, gauge="G1"),
                flowing(1.05, uncertainty=stated, gauge="G2"),
            )
            for _ in range(count)
        ]
        return head_gains(ports)[0].standard_uncertainty

    assert uncertainty(OWN, 4) == pytest.approx(uncertainty(OWN, 1) / sqrt(4.0))
    # One gauge before and one after, of all ports.
    assert uncertainty(SHARED, 4) == pytest.approx(uncertainty(SHARED, 1))


def test_ports_without_lifts_in_common_have_no_gain() -> None:
    low = reduce(flow_test(lifts=(1e-3,), runs=((20 * CFM,),), leakage=0.0))
    assert head_gains([(low, flowing(1.0))]) == []
