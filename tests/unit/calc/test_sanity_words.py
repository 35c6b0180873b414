"""Each doubt in its own words, and what lies at the very edge of a doubt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shopflow.calc.areas import Valve
from shopflow.calc.reduction import reduce
from shopflow.calc.sanity import Doubt, comparison_warnings, out_of_line, warnings
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test, one_lift


def cfm(*rows: float | tuple[float, ...]) -> dict[str, Any]:
    """Readings at the usual lifts of a session, one or more runs each."""
    runs = tuple(row if isinstance(row, tuple) else (row,) for row in rows)
    return {"runs": tuple(tuple(run * CFM for run in row) for row in runs)}


ORDINARY = (26.0, 56.0, 95.0, 128.0, 153.0, 168.0, 175.0)
FOUND = {
    "thin air": (
        {"barometer": 59_000.0},
        "the barometer, 590 hPa, is outside the 600 to 1100 hPa that the air density formula "
        "(CIPM-2007) is meant for",
        None,
    ),
    "cold air": (
        {"temperature": 287.15},
        "the air temperature, 14.0 °C, is outside the 15 to 27 °C that the air density formula "
        "(CIPM-2007) is meant for",
        None,
    ),
    "little pressure": (
        {"test_pressure": 1000.0, **cfm(*(flow / 3 for flow in ORDINARY))},
        "the test pressure, 1000 Pa, is low: below about 1250 Pa (5 inches of water) the Reynolds "
        "number is too low to compare with usual pressures",
        None,
    ),
    "a leak": (
        {"leakage": 5.2 * CFM, **cfm(*ORDINARY)},
        "the leakage is 20% of this reading; look for the leak, or measure it again",
        0,
    ),
    "repeats astray": (
        cfm(26.0, 56.0, (90.0, 95.0), *ORDINARY[3:]),
        "the repeats differ by more than 3%; read it again, or leave the wrong one out with the "
        "reason",
        2,
    ),
    "a stray reading": (
        cfm(26.0, 56.0, 95.0, 151.0, 153.0, 168.0, 175.0),
        "the flow is out of line with the curve on either side; check this reading, its lift and "
        "the readings beside it",
        3,
    ),
    "less than before": (
        cfm(26.0, 56.0, 95.0, 90.0, 153.0, 168.0, 175.0),
        "less flows than at the lift before, though the valve is still opening; check the "
        "reading, the lift and the pressure",
        3,
    ),
    "deep": (
        {"lifts": (1.5e-3, 3e-3, 5e-3, 7e-3, 9e-3, 11e-3, 22e-3)},
        "the last lift is 0.50 of the valve's diameter; past 0.45 the coefficients say little of "
        "the valve",
        None,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("change", "text", "place"), FOUND.values(), ids=FOUND.keys())
def test_each_doubt_is_said_in_full(change: dict[str, Any], text: str, place: int | None) -> None:
    assert Doubt(text, place) in warnings(reduce(flow_test(**change)))


@pytest.mark.parametrize(
    ("valve", "named"),
    [(None, "least valve area"), (Valve(44e-3), "curtain or head area")],
    ids=["with a seat", "without"],
)
def test_a_coefficient_above_one_is_said_in_full(valve: Valve | None, named: str) -> None:
    changes = {"port_area": None, **({} if valve is None else {"valve": valve})}
    reduction = reduce(one_lift(400 * CFM, Uncertainties(), **changes))
    [doubt] = warnings(reduction)
    if valve is None:
        assert reduction.cd_least_area is not None
        size = float(reduction.cd_least_area[0])
    else:
        size = float(reduction.cd_curtain[0])
    assert 1.0 < size < 2.0
    assert doubt.place == 0
    assert doubt.text == (
        f"the coefficient on the {named} is {size:.3f}, and no opening passes more than the ideal; "
        "check the test pressure, the zero of the lift, the leakage and the sizes of valve and seat"
    )


@pytest.mark.parametrize(("lift", "flow"), [(5e-3, 180.0), (14e-3, 360.0)])
def test_without_a_seat_the_smaller_of_curtain_and_head_counts(lift: float, flow: float) -> None:
    """At 5 mm of 44 the curtain is the smaller, at 14 mm the head."""
    reduction = reduce(
        flow_test(lifts=(lift,), runs=((flow * CFM,),), leakage=0.0, valve=Valve(44e-3))
    )
    sizes = float(reduction.cd_curtain[0]), float(reduction.cd_head[0])
    assert min(sizes) < 1.0 < max(sizes)
    texts = [doubt.text for doubt in warnings(reduction)]
    assert any(f"curtain or head area is {max(sizes):.3f}" in text for text in texts)


def test_what_lies_at_the_very_edge_is_no_doubt() -> None:
    """Exactly at a limit there is nothing to say; common practice, no source."""
    at_limits = [
        {"test_pressure": 5 * 249.08891, **cfm(*(flow / 3 for flow in ORDINARY))},
        {"leakage": 0.1 * 26.0 * CFM, **cfm(*ORDINARY)},
        {"temperature": 288.15 - 1e-3},
        {"temperature": 300.15 + 1e-3},
        cfm(26.0, 56.0, (100.0, 103.0 - 1e-9), *ORDINARY[3:]),
    ]
    for change in at_limits:
        texts = [doubt.text for doubt in warnings(reduce(flow_test(**change)))]
        assert not [text for text in texts if "line" not in text], change


def test_half_a_degree_below_the_formula_s_range_is_a_doubt() -> None:
    assert len(warnings(reduce(flow_test(temperature=287.65)))) == 1


def test_two_runs_are_held_against_each_other_and_more_against_their_middle() -> None:
    """Of three the middle one, of four the third: 90, 92, 94 keep within 3 % of 92."""
    middles = (
        ((90.0, 92.0, 94.0), False),
        ((90.0, 90.1, 93.0), True),
        ((90.0, 91.0, 92.5, 94.0), False),
    )
    for rows, doubted in middles:
        answer = warnings(reduce(flow_test(**cfm(26.0, 56.0, rows, *ORDINARY[3:]))))
        assert any("repeats" in doubt.text for doubt in answer) is doubted


def test_a_flow_that_only_rests_is_no_fall() -> None:
    """1 % less, or no more than before, is scatter."""
    for second in (94.0, 95.5):
        answer = warnings(reduce(flow_test(**cfm(26.0, 56.0, 95.0, second, 153.0, 168.0, 175.0))))
        assert not [doubt for doubt in answer if "still opening" in doubt.text]


UNLIKE = {
    "sides": ({"side": "exhaust"}, "an intake side is compared with an exhaust side"),
    "pressures": (
        {"reference_pressure": 10 * INCH_OF_WATER},
        "flows are stated at 6.974 kPa before and 2.491 kPa after: the gain does not compare "
        "like values",
    ),
    "calibrations": (
        {"calibration_factor": 1.05},
        "both name the same calibration but differ in its factor, points or uncertainty; the "
        "gain's uncertainty takes the later session's",
    ),
    "lifts": (
        {"lifts": tuple(20e-3 + place * 1e-3 for place in range(7))},
        "the two tests share no range of lift: no lift of the later one lies within the earlier "
        "one's",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("change", "text"), UNLIKE.values(), ids=UNLIKE.keys())
def test_what_makes_two_sessions_unlike_is_said_in_full(change: dict[str, Any], text: str) -> None:
    key = ("north", "N-7")
    before, after = (reduce(flow_test(calibration_key=key, **changed)) for changed in ({}, change))
    assert [doubt.text for doubt in comparison_warnings(before, after)] == [text]


@pytest.mark.parametrize(("shift", "doubted"), [(5e-7, False), (2e-6, True)])
def test_conversion_of_units_is_forgiven_a_millionth(shift: float, doubted: bool) -> None:
    stated = 28 * INCH_OF_WATER
    before = reduce(flow_test())
    for factor in (1 + shift, 1 - shift):
        after = reduce(flow_test(reference_pressure=stated * factor))
        assert bool(comparison_warnings(before, after)) is doubted


def test_four_lifts_are_enough_to_judge_a_shape() -> None:
    assert out_of_line(np.array([1.0, 2, 3, 4]), np.array([10.0, 4.0, 30.0, 38.0])) == [1]


def test_the_first_reading_can_be_the_stray_one() -> None:
    """Twice what a straight start gives; it pushes the second below its line."""
    lifts = np.arange(1.0, 9.0)
    flow = 100.0 * np.tanh(lifts / 5.0)
    flow[0] *= 2.0
    assert out_of_line(lifts, flow) == [0]
