"""A section traversed with a probe: profiles in closed form, by SciPy, and what goes with what."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad

from shopflow.calc.traverse import (
    ARMS,
    RINGS,
    ProbedAir,
    Traverse,
    TraversedSection,
    probe_velocity,
    traverse,
)

DENSITY = 101325.0 / (287.05 * 293.15)
AIR = ProbedAir(None, 101325.0, 293.15, DENSITY)
SLOW = 2.0
"""m/s: so slow that the air does not expand."""

Profile = Callable[[float, float], float]
"""Velocity over that in the middle, by share of the way to the wall and direction."""


def traversed(section: TraversedSection, profile: Profile) -> Traverse:
    """A traverse whose readings are those of a profile, without a probe's error."""
    velocities = np.array(
        [
            [SLOW * profile(share, angle) for angle in section.angles.tolist()]
            for share in section.shares
        ]
    )
    middle = SLOW * profile(0.0, 0.0)
    return traverse(section, DENSITY * middle**2 / 2.0, DENSITY * velocities**2 / 2.0, AIR)


def round_pipe(rings: int = 5, arms: int = 4) -> TraversedSection:
    return TraversedSection(False, 0.03, 0.03, arms, rings)


@pytest.mark.source("Hagen and Poiseuille: V = v/2, α = 2, β = 4/3, by hand")
@pytest.mark.parametrize("rings", RINGS)
def test_laminar_flow_has_an_energy_factor_of_two(rings: int) -> None:
    answer = traversed(round_pipe(rings), lambda share, _: 1.0 - share**2)
    assert answer.mean_velocity == pytest.approx(SLOW / 2.0, rel=1e-3)
    assert answer.energy_factor == pytest.approx(2.0, rel=2e-3)
    assert answer.momentum_factor == pytest.approx(4.0 / 3.0, rel=1e-3)


@pytest.mark.source("power law of n = 7: V = 2n²/((n+1)(2n+1)), α = 1.0584, β = 1.0199, by hand")
@pytest.mark.parametrize("rings", RINGS)
def test_the_seventh_power_law_has_a_factor_of_about_1_06(rings: int) -> None:
    answer = traversed(round_pipe(rings), lambda share, _: (1.0 - share) ** (1.0 / 7.0))
    mean = 98.0 / 120.0
    assert answer.mean_velocity == pytest.approx(SLOW * mean, rel=4e-3)
    cubed = 2.0 * 49.0 / (10.0 * 17.0)
    assert answer.energy_factor == pytest.approx(cubed / mean**3, rel=4e-3)
    assert answer.energy_factor == pytest.approx(1.06, abs=5e-3)


@pytest.mark.parametrize("arms", ARMS)
@pytest.mark.parametrize("is_rectangle", [False, True])
def test_even_flow_has_factors_of_one_and_fills_the_outline(arms: int, is_rectangle: bool) -> None:
    section = TraversedSection(is_rectangle, 0.04, 0.025, arms, 3)
    answer = traversed(section, lambda *_: 1.0)
    assert answer.energy_factor == pytest.approx(1.0, rel=1e-9)
    assert answer.momentum_factor == pytest.approx(1.0, rel=1e-9)
    area = 0.04 * 0.025 * (1.0 if is_rectangle else math.pi / 4.0)
    assert section.area == pytest.approx(area, rel=1e-12)
    assert answer.flow == pytest.approx(SLOW * area, rel=1e-4)


@pytest.mark.source("SciPy: dblquad of a lopsided profile and of its cube over the outline")
def test_a_flow_that_leans_to_one_wall_is_integrated() -> None:
    """As after a bend: 40 % faster at the one wall, slower at the other."""
    section = round_pipe(arms=8)

    def profile(share: float, angle: float) -> float:
        return float((1.0 - share) ** (1.0 / 7.0) * (1.0 + 0.4 * share * math.cos(angle)))

    answer = traversed(section, profile)
    first, third = (
        dblquad(
            lambda share, angle, power=power: share * profile(share, angle) ** power / math.pi,
            0.0,
            2.0 * math.pi,
            0.0,
            1.0,
        )[0]
        for power in (1, 3)
    )
    assert answer.mean_velocity == pytest.approx(SLOW * first, rel=5e-3)
    assert answer.energy_factor == pytest.approx(third / first**3, rel=1e-2)


@pytest.mark.source("Geometry: sectors of a rectangle by triangles, 4 arms: those of its diagonals")
def test_arms_count_by_the_area_of_their_sectors() -> None:
    """Of a rectangle of 4 by 2 cut at 45 degrees: to the right 1.5 of 8 from each half."""
    section = TraversedSection(True, 0.04, 0.02, 4, 3)
    # Right of the middle within 45 degrees: a triangle of 1 × 2 / 2 and a block of 1 × 2, of 8.
    assert section.weights[0] == pytest.approx(3.0 / 8.0, rel=2e-3)
    assert section.weights[1] == pytest.approx(1.0 / 8.0, rel=6e-3)
    assert section.weights.sum() == pytest.approx(1.0, rel=1e-12)


@pytest.mark.source("isentropic flow: NASA Glenn, p/p0 = (1 + 0.2 M²)^-3.5, at Mach 0.3")
def test_fast_air_expands() -> None:
    """The probe's pressure difference at Mach 0.3 from rest at room pressure, by hand."""
    ratio = (1.0 + 0.2 * 0.3**2) ** -3.5
    air = ProbedAir(101325.0, None, 293.15, DENSITY)
    velocity, density = probe_velocity(np.array([101325.0 * (1.0 - ratio)]), air)
    static = 293.15 / (1.0 + 0.2 * 0.3**2)
    assert velocity[0] == pytest.approx(0.3 * math.sqrt(1.4 * 287.05 * static), rel=1e-9)
    assert density[0] == pytest.approx(ratio ** (1.0 / 1.4), rel=1e-9)


def test_a_pressure_difference_above_the_air_s_is_refused() -> None:
    with pytest.raises(ValueError, match="above the pressure"):
        probe_velocity(np.array([2e5]), ProbedAir(101325.0, None, 293.15, DENSITY))


def test_nowhere_to_read_is_no_number() -> None:
    answer = traversed(round_pipe(3), lambda *_: 0.0)
    assert answer.mean_velocity == 0.0
    assert math.isnan(answer.energy_factor)


@given(st.lists(st.floats(0.05, 3.0), min_size=13, max_size=13))
@settings(max_examples=30)
def test_no_profile_carries_less_energy_than_even_flow(values: list[float]) -> None:
    """Jensen's inequality: the mean of cubes is never below the cube of the mean."""
    middle, *rest = values
    differences = np.array(rest).reshape(3, 4) * 100.0
    answer = traverse(round_pipe(3), middle * 100.0, differences, AIR)
    assert answer.energy_factor >= answer.momentum_factor**2 - 1e-9 >= 1.0 - 2e-9
