"""The day of a bench: warmed up, checked for leaks and against a plate before the first test."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Bench, BenchCheck, BenchDay, BenchRange, LeakCheck
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import bench_checks, leak_checks
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

WARM_UP: fields.Specification = {"minutes": fields.count(least=1, required=True)}


@dataclass(frozen=True)
class RangeDay:
    """The checks of one range on a day, the latest of each kind; None where it was not made."""

    range: BenchRange
    leak: LeakCheck | None
    plate: BenchCheck | None

    @property
    def leak_fault(self) -> str:
        """Fault of the leak check, in words; empty where there is none."""
        return leak_checks.fault(self.leak) if self.leak else ""

    @property
    def plate_fault(self) -> str:
        """Fault of the plate check on the control chart; empty where there is none."""
        if self.plate is None:
            return ""
        return next(
            (
                drift.chart.latest_fault
                for drift in bench_checks.drifts(self.range)
                if drift.chart is not None and drift.checks[-1] is self.plate
            ),
            "",
        )


@dataclass(frozen=True)
class Day:
    """A bench on one day."""

    bench: Bench
    date: date
    warm_up: BenchDay | None
    ranges: tuple[RangeDay, ...]

    @property
    def missing(self) -> list[str]:
        """Steps not done yet, in words."""
        steps = [] if self.warm_up else [gettext("warm-up")]
        for item in self.ranges:
            named = {"range": item.range.name}
            if item.leak is None:
                steps.append(gettext("leak check of range {range}", **named))
            if item.plate is None:
                steps.append(gettext("plate check of range {range}", **named))
        return steps

    @property
    def has_begun(self) -> bool:
        """True where any step is done."""
        return self.warm_up is not None or any(item.leak or item.plate for item in self.ranges)


def of_bench(db: Session, bench: Bench, day: date) -> Day:
    """A bench's day."""
    begins, ends = _bounds(db, day)
    warm_up = db.scalar(select(BenchDay).where(BenchDay.bench_id == bench.id, BenchDay.day == day))
    return Day(bench, day, warm_up, tuple(_of_range(row, begins, ends) for row in bench.ranges))


def warm_up(db: Session, by: Actor, bench: Bench, day: date, values: Mapping[str, Any]) -> BenchDay:
    """Record that a bench was warmed up. Raises ValidationError, and RuleError where it was."""
    clean = fields.require(WARM_UP, values, "minutes")
    if of_bench(db, bench, day).warm_up is not None:
        raise RuleError(gettext("the warm-up of this day is recorded already"))
    row = BenchDay(bench=bench, day=day, at=by.at, person_id=by.person_id, **clean)
    db.add(row)
    note = gettext("{bench}, warmed up {minutes} min", bench=bench.name, minutes=row.minutes)
    audit_log.record(db, by, row, "recorded", note=note)
    return row


def missing(db: Session, bench: Bench, day: date) -> list[str]:
    """Steps of a bench's day not done yet; none where the shop does without the reminder."""
    if not get_shop(db).bench_day_reminder or not bench.active or not bench.ranges:
        return []
    return of_bench(db, bench, day).missing


def missing_of_range(db: Session, bench_range: BenchRange, day: date) -> bool:
    """True where a range is not checked on a day, and the shop wants to be reminded."""
    if not get_shop(db).bench_day_reminder:
        return False
    begins, ends = _bounds(db, day)
    item = _of_range(bench_range, begins, ends)
    return item.leak is None or item.plate is None


def _of_range(row: BenchRange, begins: datetime, ends: datetime) -> RangeDay:
    leaks = [item for item in row.leak_checks if begins <= item.at < ends]
    plates = [item for item in row.checks if begins <= item.at < ends]
    return RangeDay(row, leaks[-1] if leaks else None, plates[-1] if plates else None)


def _bounds(db: Session, day: date) -> tuple[datetime, datetime]:
    """The moments a day of the shop begins and ends at."""
    hours = zone(get_shop(db))
    start = datetime.combine(day, time(), hours)
    return start, datetime.combine(day + timedelta(days=1), time(), hours)
