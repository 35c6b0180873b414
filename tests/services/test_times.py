"""Time spent on steps: begun, stopped, joined, left open, put right."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import TimeSpent
from shopflow.services.actor import Actor
from shopflow.services.routing import operations, time_tracking
from tests import factories
from tests.services.expecting import faults_at, last_entry, log_of, refused


def later(by: Actor, minutes: float) -> Actor:
    """The same person, so many minutes on."""
    return replace(by, at=by.at + timedelta(minutes=minutes))


def test_time_runs_from_start_over_a_pause_to_the_sign_off(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    assert [item.person for item in time_tracking.running(db)] == [machinist.person]
    operations.pause(db, later(machinist, 20), step)
    assert time_tracking.running(db) == []
    operations.take_up(db, later(machinist, 60), step)
    operations.sign_off(db, later(machinist, 75), step, {})
    assert time_tracking.running(db) == []
    # 20 minutes before the pause, 15 after it.
    assert (step.actual_minutes, len(step.stretches)) == (35, 2)
    assert last_entry(db, step.stretches[0]).note.endswith("20 min")
    with refused("does not run"):
        operations.pause(db, machinist, step)


def test_what_is_typed_at_the_sign_off_goes_before_what_ran(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    operations.sign_off(db, later(machinist, 300), step, {"actual_minutes": "45"})
    assert step.actual_minutes == 45
    assert time_tracking.minutes(step, machinist.at) == 300


def test_two_at_one_step_both_count_and_a_sign_off_stops_both(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    helper = factories.someone(db, "Bram Teal")
    operations.start(db, machinist, step)
    operations.take_up(db, later(helper, 10), step)
    with refused("at this step already"):
        operations.take_up(db, later(helper, 11), step)
    assert {item.person for item in time_tracking.running(db)} == {machinist.person, helper.person}
    assert step.running == step.stretches
    operations.sign_off(db, later(machinist, 30), step, {})
    assert step.actual_minutes == 30 + 20
    assert time_tracking.running(db) == []


def test_starting_another_step_stops_the_first(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    first, second = (factories.create_operation(db, visit) for _ in range(2))
    operations.start(db, machinist, first)
    operations.start(db, later(machinist, 25), second)
    assert [item.operation for item in time_tracking.running(db)] == [second]
    assert first.stretches[0].ended_at == machinist.at + timedelta(minutes=25)
    assert time_tracking.of_person(db, machinist) is second.stretches[0]
    assert first.is_open


def test_the_database_holds_that_one_person_does_one_thing(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    for _ in range(2):
        db.add(TimeSpent(operation=step, person=machinist.person, started_at=machinist.at))
    with pytest.raises(IntegrityError):
        db.flush()


def test_a_step_left_out_stops_the_time_on_it(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    operations.skip(db, later(machinist, 5), step, "not needed")
    assert time_tracking.running(db) == []


def test_a_clock_set_back_counts_nothing_and_says_so(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    operations.pause(db, later(machinist, -30), step)
    (stretch,) = step.stretches
    assert stretch.ended_at == stretch.started_at
    assert "clock stood before its start" in last_entry(db, stretch).note
    assert time_tracking.minutes(step, later(machinist, -60).at) == 0


def test_what_runs_since_yesterday_by_the_shops_clock_is_left_open(db: Session, machinist: Actor):
    # 15:30 UTC is 09:30 in Chicago; midnight there is 06:00 UTC (the zone database).
    factories.create_shop(db, time_zone="America/Chicago")
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    evening = datetime.fromisoformat("2026-03-06T05:59:00+00:00")
    assert time_tracking.left_open(db, step.running, evening) == []
    assert time_tracking.left_open(db, step.running, evening + timedelta(minutes=1)) == step.running
    operations.pause(db, machinist, step)
    assert time_tracking.left_open(db, step.stretches, evening + timedelta(days=1)) == []


def test_a_stretch_is_put_right_in_the_shops_time(db: Session, machinist: Actor):
    factories.create_shop(db, time_zone="America/Chicago")
    step = factories.create_operation(db)
    operations.start(db, machinist, step)
    (stretch,) = step.stretches
    morning = later(machinist, 24 * 60)
    time_tracking.correct(db, morning, stretch, {"ended_at": "2026-03-05T11:00"})
    assert time_tracking.minutes(step, morning.at) == 90
    assert last_entry(db, stretch).verb == "corrected"
    assert time_tracking.get(db, stretch.id) is stretch
    with pytest.raises(NotFoundError):
        time_tracking.get(db, 4711)


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"ended_at": "2026-03-05T09:00"}, "ended_at"),  # before its start, 09:30
        ({"ended_at": "2026-03-09T09:00"}, "ended_at"),  # still to come
        ({"started_at": "2026-03-09T09:00"}, "started_at"),
        ({"started_at": ""}, "started_at"),
        ({"ended_at": ""}, "ended_at"),
        ({"ended_at": "noon"}, "ended_at"),
        ({"ended_at": "2026-03-05T13:00"}, "started_at"),  # over the next stretch
        ({"person": "x"}, "person"),
    ],
)
def test_a_time_that_cannot_be_is_refused_at_its_field(
    db: Session, machinist: Actor, values: dict[str, str], key: str
):
    factories.create_shop(db, time_zone="America/Chicago")
    visit = factories.create_visit(db)
    first, second = (factories.create_operation(db, visit) for _ in range(2))
    operations.start(db, machinist, first)
    operations.start(db, later(machinist, 180), second)
    (stretch,) = first.stretches
    before = len(log_of(db, stretch))
    with faults_at(key):
        time_tracking.correct(db, later(machinist, 240), stretch, values)
    assert len(log_of(db, stretch)) == before


def test_only_a_step_in_hand_is_taken_up(db: Session, machinist: Actor):
    step = factories.create_operation(db)
    with refused("not in progress"):
        operations.take_up(db, machinist, step)
    operations.sign_off(db, machinist, step, {})
    with refused("not in progress"):
        operations.take_up(db, machinist, step)
    assert (step.stretches, step.actual_minutes) == ([], None)
