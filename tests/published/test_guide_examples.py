"""Worked examples of the GUM and of its supplement on distributions, by the functions in use."""

from __future__ import annotations

import math

import numpy as np
import pytest
from GTC import type_a

from shopflow.calc.coverage import coverage_factor_95, effective_degrees_of_freedom
from shopflow.calc.uncertainty import root_sum_of_squares, run_statistics

# JCGM 100:2008, table H.2: volts, milliamperes and radians observed together five times.
OBSERVED = (
    (5.007, 4.994, 5.005, 4.990, 4.999),
    (19.663, 19.639, 19.640, 19.685, 19.678),
    (1.0456, 1.0438, 1.0468, 1.0428, 1.0433),
)


@pytest.mark.source("JCGM 100:2008, H.2 (table H.2): means and their standard uncertainties; GTC")
def test_observations_of_an_impedance_have_the_means_and_spreads_of_the_guide() -> None:
    found = run_statistics(OBSERVED)
    assert found.mean == pytest.approx([4.9990, 19.6610, 1.04446], rel=1e-12)
    printed = [0.0032, 0.0095, 0.00075]
    for error, rounded, row in zip(found.standard_error, printed, OBSERVED, strict=True):
        assert error == pytest.approx(rounded, abs=0.51 * 10 ** math.floor(math.log10(rounded) - 1))
        assert error == pytest.approx(type_a.estimate(row).u, rel=1e-9)


# Uncertainties of a gauge block's length and their degrees of freedom, nm: the standard's 25, the
# comparator's 9.7, expansion by 0.1 K and expansion by an uncertain 0.029 K.
LENGTH = 50_000_623.0
GAUGE = ((25.0, 18.0), (9.7, 25.6), (LENGTH * 0.1 * 0.58e-6, 50.0), (LENGTH * 11.5e-6 * 0.029, 2.0))


@pytest.mark.source("JCGM 100:2008, H.1: u 32 nm (31.7106), 16 degrees of freedom")
def test_a_gauge_block_s_length_has_the_uncertainty_and_freedom_of_the_guide() -> None:
    components, freedoms = zip(*GAUGE, strict=True)
    assert root_sum_of_squares(*components) == pytest.approx(31.7106, abs=5.1e-4)
    freedom = float(effective_degrees_of_freedom(list(components), list(freedoms)))
    assert freedom == pytest.approx(16.656, abs=5.1e-3)


@pytest.mark.source("JCGM 101:2008, 9.2.2 and 9.2.4: additive model, first-order uncertainties")
@pytest.mark.parametrize(("last", "standard", "half"), [(1.0, 2.0, 3.92), (10.0, 10.1, 19.9)])
def test_an_additive_model_has_the_interval_of_the_supplement(
    last: float, standard: float, half: float
) -> None:
    """Four inputs of standard uncertainty 1, or three and one of 10; ± 3.92 and ± 19.9 printed."""
    combined = float(root_sum_of_squares(1.0, 1.0, 1.0, last))
    assert combined == pytest.approx(standard, abs=0.05)
    assert coverage_factor_95(math.inf) * combined == pytest.approx(half, abs=0.05)


@pytest.mark.source("JCGM 101:2008, 9.2.3: four rectangular inputs, drawn; ± 3.88 printed")
def test_the_first_order_interval_holds_rectangular_inputs_a_little_wide() -> None:
    """The supplement's own interval is 1 % narrower than ± 3.92; 400 000 draws, fixed seed."""
    reach = math.sqrt(3.0)
    total = np.random.default_rng(20080901).uniform(-reach, reach, (400_000, 4)).sum(axis=1)
    drawn = float(np.quantile(np.abs(total), 0.95))
    assert drawn == pytest.approx(3.88, abs=0.02)
    stated = coverage_factor_95(math.inf) * float(root_sum_of_squares(1.0, 1.0, 1.0, 1.0))
    assert drawn < stated < 1.02 * drawn
