"""Results of a step besides its gain, by hand."""

from __future__ import annotations

import pytest

from shopflow.calc.areas import Valve
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from shopflow.calc.worth import parts_of_lift, worth
from tests.optional import present
from tests.unit.calc.sessions import CFM, flow_test


def session(flows: tuple[float, ...], head: float = 44e-3) -> Reduction:
    """Flows in cfm at 4 mm and every 4 mm on, stated as they were read."""
    lifts = tuple(4e-3 * (place + 1) for place in range(len(flows)))
    return reduce(
        flow_test(
            lifts=lifts, runs=tuple((flow * CFM,) for flow in flows), leakage=0.0,
            calibration_factor=1.0, test_pressure=28 * 249.08891, valve=Valve(head),
            uncertainty=Uncertainties(repeatability=0.001),
        )
    )  # fmt: skip


def test_one_lift_has_a_worth() -> None:
    answer = worth([session((80,)), session((90,))])
    assert answer is not None
    assert [part.name for part in answer.parts] == ["whole"]
    assert answer.total[0].flow.gain_percent == pytest.approx(12.5, rel=1e-10)


def test_each_step_follows_the_one_before() -> None:
    answer = worth([session((80, 120)), session((84, 126)), session((90, 130))])
    assert answer is not None
    first, second = (steps[0].flow for steps in answer.steps)
    assert first.after == second.before
    assert first.gain_percent == pytest.approx(5.0, rel=1e-10)


def test_the_parts_go_by_the_first_session_s_valve() -> None:
    """4 mm is L/D 0.2 of 20 mm, past low lift, and 0.1 of 40 mm."""
    small, large = session((80, 120), 20e-3), session((80, 120), 40e-3)
    worths = [present(worth(pair)) for pair in ([small, large], [large, small])]
    names = [[part.name for part in answer.parts] for answer in worths]
    assert names == [["whole", "mid", "high"], ["whole", "low", "mid"]]


def test_a_part_that_is_only_touched_is_no_part() -> None:
    assert [part.name for part in parts_of_lift(0.15 * 0.04, 0.25 * 0.04, 0.04)] == ["whole", "mid"]
