"""Checks of a bench's ranges on plates of known flow, and what the floor should know of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.calc.control import ControlChart, control_chart
from shopflow.errors import FieldError, ValidationError
from shopflow.models import Bench, BenchCheck, BenchRange, Calibration, ReadingKind
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import calibration_points
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import day, gettext
from shopflow.units import Quantity, UnitError, parse

CHECK: fields.Specification = {
    "plate": fields.text(required=True),
    "expected": fields.quantity("volume flow", required=True, above=0.0),
    "indicated": fields.text(required=True, most=60),
    "notes": fields.words(),
}

_IN_USE = (
    select(Bench)
    .where(Bench.active)
    .order_by(Bench.name)
    .options(
        selectinload(Bench.ranges).options(
            selectinload(BenchRange.calibrations), selectinload(BenchRange.checks)
        )
    )
)


def check(db: Session, by: Actor, bench_range: BenchRange, values: Mapping[str, Any]) -> BenchCheck:
    """Record what a range showed on a plate of known flow.

    `indicated` is typed as the scale reads: a flow, or a percentage of the range. Raises
    ValidationError.
    """
    clean = fields.require(CHECK, values, "plate", "expected", "indicated")
    clean["indicated"] = _indicated(bench_range, clean["indicated"])
    in_force = bench_range.calibration_on(by.at.date())
    row = BenchCheck(
        at=by.at,
        person_id=by.person_id,
        factor=calibration_points.factor_at(in_force, clean["indicated"].si)
        if in_force
        else Decimal("1.0"),
        **clean,
    )
    bench_range.checks.append(row)
    note = gettext(
        "{flow} on {plate}, {ratio:.4f} of the plate's flow",
        flow=row.indicated,
        plate=row.plate,
        ratio=row.ratio,
    )
    audit_log.record(db, by, row, "checked", note=note)
    return row


def _indicated(bench_range: BenchRange, text: str) -> Quantity:
    """A reading as the bench's scale shows it, in m3/s beside the text."""
    try:
        if bench_range.bench.reading is ReadingKind.PERCENT_OF_RANGE:
            if bench_range.full_scale is None:
                raise UnitError(gettext("the range has no flow at 100 %"))
            share = parse(text, "ratio")
            indicated = Quantity(text, share.si * bench_range.full_scale.si)
        else:
            indicated = parse(text, "volume flow")
    except UnitError as error:
        raise ValidationError([FieldError("indicated", str(error))]) from None
    if indicated.si <= 0.0:
        raise ValidationError(
            [FieldError("indicated", gettext("'{text}' must be more than 0", text=text))]
        )
    return indicated


@dataclass(frozen=True)
class Drift:
    """The checks of a range on one plate under one calibration."""

    plate: str
    checks: tuple[BenchCheck, ...]
    calibration: Calibration | None
    chart: ControlChart | None
    """None where the checks are too few."""

    is_current: bool
    """True where these are the latest checks on that plate."""


def drifts(bench_range: BenchRange) -> list[Drift]:
    """Control charts of a range's checks, plate by plate, each against the baseline since its
    calibration, the current ones first.

    A calibration begins a new baseline: checks under an earlier one are no measure of it.
    """
    groups: dict[tuple[str, Calibration | None], list[BenchCheck]] = {}
    latest: dict[str, Calibration | None] = {}
    for row in bench_range.checks:
        latest[row.plate] = calibration = bench_range.calibration_on(row.at.date())
        groups.setdefault((row.plate, calibration), []).append(row)
    charts = [
        Drift(
            plate,
            tuple(rows),
            calibration,
            control_chart([row.ratio for row in rows], max(map(_last_digit, rows))),
            is_current=latest[plate] is calibration,
        )
        for (plate, calibration), rows in groups.items()
    ]
    plates = list(latest)
    return sorted(charts, key=lambda drift: (not drift.is_current, plates.index(drift.plate)))


def _last_digit(row: BenchCheck) -> float:
    """One step of the last digit that was typed, as a part of the plate's flow."""
    typed = Decimal(row.indicated.number)
    return row.ratio * 10.0 ** int(typed.as_tuple().exponent) / float(typed)


@dataclass(frozen=True)
class DayToDay:
    """Scatter of a range's checks on one plate from day to day, relative."""

    plate: str
    count: int
    deviation: float


def day_to_day(db: Session, bench_range: BenchRange, today: date) -> DayToDay | None:
    """The scatter of the plate checked on a day; None without a check then, or of too few."""
    hours = zone(get_shop(db))
    for drift in drifts(bench_range):
        is_of_day = drift.checks[-1].at.astimezone(hours).date() == today
        if drift.is_current and drift.chart is not None and is_of_day:
            return DayToDay(drift.plate, len(drift.checks), drift.chart.deviation)
    return None


def faults(bench_range: BenchRange) -> list[str]:
    """Faults of a range's latest checks, in words."""
    return [
        gettext(
            "its last check on {plate} is {fault}",
            plate=drift.plate,
            fault=drift.chart.latest_fault,
        )
        for drift in drifts(bench_range)
        if drift.is_current and drift.chart is not None and drift.chart.latest_fault
    ]


def concerns(db: Session, today: date) -> list[str]:
    """Concerns about the benches in use that the floor should know, in words."""
    texts = []
    for bench in db.scalars(_IN_USE):
        for bench_range in bench.ranges:
            named = gettext("{bench}, range {range}", bench=bench.name, range=bench_range.name)
            in_force = bench_range.calibration_on(today)
            if in_force is not None and in_force.due_on and in_force.is_overdue(today):
                texts.append(
                    gettext(
                        "{bench}: its calibration fell due {day}",
                        bench=named,
                        day=day(in_force.due_on),
                    )
                )
            texts += [f"{named}: {fault}" for fault in faults(bench_range)]
    return texts
