"""The shop's flow tests as open data: those that may be published, and nothing that names anybody.

A field is published because the schema lists it; whatever else is on record stays in the shop.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import (
    BenchSession,
    Customer,
    EngineType,
    Head,
    Job,
    JobState,
    OperationKind,
    SessionLift,
    Visit,
)
from shopflow.services.bench import metal_cuts, sessions
from shopflow.services.bench.past_tests import tested
from shopflow.services.bench.test_names import stage_name
from shopflow.services.open_data.plain_test import plain_test
from shopflow.services.open_data.schema import FORMAT, STAGES, VERSION
from shopflow.services.shop.built_in_kinds import STEP_CODES
from shopflow.services.shop.settings import get_shop, zone

Plain = dict[str, Any]


@dataclass(frozen=True)
class Counted:
    """Number of heads and flow tests that would be published."""

    heads: int
    tests: int


def counted(db: Session) -> Counted:
    """The heads and tests that may be published now."""
    tests = [row for _, rows in _by_head(db) for row in rows]
    return Counted(len({row.job_head.head_id for row in tests}), len(tests))


def published(db: Session, *, with_family: bool) -> Plain:
    """Open data of every head that may be published; a head is given its random name.

    `with_family` publishes the names of engine types. Flushes, never commits.
    """
    hours = zone(get_shop(db))
    codes = {kind.id: kind.code for kind in db.scalars(select(OperationKind))}
    heads = [_head(head, rows, hours, codes, with_family=with_family)
             for head, rows in _by_head(db)]  # fmt: skip
    db.flush()
    # Random names sort in an order that says nothing of when a head came.
    heads.sort(key=lambda head: head["id"])
    return {"format": FORMAT, "version": VERSION, "heads": heads}


def _by_head(db: Session) -> Iterator[tuple[Head, list[BenchSession]]]:
    """Heads with the tests that may be published, in the order the tests were made."""
    visit = joinedload(BenchSession.job_head)
    query = (
        select(BenchSession)
        .join(BenchSession.job_head)
        .join(Visit.job)
        .join(Job.customer)
        .join(Visit.head)
        .where(
            BenchSession.counts,
            Head.from_open_data.is_(False),
            Job.is_practice.is_(False),
            or_(Customer.open_data_consent, Job.state == JobState.DEVELOPMENT),
        )
        .order_by(Visit.head_id, Job.booked_in_at, Visit.id, BenchSession.position)
        .options(
            visit.joinedload(Visit.head).joinedload(Head.engine_type),
            selectinload(BenchSession.lifts).selectinload(SessionLift.readings),
        )
    )
    rows: dict[Head, list[BenchSession]] = {}
    for row in db.scalars(query).unique():
        rows.setdefault(row.job_head.head, []).append(row)
    yield from rows.items()


def _head(
    head: Head,
    rows: Sequence[BenchSession],
    hours: ZoneInfo,
    codes: dict[int, str],
    *,
    with_family: bool,
) -> Plain:
    if head.open_data_key is None:
        head.open_data_key = str(uuid.uuid4())
    ports: dict[tuple[str, str], int] = {}
    last: dict[tuple[str, str], BenchSession] = {}
    tests = []
    for row in rows:
        port = row.side, row.cylinder
        number = ports.setdefault(port, 1 + sum(side == row.side for side, _ in ports))
        before = last.get(port)
        cuts = metal_cuts.between(before, row).kinds if before else frozenset()
        last[port] = row
        is_first = metal_cuts.is_as_received(stage_name(row))
        tests.append(
            {
                "side": row.side,
                "month": f"{tested(row).astimezone(hours):%Y-%m}",
                "port": number,
                "stage": STAGES[0] if is_first else STAGES[1],
                "steps": [code for code in STEP_CODES if code in {codes[key] for key in cuts}],
                **plain_test(sessions.reduction(row)),
            }
        )
    return {
        "id": head.open_data_key,
        "engine": _engine(head.engine_type, with_family=with_family),
        "tests": tests,
    }


def _engine(engine_type: EngineType, *, with_family: bool) -> Plain:
    sizes = {"bore": engine_type.bore, "stroke": engine_type.stroke}
    named = {"family": engine_type.family} if with_family else {}
    return {
        "cylinders": engine_type.cylinders,
        "valves_per_cylinder": engine_type.valves_per_cylinder,
        **{name: size.si for name, size in sizes.items() if size is not None},
        **named,
    }
