"""Trends of a casting over its visits: change, what is left to the limit, cuts summed."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Head, Visit
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.measuring import casting_trends, limits, measurements
from shopflow.services.measuring.casting_trends import TrendRow
from tests import factories


def measure(db: Session, visit: Visit, code: str, value: str, days: int, **place: str) -> None:
    kind = measurements.kind_by_code(db, code)
    by = Actor(None, factories.NOW + timedelta(days=days))
    measurements.record(db, by, visit, kind.id, {"value": value, **place})


def row_of(db: Session, head: Head, name: str) -> TrendRow:
    (row,) = [row for row in casting_trends.trends(db, head) if row.name == name]
    return row


@pytest.fixture
def two(db: Session) -> tuple[Visit, Visit]:
    """A head's first visit, and the next a year later."""
    first = factories.create_planned_visit(db, intake="", exhaust="")
    form = booking.BookIn(
        heads=[{"head_id": str(first.head_id)}],
        customer_id=first.job.customer_id,
        engine_type_id=first.head.engine_type_id,
    )
    by = Actor(None, factories.NOW + timedelta(days=365))
    return first, booking.book_in(db, by, form).heads[0]


@pytest.mark.source("arithmetic by hand: 150.00 - 0.10 - 0.15 is 149.75, 0.25 above 149.50")
def test_deck_cuts_are_summed_and_taken_off_the_last_thickness(db: Session, two):
    first, second = two
    head = first.head
    kind = measurements.kind_by_code(db, "head thickness")
    limits.set_(db, factories.BY, head.engine_type, kind, "", {"lower": "149.5 mm"})
    measure(db, first, "deck cut", "0.20 mm", 1)
    measure(db, first, "head thickness", "150.00 mm", 2)
    measure(db, second, "deck cut", "0.10 mm", 366)
    measure(db, second, "deck cut", "0.15 mm", 367)
    cuts = row_of(db, head, "Deck cut depth, total")
    assert [cuts.cell(index) for index in (0, 1)] == ["0.200", "0.450"]
    now = row_of(db, head, "Head thickness now")
    assert (now.cell(0), now.cell(1), now.left_text) == ("", "149.750", "0.250 mm")
    assert now.note == "150.00 mm measured, 0.250 mm cut since"


def test_the_change_is_of_one_place_and_left_is_to_the_nearest_limit(db: Session, two):
    first, second = two
    bounds = {"upper": "7.05 mm"}
    at = {"cylinder": "1", "side": "intake"}
    measure(db, first, "guide bore", "7.000 mm", 1, **at, **bounds)
    measure(db, second, "guide bore", "7.010 mm", 366, **at, **bounds)
    measure(db, second, "guide bore", "7.060 mm", 366, cylinder="2", side="intake", **bounds)
    row = row_of(db, first.head, "Guide bore")
    assert (row.cell(0), row.cell(1)) == ("7.000", "7.010 to 7.060")
    assert row.change_text == "+0.010 mm"
    assert row.left_text == "0.010 mm outside"
    measure(db, second, "guide bore", "7.020 mm", 367, cylinder="2", side="intake", **bounds)
    assert row_of(db, first.head, "Guide bore").left_text == "0.030 mm"


def test_a_value_after_the_work_goes_before_one_before_it(db: Session, two):
    first, _ = two
    measure(db, first, "deck flatness", "0.02 mm", 1, when="after")
    measure(db, first, "deck flatness", "0.15 mm", 2, when="before")
    assert row_of(db, first.head, "Deck flatness").cell(0) == "0.020"


def test_a_casting_without_measurements_has_no_rows(db: Session, two):
    assert casting_trends.trends(db, two[0].head) == []
