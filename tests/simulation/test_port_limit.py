"""Ports of known sizes, measured with error: how often a place is wrongly called the narrowest."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from shopflow.calc.areas import Seat, Valve
from shopflow.calc.port_limit import limits
from shopflow.calc.port_way import Section, Way

TRIALS = 1_500
STANDARD = {
    "head_diameter": 0.05e-3,
    "seat_angle": 0.01,
    "seat_width": 0.05e-3,
    "throat_diameter": 0.15e-3,
    "stem_diameter": 0.01e-3,
}
TRUE = {
    "head_diameter": 44e-3,
    "seat_angle": pi / 4.0,
    "seat_width": 2.1e-3,
    "throat_diameter": 39e-3,
    "stem_diameter": 7e-3,
}
THROAT = pi / 4.0 * (39e-3**2 - 7e-3**2)
LIFT = 12e-3
CASES = {
    "throat and three sections alike": ([THROAT] * 3, [9e-6] * 3),
    "one section measured badly": ([THROAT] * 2, [60e-6, 3e-6]),
    "one rival, two far off": ([THROAT, 1.5 * THROAT, 2.0 * THROAT], [12e-6] * 3),
    "the throat truly a little wider": ([0.99 * THROAT] * 2, [10e-6] * 2),
}
"""True areas of the sections and the standard uncertainty of each, m2."""


def measured(rng: np.random.Generator, true: list[float], standard: list[float]) -> Way:
    """The way as someone measures it once."""
    sizes = {name: rng.normal(TRUE[name], STANDARD[name]) for name in TRUE}
    seat = Seat(
        sizes["stem_diameter"], sizes["seat_angle"], sizes["seat_width"], sizes["throat_diameter"]
    )
    sections = tuple(
        Section(float(rng.normal(area, doubt)), doubt)
        for area, doubt in zip(true, standard, strict=True)
    )
    return Way(Valve(sizes["head_diameter"], 1, seat), STANDARD, sections)


@pytest.mark.parametrize("case", CASES)
def test_a_place_that_is_not_narrower_than_another_is_seldom_called_so(case: str) -> None:
    true, standard = CASES[case]
    areas = np.array([np.inf, THROAT, *true])
    rng = np.random.default_rng(20)
    wrong = 0
    for _ in range(TRIALS):
        (at,) = limits(measured(rng, true, standard), [LIFT])
        # Wrong where it is called narrower than all others and another is as narrow or narrower.
        others = np.delete(areas, at.tightest)
        wrong += at.is_shown and bool((others <= areas[at.tightest] * (1.0 + 1e-12)).any())
    # 5 % of two sides, and three standard deviations of the count.
    assert wrong / TRIALS < 0.05 + 3.0 * np.sqrt(0.05 * 0.95 / TRIALS)


def test_a_section_truly_a_tenth_narrower_is_nearly_always_called_so() -> None:
    rng = np.random.default_rng(21)
    shown = 0
    for _ in range(300):
        (at,) = limits(measured(rng, [0.9 * THROAT, THROAT], [10e-6, 10e-6]), [LIFT])
        shown += at.is_shown and at.tightest == 2
    assert shown > 0.98 * 300
