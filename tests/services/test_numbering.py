"""Numbers of jobs and papers: never twice, whoever asks at the same time."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopflow.database import session_factory
from shopflow.services.numbering import next_number, next_numbers


def test_each_series_and_year_counts_for_itself(db: Session):
    rows = [
        next_number(db, series, year)
        for series, year in [
            ("job", 2026), ("job", 2026), ("certificate", 2026), ("job", 2027), ("job", 2026),
        ]
    ]  # fmt: skip
    assert rows == [1, 2, 1, 1, 3]


def test_many_numbers_are_taken_at_once(db: Session):
    assert next_number(db, "job", 2026) == 1
    assert list(next_numbers(db, "job", 2026, 3)) == [2, 3, 4]
    assert next_number(db, "job", 2026) == 5


def test_two_connections_at_once_get_different_numbers(engine: Engine):
    start = Barrier(4)

    def take(_: int) -> list[int]:
        start.wait()
        rows = []
        for _ in range(10):
            with session_factory(engine).begin() as db:
                rows.append(next_number(db, "job", 2026))
        return rows

    with ThreadPoolExecutor(4) as pool:
        numbers = [number for in_use in pool.map(take, range(4)) for number in in_use]
    assert sorted(numbers) == list(range(1, 41))


def test_a_number_that_was_rolled_back_is_given_again(engine: Engine):
    with session_factory(engine)() as db:
        assert next_number(db, "job", 2026) == 1
        db.rollback()
        assert next_number(db, "job", 2026) == 1
