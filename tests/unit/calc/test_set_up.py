"""Set-ups: what makes two of them alike, and that unlike ones give no verdict of any kind."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from shopflow.calc.area_gain import compare_areas
from shopflow.calc.area_spread import SpreadVerdict, spread_of_areas
from shopflow.calc.cam_gain import compare_over_cams
from shopflow.calc.comparison import across_set_ups, compare
from shopflow.calc.ratio import ratio
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import Part, SetUp, are_of_one, differing, unlike_parts
from shopflow.calc.verdicts import Verdict
from shopflow.calc.worth import worth
from tests.unit.calc.test_area_gain import AFTER, a_test
from tests.unit.calc.test_cam_gain import MOTION

BARE = SetUp(((Part.SLEEVE, "S-86"), (Part.MANIFOLD, "none")), test=1)
DRESSED = SetUp(((Part.SLEEVE, "S-86"), (Part.MANIFOLD, "M-2")), test=2)
SAID_NOTHING = SetUp(test=3)
MORE = {**AFTER, "runs": tuple(tuple(run * 1.2 for run in row) for row in AFTER["runs"])}


def pair(first: SetUp, last: SetUp) -> tuple[Reduction, Reduction]:
    """Two tests a fifth apart, on these set-ups."""
    settings: dict[str, Any] = {"test_pressure": 28 * 249.08891}
    return a_test(AFTER, set_up=first, **settings), a_test(MORE, set_up=last, **settings)  # type: ignore[arg-type]


def test_capitals_and_spacing_do_not_make_set_ups_unlike() -> None:
    other = SetUp(((Part.MANIFOLD, "NONE"), (Part.SLEEVE, "s-86 ")))
    assert unlike_parts(BARE, other) == ()


def test_a_part_that_one_states_and_one_does_not_is_unlike_and_half_stated() -> None:
    unlike = unlike_parts(BARE, SAID_NOTHING)
    assert [item.part for item in unlike] == [Part.SLEEVE, Part.MANIFOLD]
    assert all(item.is_half_stated for item in unlike)
    assert not any(item.is_half_stated for item in unlike_parts(BARE, DRESSED))


@pytest.mark.parametrize("set_up", [BARE, SAID_NOTHING], ids=["stated alike", "both unstated"])
def test_alike_set_ups_leave_every_verdict_as_it_is(set_up: SetUp) -> None:
    before, after = pair(set_up, replace(set_up, test=9))
    plain = compare(*pair(SetUp(), SetUp()))
    assert compare(before, after) == plain
    assert plain.mean_verdict is Verdict.GAIN
    assert any(point.significant for point in plain.points)


@pytest.mark.parametrize("last", [DRESSED, SAID_NOTHING], ids=["unlike", "half stated"])
def test_unlike_set_ups_give_no_verdict_anywhere(last: SetUp) -> None:
    before, after = pair(BARE, last)
    answer = compare(before, after)
    assert answer.mean_verdict is Verdict.NOT_STATED
    assert answer.mean_area_gain_expanded_uncertainty_percent is None
    assert {point.verdict for point in answer.points} == {Verdict.NOT_STATED}
    assert not any(point.significant for point in answer.points)
    assert answer.areas.unlike == unlike_parts(BARE, last)
    steps = worth([before, after])
    assert steps is not None
    assert {step.flow.verdict for step in steps.total} == {Verdict.NOT_STATED}
    over_cam = compare_over_cams(before, after, [MOTION])
    assert over_cam.parts[0].verdict is Verdict.NOT_STATED
    spread = spread_of_areas([before, after])
    assert spread.mean is not None
    assert spread.mean.verdict is SpreadVerdict.NOT_STATED


def test_of_three_ports_one_on_another_set_up_takes_the_verdict_from_all() -> None:
    before, after = pair(BARE, BARE)
    odd = pair(BARE, DRESSED)[1]
    of_two, of_three = spread_of_areas([before, after]), spread_of_areas([before, after, odd])
    assert of_two.mean is not None
    assert of_two.mean.verdict is SpreadVerdict.DIFFER
    assert of_three.mean is not None
    assert of_three.mean.verdict is SpreadVerdict.NOT_STATED


def test_a_confirmed_pair_is_compared_as_if_the_set_ups_were_alike() -> None:
    plain = compare(*pair(SetUp(), SetUp()))
    confirmed = replace(DRESSED, meant_with=frozenset({BARE.test}))
    assert compare(*pair(BARE, confirmed)) == plain
    assert compare(*pair(confirmed, BARE)) == plain
    of_another = replace(DRESSED, meant_with=frozenset({77}))
    assert compare(*pair(BARE, of_another)).mean_verdict is Verdict.NOT_STATED


def test_a_file_without_a_place_on_record_is_in_no_confirmation() -> None:
    nowhere, of_none = replace(BARE, test=None), replace(DRESSED, meant_with=frozenset({None}))
    assert differing([nowhere, of_none])


def test_only_a_set_up_that_was_the_same_leaves_the_head_alone_to_differ() -> None:
    meant = replace(DRESSED, meant_with=frozenset({1}))
    same = replace(DRESSED, meant_with=frozenset({1}), same_as=frozenset({1}))
    assert not are_of_one(BARE, meant)
    assert are_of_one(BARE, same)
    assert are_of_one(same, BARE)
    assert are_of_one(BARE, replace(BARE, test=8))


def test_dropping_the_set_ups_gives_the_comparison_of_those_confirmed() -> None:
    before, after = (across_set_ups(test) for test in pair(BARE, DRESSED))
    assert compare(before, after) == compare(*pair(SetUp(), SetUp()))


def test_exhaust_over_intake_keeps_its_uncertainty_on_unlike_set_ups() -> None:
    alike, unlike = ratio(*pair(BARE, BARE)), ratio(*pair(BARE, DRESSED))
    assert unlike == alike
    first, last = pair(BARE, DRESSED)
    assert compare_areas([first], [last]).unlike
