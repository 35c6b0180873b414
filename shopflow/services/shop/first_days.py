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


def of_shop(db: Session, *, backed_up: bool) -> list[Standing]:
    """State of every task; `backed_up` is true where a backup was ever made."""
    shop = get_shop(db)
    practice = select(Job.id).where(Job.is_practice)
    heads = _count(db, select(func.count(Visit.id)).where(Visit.job_id.not_in(practice)))
    of_practice = Head.visits.any(Visit.job_id.in_(practice))
    engines = _count(
        db, select(func.count(EngineType.id)).where(~EngineType.heads.any(of_practice))
    )
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


def _count(db: Session, query: Select[Any]) -> int:
    return db.scalar(query) or 0
