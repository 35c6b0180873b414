"""The own area of an attached part: the series formula, its limits, and known truths."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from shopflow.calc.part_cost import PartCost, own_area, part_cost
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.set_up import Part, SetUp
from shopflow.calc.uncertainty import Uncertainties
from tests.optional import present
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test

BARE = SetUp(((Part.MANIFOLD, "none"), (Part.SLEEVE, "S-86")))
DRESSED = SetUp(((Part.MANIFOLD, "M-2"), (Part.SLEEVE, "S-86")))
LIFTS = (3e-3, 6e-3, 9e-3)
PORT = np.array([60.0, 110.0, 140.0])
"""Flow of the port alone at each lift, cfm: areas in proportion."""


def a_port(flows: np.ndarray, set_up: SetUp) -> Reduction:
    """A test with these readings, cfm, a row a run."""
    rows = np.atleast_2d(flows)
    return reduce(
        flow_test(
            lifts=LIFTS,
            runs=tuple(tuple((rows[:, lift] * CFM).tolist()) for lift in range(len(LIFTS))),
            divisions=(0.2 * CFM,) * len(LIFTS),
            calibration_key=("bench", "C-1"),
            gauge="G-1",
            leakage=0.0,
            uncertainty=Uncertainties(
                0.012, None, 0.003, 0.02e-3, leakage=0.1 * CFM, density=0.003
            ),
            test_pressure=28 * INCH_OF_WATER,
            set_up=set_up,
        )
    )


def in_series(part: float) -> np.ndarray:
    """Flow of the port with a part of this own flow behind it, cfm."""
    return 1.0 / np.sqrt(1.0 / PORT**2 + 1.0 / part**2)


def twice(flows: np.ndarray) -> np.ndarray:
    """Two runs that agree."""
    return np.stack([flows, flows])


def cost(part: float) -> PartCost:
    """The cost of such a part, read without scatter."""
    return present(part_cost(a_port(twice(PORT), BARE), a_port(twice(in_series(part)), DRESSED)))


@pytest.mark.source("Klote and Milke, Principles of Smoke Management (from memory)")
def test_two_areas_in_series_lose_the_velocity_pressure_of_both() -> None:
    """Solved afresh from the pressures: q² (1/A² + 1/B²) is the whole drop (Bernoulli)."""
    bare, part, rho, drop = 1.2e-3, 2.0e-3, 1.2, 7000.0

    def left_over(flow: float) -> float:
        return drop - rho / 2.0 * ((flow / bare) ** 2 + (flow / part) ** 2)

    flow = brentq(left_over, 0.0, 1.0)
    dressed = flow / sqrt(2.0 * drop / rho)
    assert own_area(bare, dressed) == pytest.approx(part, rel=1e-9)


def test_a_part_comes_out_as_it_went_in_whichever_test_was_first() -> None:
    bare, dressed = a_port(twice(PORT), BARE), a_port(twice(in_series(260.0)), DRESSED)
    answer, turned = present(part_cost(bare, dressed)), present(part_cost(dressed, bare))
    assert answer.part is Part.MANIFOLD
    assert answer.text == "M-2"
    area_of_one = bare.effective_area[-1] / PORT[-1]
    for point in (*answer.points[1:], *turned.points[1:]):
        assert present(point.own) == pytest.approx(260.0 * area_of_one, rel=0.01)
        assert present(point.low) < present(point.own) < present(point.high)
    assert answer.points[-1].loss == pytest.approx(1 - in_series(260.0)[-1] / PORT[-1], rel=0.02)


def test_a_part_that_costs_nothing_that_shows_has_only_a_least_area() -> None:
    point = cost(5000.0).points[-1]
    assert point.own is None
    assert point.high is None
    assert present(point.low) > point.bare


def test_a_part_that_helps_has_no_area() -> None:
    point = present(
        part_cost(a_port(twice(PORT), BARE), a_port(twice(PORT * 1.1), DRESSED))
    ).points[-1]
    assert (point.own, point.low, point.high) == (None, None, None)


@pytest.mark.parametrize(
    "other",
    [
        SetUp(((Part.MANIFOLD, "M-2"), (Part.SLEEVE, "S-90"))),
        SetUp(((Part.MANIFOLD, "M-2"),)),
        SetUp(((Part.SLEEVE, "S-86"),)),
        SetUp(((Part.MANIFOLD, "none"), (Part.SLEEVE, "none"))),
        BARE,
    ],
    ids=["two parts", "one not stated", "manifold not stated", "a sleeve", "nothing"],
)
def test_tests_that_differ_in_anything_else_tell_nothing_of_a_part(other: SetUp) -> None:
    assert part_cost(a_port(twice(PORT), BARE), a_port(twice(in_series(260.0)), other)) is None


def test_two_manifolds_tell_nothing_of_either() -> None:
    other = SetUp(((Part.MANIFOLD, "M-3"), (Part.SLEEVE, "S-86")))
    assert part_cost(a_port(twice(PORT), DRESSED), a_port(twice(PORT), other)) is None


def test_the_limits_hold_the_truth_in_nineteen_of_twenty_simulated_pairs() -> None:
    """Every input that the tests state drawn as stated: one calibration and gauge for both."""
    rng, part, inside, told = np.random.default_rng(20261201), 260.0, 0, 0
    truth = 260.0 * a_port(twice(PORT), BARE).effective_area[-1] / PORT[-1]
    for _ in range(500):
        # The readings of both tests are off by the calibration and by the one gauge.
        common = 1.0 + 0.006 * rng.standard_normal() + 0.46 * 0.003 * rng.standard_normal()

        def read(flows: np.ndarray, common: float = common) -> np.ndarray:
            lift = np.gradient(flows, LIFTS) * 0.02e-3 * rng.standard_normal()
            air = 1.0 + 0.5 * 0.003 * rng.standard_normal()
            off = common * air * (flows + lift) + 0.1 * rng.standard_normal()
            runs = off * (1.0 + 0.002 * rng.standard_normal((2, len(LIFTS))))
            return np.asarray(np.round(runs / 0.2) * 0.2)

        answer = present(
            part_cost(a_port(read(PORT), BARE), a_port(read(in_series(part)), DRESSED))
        )
        point = answer.points[-1]
        if point.low is None:
            continue
        told += 1
        inside += point.low <= truth and (point.high is None or truth <= point.high)
    assert told > 480
    assert 0.92 <= inside / told <= 0.99
