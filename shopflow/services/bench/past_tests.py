"""The shop's past flow tests of an engine type, as plain figures that can be set side by side."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from math import degrees
from typing import Any

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session, contains_eager, joinedload, selectinload

from shopflow.calc.band import Curve
from shopflow.calc.low_lift import low_lift_coefficient
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import SetUp
from shopflow.errors import FieldError, ValidationError
from shopflow.models import (
    PORTED_STATES,
    BenchSession,
    CastingState,
    EngineType,
    Head,
    Job,
    Operation,
    Purpose,
    SessionLift,
    Visit,
)
from shopflow.services import fields
from shopflow.services.bench import sessions
from shopflow.services.bench.metal_cuts import is_as_received
from shopflow.services.bench.port_geometry import Setup, setup
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.bench.test_names import stage_to_rank
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext
from shopflow.units import Quantity

MOST = 300
"""Tests that are set side by side at most, the latest."""

LAST_OF_PORT = "last of each port"
"""Chosen as a stage: the last test of each port after work was done."""

SPECIFICATION: fields.Specification = {
    "side": fields.text(),
    "stage": fields.text(),
    "purpose": fields.text(),
    "since": fields.day(),
    "until": fields.day(),
    "least_valve": fields.quantity("length", above=0.0),
    "most_valve": fields.quantity("length", above=0.0),
}

# An inner join nested in this outer one would make SQLite read every operation there is.
_AFTER = joinedload(BenchSession.after_operation).joinedload(Operation.kind, innerjoin=False)


@dataclass(frozen=True)
class Wanted:
    """Filter of tests; an empty field matches every test."""

    side: str = "intake"
    stage: str = ""
    purpose: str = ""
    since: date | None = None
    until: date | None = None
    least_valve: Quantity | None = None
    most_valve: Quantity | None = None


@dataclass(frozen=True)
class Result:
    """One past flow test. Areas are in m2, lengths in m, angles in radians.

    Flows, in m3/s, are those that the areas pass at 28 inH2O in the standard air.
    """

    session_id: int
    head_id: int
    job: str
    tag: str
    customer: str
    engine_type: str
    side: str
    stage: str
    """Of a test as received with the state of the casting, as "as received, ported here"."""

    casting_state: CastingState
    cylinder: str
    purpose: str
    tested: datetime
    valve_diameter: float
    valve_count: int
    setup: Setup
    lifts: tuple[float, ...]
    depths: tuple[float, ...]
    """L/D of each lift."""

    areas: tuple[float, ...]
    mean_area: float
    """Over its own lifts."""

    peak_area: float
    peak_coefficient: float
    """The greatest coefficient on valve head area."""

    low_lift_coefficient: float | None
    set_up: SetUp

    @property
    def as_received(self) -> bool:
        """True where no earlier work on it is known."""
        return is_as_received(self.stage) and self.casting_state not in PORTED_STATES

    @property
    def throat_ratio(self) -> float | None:
        """Throat diameter over valve head diameter."""
        throat = self.setup.throat_diameter
        return throat / self.valve_diameter if throat else None

    @property
    def seat_angle(self) -> float | None:
        """In degrees; a typed 45 comes back as 45."""
        angle = self.setup.seat_angle
        return None if angle is None else round(degrees(angle), 9)

    @property
    def mean_flow(self) -> float:
        """Flow that its mean area is shown as, m3/s."""
        return flow_shown(self.mean_area, self.side)

    @property
    def peak_flow(self) -> float:
        """Flow that its greatest area is shown as, m3/s."""
        return flow_shown(self.peak_area, self.side)

    @property
    def peak_lift(self) -> float:
        """Lift of its greatest area, m."""
        return self.lifts[self.areas.index(max(self.areas))]

    @property
    def mean_velocity(self) -> float | None:
        """Mean flow over the port's section, m/s."""
        return self.mean_flow / self.setup.port_area if self.setup.port_area else None

    def curve(self, over: str) -> Curve:
        """Effective area over "lift" or over "L/D"."""
        return Curve(self.lifts if over == "lift" else self.depths, self.areas)


def wanted_from(values: Mapping[str, Any]) -> Wanted:
    """Read a filter from text. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    faults = []
    if clean.get("side") not in ("intake", "exhaust"):
        faults.append(FieldError("side", gettext("intake or exhaust")))
    if clean.get("purpose") and clean["purpose"] not in {purpose.value for purpose in Purpose}:
        faults.append(FieldError("purpose", gettext("choose one of the purposes")))
    if clean.get("since") and clean.get("until") and clean["until"] < clean["since"]:
        faults.append(FieldError("until", gettext("not before the day it begins")))
    least, most = clean.get("least_valve"), clean.get("most_valve")
    if least and most and most.si < least.si:
        faults.append(FieldError("most_valve", gettext("not less than {least}", least=least)))
    if faults:
        raise ValidationError(faults)
    return Wanted(**clean)


def of_engine_types(
    db: Session, engine_types: Iterable[EngineType], wanted: Wanted
) -> list[Result]:
    """The past tests wanted of these engine types, the latest first, at most 300."""
    return of_keys(db, [engine_type.id for engine_type in engine_types], wanted)


def of_keys(db: Session, engine_types: Sequence[int], wanted: Wanted) -> list[Result]:
    """The same, of the engine types with these keys."""
    rows = db.scalars(_tests(engine_types).where(*_clauses(wanted))).all()
    hours = zone(get_shop(db))
    matching = [
        row
        for row in _of_stage(rows, wanted.stage)
        if (wanted.since is None or tested(row).astimezone(hours).date() >= wanted.since)
        and (wanted.until is None or tested(row).astimezone(hours).date() <= wanted.until)
    ]
    matching.sort(key=lambda row: (tested(row), row.id), reverse=True)
    loaded = _loaded(db, matching[:MOST])
    return [_result(*pair) for pair in zip(loaded, sessions.reductions(loaded), strict=True)]


def stages(db: Session, engine_types: Iterable[EngineType]) -> list[str]:
    """The stages these types were tested at, as written."""
    return sorted(
        {
            stage_to_rank(row)
            for row in db.scalars(_tests([engine_type.id for engine_type in engine_types]))
        }
    )


def tested(row: BenchSession) -> datetime:
    """Time of a test, or of its entry where that was not stated."""
    return row.measured_at or row.entered_at


def _tests(engine_types: Sequence[int]) -> Any:
    return (
        select(BenchSession)
        .join(BenchSession.job_head)
        .join(Visit.job)
        .join(Visit.head)
        .where(
            Head.engine_type_id.in_(engine_types),
            BenchSession.counts,
            Head.from_open_data.is_(False),
        )
        .options(_AFTER, contains_eager(BenchSession.job_head))
    )


def _clauses(wanted: Wanted) -> list[ColumnElement[bool]]:
    clauses = [BenchSession.side == wanted.side]
    valve = BenchSession.__table__.c.head_diameter_si
    if wanted.purpose:
        clauses.append(Job.purpose == Purpose(wanted.purpose))
    # A thousandth of a millimetre forgives conversion from inches.
    if wanted.least_valve:
        clauses.append(valve >= wanted.least_valve.si - 1e-6)
    if wanted.most_valve:
        clauses.append(valve <= wanted.most_valve.si + 1e-6)
    return clauses


def _of_stage(rows: Sequence[BenchSession], stage: str) -> list[BenchSession]:
    if not stage:
        return list(rows)
    if stage != LAST_OF_PORT:
        return [row for row in rows if stage_to_rank(row) == stage]
    worked = [row for row in rows if not is_as_received(stage_to_rank(row))]
    last = {(row.job_head_id, row.cylinder): row for row in sorted(worked, key=_position)}
    return list(last.values())


def _position(row: BenchSession) -> int:
    return row.position


def _loaded(db: Session, rows: Sequence[BenchSession]) -> Sequence[BenchSession]:
    """The same rows with all that their figures are calculated from, in a few queries."""
    query = (
        select(BenchSession)
        .where(BenchSession.id.in_([row.id for row in rows]))
        .options(
            selectinload(BenchSession.lifts).selectinload(SessionLift.readings),
            selectinload(BenchSession.set_up_confirmations),
            joinedload(BenchSession.job_head).joinedload(Visit.job).joinedload(Job.customer),
            joinedload(BenchSession.job_head).joinedload(Visit.head).joinedload(Head.engine_type),
            joinedload(BenchSession.job_head).selectinload(Visit.measurements),
        )
    )
    by_key = {row.id: row for row in db.scalars(query)}
    return [by_key[row.id] for row in rows]


def _result(row: BenchSession, reduction: Reduction) -> Result:
    visit = row.job_head
    return Result(
        session_id=row.id,
        head_id=visit.head_id,
        job=visit.job.number,
        tag=visit.tag,
        customer=visit.job.customer.name,
        engine_type=visit.head.engine_type.title,
        side=row.side,
        stage=stage_to_rank(row),
        casting_state=visit.casting_state,
        cylinder=row.cylinder,
        purpose=visit.job.purpose.value,
        tested=tested(row),
        valve_diameter=row.head_diameter.si,
        valve_count=row.valve_count,
        setup=setup(row),
        lifts=tuple(reduction.lifts.tolist()),
        depths=tuple(reduction.lift_over_diameter.tolist()),
        areas=tuple(reduction.effective_area.tolist()),
        mean_area=row.mean_area,
        peak_area=row.peak_area,
        peak_coefficient=float(reduction.cd_head.max()),
        low_lift_coefficient=low_lift_coefficient(reduction),
        set_up=reduction.test.set_up,
    )
