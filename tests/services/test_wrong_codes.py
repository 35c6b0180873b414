"""Wrong codes of papers, counted in the database."""

from __future__ import annotations

from datetime import timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.models import WrongCode
from shopflow.services.accounts import verification_throttle
from shopflow.services.accounts.verification_throttle import MOST_WRONG, WINDOW
from tests.factories import NOW


def test_the_pause_is_of_one_address_and_ends(db: Session):
    for second in range(MOST_WRONG):
        assert not verification_throttle.too_many(db, "10.0.0.1", NOW + timedelta(seconds=second))
        verification_throttle.count(db, "10.0.0.1", NOW + timedelta(seconds=second))
    later = NOW + timedelta(seconds=MOST_WRONG)
    assert verification_throttle.too_many(db, "10.0.0.1", later)
    assert not verification_throttle.too_many(db, "10.0.0.2", later)
    assert not verification_throttle.too_many(db, "10.0.0.1", later + WINDOW)


def test_old_tries_are_forgotten(db: Session):
    for minute in range(100):
        verification_throttle.count(db, f"10.0.0.{minute}", NOW + timedelta(minutes=minute))
    stored = db.scalar(select(func.count()).select_from(WrongCode)) or 0
    assert stored <= WINDOW / timedelta(minutes=1)
