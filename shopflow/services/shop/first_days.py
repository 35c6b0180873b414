"""The first days of a shop: what is still to be set up, read off its records."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from shopflow.models import (
    Bench,
    Calibration,
    EngineType,
    Head,
    Job,
    MailServer,
    OperationKind,
    Routing,
    Shop,
    User,
    Visit,
)
from shopflow.models.base import Base
from shopflow.models.job import PRACTICE_NUMBER
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.shop.settings import get_shop


class Task(StrEnum):
    """One thing to set up, in the order a shop comes to it."""

    UNITS = "units"
    ADDRESS = "address"
    BENCH = "bench"
    PRICES = "prices"
    PLAN = "work plan"
    ENGINE = "engine type"
    HEAD = "head"
    MAIL = "mail"
    BACKUP = "backup"
    PEOPLE = "people"


@dataclass(frozen=True, slots=True)
class Standing:
    """State of one task."""

    task: Task
    is_done: bool
    count: int = 0
    """Number of such records; of a bench, of its calibrations."""


_ANY: dict[Task, Select[Any]] = {
    Task.PRICES: select(func.count()).where(OperationKind.usual_price.is_not(None)),
    Task.PLAN: select(func.count(Routing.id)),
    Task.MAIL: select(func.count(MailServer.id)),
}


_PRACTICE = (
    select(Visit.id)
    .join(Visit.job)
    .join(Visit.head)
    .where(Job.number == PRACTICE_NUMBER, Job.is_practice)
)
"""Visits of the practice job, found by its number: asked for the mark alone, the database goes
through every job."""


def of_shop(db: Session, *, backed_up: bool) -> list[Standing]:
    """State of every task; `backed_up` is true where a backup was ever made."""
    shop = get_shop(db)
    heads = _count(db, _all_but(Visit, _PRACTICE.with_only_columns(func.count(Visit.id))))
    engine_types = _PRACTICE.with_only_columns(func.count(Head.engine_type_id.distinct()))
    engines = _count(db, _all_but(EngineType, engine_types))
    benches = _count(db, select(func.count(Bench.id)))
    people = _count(db, select(func.count(User.id)).where(User.active))
    counts = {task: _count(db, query) for task, query in _ANY.items()}
    calibrations = _count(db, select(func.count(Calibration.id)))
    return [
        Standing(Task.UNITS, True),
        Standing(Task.ADDRESS, bool(shop.address.strip())),
        Standing(Task.BENCH, benches > 0, calibrations),
        Standing(Task.PRICES, counts[Task.PRICES] > 0, counts[Task.PRICES]),
        Standing(Task.PLAN, counts[Task.PLAN] > 0, counts[Task.PLAN]),
        Standing(Task.ENGINE, engines > 0, engines),
        Standing(Task.HEAD, heads > 0, heads),
        Standing(Task.MAIL, counts[Task.MAIL] > 0),
        Standing(Task.BACKUP, backed_up),
        Standing(Task.PEOPLE, people > 1, people),
    ]


def put_away(db: Session, by: Actor, shop: Shop, *, away: bool) -> None:
    """Take the checklist off the floor, or put it back."""
    audit_log.change(db, by, shop, {"first_days_put_away": away})


def _all_but(model: type[Base], practice: Select[int]) -> Select[Any]:
    """Number of all rows less that of the practice job's, so that no row is looked at."""
    everything = select(func.count()).select_from(model).scalar_subquery()
    return select(everything - practice.scalar_subquery())


def _count(db: Session, query: Select[Any]) -> int:
    return db.scalar(query) or 0
