"""Open hours against work, by hand and against trying every order."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.capacity import OpenHours, Work, open_between, outlooks

MONDAY = date(2026, 3, 2)
WEEK = OpenHours((480, 480, 480, 480, 480, 0, 0))


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def at_risk(queue, hours=WEEK, today=MONDAY, minute=0):
    return [answer.at_risk for answer in outlooks(queue, hours, today, minute)]


@pytest.mark.parametrize(
    ("minutes", "due", "risk"),
    [
        (480, 0, False),
        (481, 0, True),
        (960, 1, False),
        (2400, 4, False),
        (2401, 4, True),
        (2400, 6, False),  # the weekend adds nothing
        (2401, 6, True),
        (2880, 7, False),  # Monday again
    ],
)
def test_one_head_against_the_days_open_by_hand(minutes, due, risk):
    assert at_risk([Work(minutes, day(due))]) == [risk]


def test_what_is_ahead_counts():
    queue = [Work(300, day(0)), Work(300, day(1)), Work(360, day(1)), Work(1, day(1))]
    # 300 of 480; 600, 960 and 961 of 960.
    assert at_risk(queue) == [False, False, False, True]
    outlook = outlooks(queue, WEEK, MONDAY)[-1]
    assert (outlook.to_do, outlook.open_for) == (961, 960)


def test_two_people_do_twice_as_much_but_not_on_one_head():
    pair = OpenHours(WEEK.week, people=2)
    assert at_risk([Work(480, day(0)), Work(480, day(0))], pair) == [False, False]
    assert at_risk([Work(480, day(0)), Work(481, day(0))], pair) == [False, True]
    assert at_risk([Work(700, day(0))], pair) == [True]


def test_closed_days_and_what_is_left_of_today_count():
    shut = OpenHours(WEEK.week, closed=frozenset({day(1)}))
    assert at_risk([Work(481, day(1))], shut) == [True]
    eight_to_four = OpenHours(WEEK.week, opens_at=480)
    # At three one hour is left.
    assert at_risk([Work(60, day(0))], eight_to_four, minute=15 * 60) == [False]
    assert at_risk([Work(61, day(0))], eight_to_four, minute=15 * 60) == [True]
    assert at_risk([Work(480, day(0))], eight_to_four, minute=6 * 60) == [False]
    assert at_risk([Work(1, day(0))], eight_to_four, minute=23 * 60) == [True]


def test_parts_that_come_late_put_a_head_at_risk_alone():
    queue = [Work(480, day(3), begins=day(3)), Work(100, day(3))]
    assert at_risk(queue) == [False, False]
    assert at_risk([Work(481, day(3), begins=day(3))]) == [True]
    assert at_risk([Work(60, day(3), begins=day(4))]) == [True]
    # What was expected in the past holds nothing up.
    assert at_risk([Work(480, day(0), begins=day(-2))]) == [False]


def test_nothing_promised_and_nothing_to_do_are_never_at_risk():
    assert at_risk([Work(0, day(0), begins=day(9)), Work(10_000)]) == [False, False]


def test_a_promise_that_is_past_leaves_no_time():
    assert at_risk([Work(1, day(-1))]) == [True]
    assert at_risk([]) == []


def test_a_promise_in_another_century_is_answered():
    assert at_risk([Work(480, date(9999, 12, 31))]) == [False]


def test_minutes_open_between_two_days():
    assert open_between(WEEK, MONDAY, day(6), MONDAY) == 2400
    assert open_between(WEEK, day(-7), day(6), MONDAY) == 2400
    assert open_between(WEEK, day(-7), day(-1), MONDAY) == 0
    pair = OpenHours(WEEK.week, people=2, opens_at=480)
    assert open_between(pair, MONDAY, day(1), MONDAY, minute=12 * 60) == 2 * (240 + 480)


@given(
    st.lists(st.tuples(st.integers(1, 900), st.integers(0, 5)), min_size=1, max_size=5),
)
def test_a_head_is_at_risk_exactly_where_no_order_keeps_the_promises_up_to_its_own(heads):
    """Jackson's rule (1955): trying every order finds none better than what is due first."""
    queue = [Work(minutes, day(due)) for minutes, due in sorted(heads, key=lambda head: head[1])]
    first = next((index for index, risk in enumerate(at_risk(queue)) if risk), len(queue))
    assert feasible(queue[:first])
    assert first == len(queue) or not feasible(queue[: first + 1])


def feasible(queue):
    """True where some order of the work keeps every promise, minute by minute open."""
    ends = [sum(WEEK.of_day(day(number)) for number in range(due + 1)) for due in range(8)]

    def keeps_every_promise(order):
        done = 0
        for work in order:
            done += work.minutes
            if done > ends[(work.due - MONDAY).days]:
                return False
        return True

    return any(keeps_every_promise(order) for order in permutations(queue))
