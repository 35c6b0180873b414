"""A shop's forecasts against what came: SciPy's binomial test, simulated shops of known truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.cycle import Engine
from shopflow.calc.demand import draw_trials
from shopflow.calc.forecast_record import Record, record
from shopflow.calc.monte_carlo import Interval, Range
from shopflow.calc.potential import Charge, potential
from tests.optional import present
from tests.unit.calc.test_demand import CHARGE, LIMIT, MOTION, TEST, WARM

EVEN = Interval(90.0, 100.0, 110.0)
ENGINES = 400


@pytest.mark.source("SciPy: binomtest of results above the middle")
@pytest.mark.parametrize(("above", "below"), [(5, 0), (6, 0), (9, 2), (4, 4), (0, 7), (12, 5)])
def test_the_sign_test_is_the_binomial_s(above: int, below: int) -> None:
    pairs = [(EVEN, 104.0)] * above + [(EVEN, 97.0)] * below
    chance = stats.binomtest(above, above + below).pvalue
    outcome = present(record(pairs))
    assert outcome.chance == pytest.approx(chance, rel=1e-12)
    assert outcome.is_biased == (chance < 0.05)


def test_few_results_say_nothing() -> None:
    assert record([]) is None
    assert not present(record([(EVEN, 130.0)] * 4)).says_something
    assert present(record([(EVEN, 104.0)] * 5)).says_something


def simulated(charge: Charge, share: float = 1.0) -> Record:
    """A shop whose engines truly have values of the ranges of CHARGE, forecast by `charge`."""
    rng = np.random.default_rng(20)
    engine = Engine(0.0864, 0.0864, 500.0)
    trials = draw_trials(TEST, MOTION, WARM, LIMIT)
    forecast = present(potential(trials, engine, 4, charge).power)
    area = rng.choice(trials.mean_area, ENGINES)
    temperature = rng.uniform(WARM.low, WARM.high, ENGINES)
    sound = np.sqrt(1.4 * 287.05 * temperature)
    # By hand: at the speed where filling falls the piston's volume rate is Zlim a A / 2.
    rate = rng.uniform(LIMIT.low, LIMIT.high, ENGINES) * sound * area / 4.0
    truth = {
        name: rng.uniform(each.low, each.high, ENGINES)
        for name, each in (
            ("filling", CHARGE.filling),
            ("pressure", CHARGE.pressure),
            ("air_fuel", present(CHARGE.air_fuel)),
            ("consumption", present(CHARGE.consumption)),
        )
    }
    air = 4 * truth["filling"] * truth["pressure"] / (287.05 * temperature) * rate
    power = share * air / truth["air_fuel"] / truth["consumption"]
    return present(record([(forecast, float(result)) for result in power]))


@pytest.mark.source("simulated shop: 400 engines whose truth is drawn from the ranges by hand")
def test_true_ranges_hold_nineteen_in_twenty() -> None:
    outcome = simulated(CHARGE)
    assert 0.90 <= outcome.inside / outcome.count <= 0.99
    assert outcome.median_ratio == pytest.approx(1.0, abs=0.02)
    assert not outcome.is_biased


@pytest.mark.source("simulated shop: engines a tenth better, and worse, than the ranges say")
@pytest.mark.parametrize("share", [0.9, 1.1])
def test_a_biased_shop_is_shown_as_biased(share: float) -> None:
    outcome = simulated(CHARGE, share)
    assert outcome.is_biased
    assert outcome.median_ratio == pytest.approx(share, abs=0.03)


def test_ranges_that_are_too_narrow_hold_fewer() -> None:
    narrow = Charge(
        Range(0.92, 0.93), Range(100e3, 101e3), Range(12.8, 12.9), Range(8.7e-8, 8.8e-8)
    )
    outcome = simulated(narrow)
    assert outcome.inside / outcome.count < 0.90
