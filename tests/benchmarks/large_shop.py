"""A shop with many years behind it: a few jobs made by the services, then copied in bulk.

So every row has the shape the services leave, kept summaries included. It is made in SQLite.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine, text
from sqlalchemy.orm import Session

from shopflow.database import session_factory
from shopflow.models import EngineType, JobState, Role, Visit
from shopflow.models.lookup_text import numbers as looked_up_numbers
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from shopflow.services.shop import built_in_kinds
from tests import factories
from tests.benchmarks import names

BEGAN = datetime(1996, 3, 5, 15, 30, tzinfo=UTC)
TODAY = datetime(2026, 3, 5, 15, 30, tzinfo=UTC)
OPEN_JOBS = 60
"""A shop has as many heads in hand in its thirtieth year as in its third."""

LIFTS = 10
STEPS = ("teardown", "hot-wash", "guide", "port-work", "assembly")
JOBS_AT_ONCE = 2_000
AT_ONCE = 50_000
"""Rows handed to the database together."""

MOST_VALUES = 10_000
"""Values of one statement; SQLite takes 32,766."""

TABLES = ("head", "job", "job_head", "operation", "bench_session", "session_lift", "reading",
          "lookup_text")  # fmt: skip
"""Tables copied, each after those it refers to."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Size:
    """Size of the shop; rarer records grow more slowly than its jobs."""

    jobs: int
    patterns: int = 24
    """Jobs made by the services; of four, three with a test as received and one after the work."""

    @property
    def customers(self) -> int:
        """Most come back: one new customer to twenty jobs."""
        return max(20, self.jobs // 20)

    @property
    def engine_types(self) -> int:
        """By the root of the jobs: most heads are of types known already."""
        return max(12, int(2 * self.jobs**0.5))


@dataclass(frozen=True)
class Pattern:
    """The rows of one job's head, as the services left them."""

    job: Row
    visit: Row
    head: Row
    operations: list[Row]
    sessions: list[Row]
    lifts: list[Row]
    readings: list[Row]
    lookup_text: Row


def make(engine: Engine, size: Size) -> None:
    """Fill an empty, migrated SQLite database with such a shop; its owner's login is "owner"."""
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        owner = Actor(factories.create_person(db, Role.OWNER), BEGAN)
        built_in_kinds.ensure(db)
        rows = [_job(db, owner, place) for place in range(size.patterns)]
        open_ones = [_job(db, owner, place, is_open=True) for place in range(size.patterns)]
        db.flush()
        keys = [[visit.id for visit in kind] for kind in (rows, open_ones)]
    with engine.begin() as connection:
        closed, in_hand = ([_pattern(connection, key) for key in kind] for kind in keys)
        _people_and_types(connection, size)
        copier = Copier(connection, size)
        for numbers in _batches(range(size.jobs - OPEN_JOBS), JOBS_AT_ONCE):
            copier.copy(numbers, closed)
        copier.copy(range(size.jobs - OPEN_JOBS, size.jobs), in_hand)
        connection.exec_driver_sql("ANALYZE")


def _job(db: Session, by: Actor, index: int, *, is_open: bool = False) -> Visit:
    """One job with one head, through the services: worked on, tested where its turn has it."""
    first = db.query(EngineType).first()
    visit = factories.create_job(
        db, engine_type=first, by=by, asked_for=names.wish(index), promised_on="2026-03-20"
    ).heads[0]
    kinds = {kind.code: kind for kind in built_in_kinds.operation_kinds(db)}
    steps = [operations.add(db, by, visit, kinds[code].id, {}) for code in STEPS]
    factories.approve(db, by, visit.job, "the customer", "by telephone")
    tested = index % 4 != 3
    if tested:
        factories.create_session(db, visit, session_file("as received", index, 1.0), by)
    for step in steps[: 3 if is_open else None]:
        operations.sign_off(
            db, by, step, {"notes": names.remark(index), "not_measured_because": "not asked for"}
        )
    if tested:
        after = session_file("after the work", index, 1.06)
        factories.create_session(db, visit, after, by, steps[2])
    if not is_open:
        for state in (JobState.READY, JobState.COLLECTED):
            jobs.move(db, by, visit.job, state)
    return visit


def session_file(stage: str, index: int, gain: float) -> str:
    """Ten lifts, one run each; every pattern has readings of its own."""
    lifts = [1.0 + 1.2 * step for step in range(LIFTS)]
    flows = [[round(gain * (9 + index / 3) * lift * (1 - 0.031 * lift), 1)] for lift in lifts]
    return f"""
schema = 1
side = "{"exhaust" if index % 2 else "intake"}"
stage = "{stage}"
cylinder = "{1 + index % 4}"
[air]
barometer = "1009 mbar"
temperature = "{18 + index % 6} degC"
humidity = "45 %"
[valve]
head_diameter = "44 mm"
stem_diameter = "7 mm"
seat_angle = "45 deg"
seat_width = "1.5 mm"
throat_diameter = "39 mm"
[port]
area = "1110 mm2"
[bench]
name = "north"
calibration_id = "N-7"
test_pressure = "25 inH2O"
calibration_factor = 1.013
leakage = "0.8 cfm"
[uncertainty]
calibration = "1.2 %"
repeatability = "0.4 %"
pressure = "0.3 %"
lift = "0.02 mm"
[readings]
lift_unit = "mm"
flow_unit = "cfm"
lift = {[round(lift, 1) for lift in lifts]}
flow = {flows}
"""


def _pattern(connection: Connection, stay_id: int) -> Pattern:
    def rows(table: str, where: str) -> list[Row]:
        query = text(f"SELECT * FROM {table} WHERE {where} ORDER BY 1")
        return [dict(row) for row in connection.execute(query, {"stay": stay_id}).mappings()]

    of_stay = "job_head_id = :stay"
    sessions = f"session_id IN (SELECT id FROM bench_session WHERE {of_stay})"
    lifts = f"session_lift_id IN (SELECT id FROM session_lift WHERE {sessions})"
    (visit,) = rows("job_head", "id = :stay")
    (job,) = rows("job", "id = (SELECT job_id FROM job_head WHERE id = :stay)")
    (head,) = rows("head", "id = (SELECT head_id FROM job_head WHERE id = :stay)")
    return Pattern(
        job=job,
        visit=visit,
        head=head,
        operations=rows("operation", of_stay),
        sessions=rows("bench_session", of_stay),
        lifts=rows("session_lift", sessions),
        readings=rows("reading", lifts),
        lookup_text=rows("lookup_text", of_stay)[0],
    )


def _people_and_types(connection: Connection, size: Size) -> None:
    customer = _first(connection, "customer")
    stored = range(2 * size.patterns + 1, size.customers + 2 * size.patterns + 1)
    _put(connection, "customer", ({**customer, "id": key, "name": names.customer(key)}
                                  for key in stored))  # fmt: skip
    engine_type = _first(connection, "engine_type")
    types = range(2, size.engine_types + 2)
    _put(connection, "engine_type", (
        {**engine_type, "id": key, "builder": names.builder(key), "family": names.family(key)}
        for key in types
    ))  # fmt: skip
    _put(connection, "engine_alias", (
        {"id": key, "engine_type_id": key, "name": names.alias(key)} for key in types
    ))  # fmt: skip


def _first(connection: Connection, table: str) -> Row:
    return dict(connection.execute(text(f"SELECT * FROM {table} LIMIT 1")).mappings().one())


class Copier:
    """Copies patterns under keys of their own, a batch of jobs at a time."""

    def __init__(self, connection: Connection, size: Size) -> None:
        self.connection = connection
        self.size = size
        self.keys = {table: _free(connection, table) for table in TABLES[:-1]}

    def copy(self, numbers: Iterable[int], patterns: Sequence[Pattern]) -> None:
        """A job for each number, after the patterns in turn."""
        rows: dict[str, list[Row]] = {table: [] for table in TABLES}
        for number in numbers:
            self._job(rows, number, patterns[number % len(patterns)])
        for table in TABLES:
            _put(self.connection, table, rows[table])

    def _job(self, rows: dict[str, list[Row]], number: int, pattern: Pattern) -> None:
        def add(table: str, row: Row, **changed: Any) -> int:
            key = next(self.keys[table])
            rows[table].append({**row, **changed, "id": key})
            return key

        size = self.size
        years = (TODAY - BEGAN) * (number / size.jobs)
        booked_in_at = f"{BEGAN + years:%Y-%m-%d %H:%M:%S.%f}"
        job_number = f"{(BEGAN + years).year}-C{number:06d}"
        tag = f"{job_number}-A"
        serial = f"S{number:07d}"
        casting_number = f"HC {4000 + number % 997} {number % 89:03d}"
        engine_type_id = 2 + _skewed(number, size.engine_types)
        customer_id = 2 * size.patterns + 1 + number * 7 % size.customers
        head = add(
            "head",
            pattern.head,
            serial=serial,
            casting_number=casting_number,
            engine_type_id=engine_type_id,
        )
        job = add(
            "job",
            pattern.job,
            number=job_number,
            customer_id=customer_id,
            booked_in_at=booked_in_at,
        )
        visit = add("job_head", pattern.visit, job_id=job, head_id=head, tag=tag)
        rows["lookup_text"].append({
            **pattern.lookup_text, "job_head_id": visit, "engine_type_id": engine_type_id,
            "customer_id": customer_id, "booked_in_at": booked_in_at,
            "numbers": looked_up_numbers(casting_number, serial, tag, None),
        })  # fmt: skip
        steps = {row["id"]: add("operation", row, job_head_id=visit) for row in pattern.operations}
        tests = {
            row["id"]: add(
                "bench_session", row, job_head_id=visit,
                after_operation_id=steps.get(row["after_operation_id"]),
            )
            for row in pattern.sessions
        }  # fmt: skip
        lifts = {
            row["id"]: add("session_lift", row, session_id=tests[row["session_id"]])
            for row in pattern.lifts
        }
        for row in pattern.readings:
            add("reading", row, session_lift_id=lifts[row["session_lift_id"]])


def _skewed(number: int, most: int) -> int:
    """A few engine types come in often, most seldom: their share falls with the square."""
    spread = (number * 0.6180339887) % 1.0
    return int(most * spread**2)


def _free(connection: Connection, table: str) -> Iterator[int]:
    last = connection.scalar(text(f"SELECT coalesce(max(id), 0) FROM {table}"))
    return itertools.count(int(last or 0) + 1)


def _put(connection: Connection, table: str, rows: Iterable[Row]) -> None:
    """Insert rows as they are, without the models' types: they came out of the database so."""
    for batch in _batches(rows, AT_ONCE):
        columns = list(batch[0])
        marks = f"({', '.join('?' for _ in columns)})"
        # The index of look-ups is written down after each statement: many rows go into one.
        for few in _batches(batch, MOST_VALUES // len(columns)):
            sql = (
                f"INSERT INTO {table} ({', '.join(columns)}) VALUES {', '.join([marks] * len(few))}"
            )
            connection.exec_driver_sql(sql, tuple(value for row in few for value in row.values()))


def _batches(items: Iterable[Any], size: int) -> Iterator[list[Any]]:
    remaining = iter(items)
    while batch := list(itertools.islice(remaining, size)):
        yield batch
