"""Swirl and tumble tests of a head: what a meter read at each lift, beside a flow test."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from math import pi
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc import swirl
from shopflow.calc.reduction import Reduction
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    BenchSession,
    CertificateSession,
    Rotation,
    SwirlMeterKind,
    SwirlMotion,
    SwirlTest,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.texts import gettext, translated
from shopflow.units import to_si, units_of

UNITS = (*units_of("torque"), *units_of("speed of rotation"))
"""Units a meter reads in."""

MOST_LINES = 200

SPECIFICATION: fields.Specification = {
    "session_id": fields.count(required=True),
    "motion": fields.one_of(SwirlMotion),
    "meter_kind": fields.one_of(SwirlMeterKind),
    "meter": fields.text(),
    "bore": fields.quantity("length", required=True, above=0.0),
    "adapter": fields.text(),
    "rotation": fields.one_of(Rotation),
    "pressure": fields.quantity("pressure", above=0.0),
    "reading_unit": fields.among(*UNITS),
    "efficiency": fields.decimal(),
    "efficiency_uncertainty": fields.decimal(),
    "division": fields.decimal(),
    "notes": fields.words(),
}


def of_visit(db: Session, visit: Visit) -> list[SwirlTest]:
    """Every swirl and tumble test of a head on a job that counts, the latest first."""
    counted = {row.id for row in visit.sessions}
    query = select(SwirlTest).where(SwirlTest.session_id.in_(counted)).order_by(SwirlTest.id.desc())
    return list(db.scalars(query))


def testable(visit: Visit) -> list[BenchSession]:
    """A head's flow tests of intakes: what leaves through an exhaust has no use for swirl."""
    return [row for row in visit.sessions if row.side == "intake"]


def of_sessions(db: Session, tests: list[BenchSession]) -> list[SwirlTest]:
    """Those beside these flow tests, in their order and then by entry."""
    order = [row.id for row in tests]
    query = select(SwirlTest).where(SwirlTest.session_id.in_(order))
    return sorted(db.scalars(query), key=lambda row: (order.index(row.session_id), row.id))


def latest(db: Session) -> SwirlTest | None:
    """The shop's latest test; None before the first."""
    return db.scalar(select(SwirlTest).order_by(SwirlTest.id.desc()).limit(1))


def get(db: Session, key: int) -> SwirlTest:
    """The test with this key. Raises NotFoundError."""
    row = db.get(SwirlTest, key)
    if row is None:
        raise NotFoundError(gettext("this swirl or tumble test does not exist"))
    return row


def add(db: Session, by: Actor, visit: Visit, values: Mapping[str, Any]) -> SwirlTest:
    """Save a test as typed, with `readings` a line each: lift, then reading.

    Raises ValidationError.
    """
    typed = dict(values)
    readings = str(typed.pop("readings", None) or "")
    clean = fields.require(SPECIFICATION, typed, *SPECIFICATION)
    key = clean.pop("session_id")
    test = next((row for row in testable(visit) if row.id == key), None)
    if test is None:
        raise ValidationError(
            [FieldError("session_id", gettext("choose a flow test of an intake of this head"))]
        )
    row = SwirlTest(
        session=test, readings=read(readings), entered_at=by.at, person_id=by.person_id, **clean
    )
    faults = list(_faults(row))
    if faults:
        raise ValidationError(faults)
    db.add(row)
    db.flush()
    audit_log.record(db, by, row, "added", job=visit.job, note=translated(row.motion))
    return row


def discard(db: Session, by: Actor, row: SwirlTest) -> None:
    """Discard a test that was entered by mistake; the log keeps that it was there.

    Raises RuleError where a certificate was issued for its flow test.
    """
    stated = select(CertificateSession).where(CertificateSession.session_id == row.session_id)
    if db.scalar(stated.limit(1)) is not None:
        raise RuleError(
            gettext("a certificate states this flow test with its swirl: it cannot be discarded")
        )
    job = row.session.job_head.job
    audit_log.record(db, by, row, "discarded", job=job, note=translated(row.motion))
    db.delete(row)
    db.flush()


def read(text: str) -> list[list[str]]:
    """Lifts and readings of a text, by lift. Raises ValidationError at `readings`."""
    lines = [line.replace(";", " ").split() for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_LINES:
        raise _at_readings(gettext("enter at most {count} lines", count=MOST_LINES))
    rows: list[tuple[Decimal, Decimal]] = []
    for number, cells in enumerate(lines, start=1):
        if len(cells) != 2:
            raise _at_readings(
                gettext(
                    "line {line}: enter a lift and a reading with a space between; there are "
                    "{count} numbers",
                    line=number,
                    count=len(cells),
                )
            )
        lift, reading = (_number(cell, number) for cell in cells)
        if lift <= 0:
            raise _at_readings(gettext("line {line}: enter a lift above 0", line=number))
        rows.append((lift, reading))
    if len({lift for lift, _ in rows}) < 2:
        raise _at_readings(gettext("enter readings at two lifts or more, a line each"))
    rows.sort(key=lambda row: row[0])
    return [[str(lift), str(reading)] for lift, reading in rows]


def lifts_typed(row: SwirlTest) -> list[str]:
    """Each lift once, as typed."""
    return list({Decimal(lift): lift for lift, _ in reversed(row.readings)}.values())[::-1]


def in_si(row: SwirlTest, flow: Reduction | None = None) -> swirl.SwirlTest:
    """The test in SI beside its flow test."""
    flow = flow or sessions.reduction(row.session)
    scale = to_si(1.0, row.reading_unit)
    if row.meter_kind is SwirlMeterKind.VANE:
        scale *= 2.0 * pi
    runs: dict[float, list[float]] = {}
    for lift, reading in row.readings:
        si = to_si(float(lift), row.session.lift_unit)
        runs.setdefault(si, []).append(scale * float(reading))
    uncertainty = row.efficiency_uncertainty
    meter = swirl.SwirlMeter(
        is_torque=row.meter_kind is SwirlMeterKind.TORQUE,
        bore=row.bore.si,
        efficiency=None if row.efficiency is None else float(row.efficiency),
        efficiency_uncertainty=None if uncertainty is None else float(uncertainty) / 200.0,
        division=None if row.division is None else scale * float(row.division),
        key=" ".join(row.meter.split()).casefold() or None,
    )
    pressure = flow.test.test_pressure if row.pressure is None else row.pressure.si
    return swirl.SwirlTest.of(flow, meter, runs, pressure)


def _faults(row: SwirlTest) -> Iterator[FieldError]:
    """Faults of a test that cannot be calculated with."""
    is_torque = row.meter_kind is SwirlMeterKind.TORQUE
    fitting = units_of("torque" if is_torque else "speed of rotation")
    if row.reading_unit not in fitting:
        message = gettext("this meter reads in {units}", units=", ".join(fitting))
        yield FieldError("reading_unit", message)
    if not 0.02 <= row.bore.si <= 0.5:
        yield FieldError("bore", gettext("enter 20 mm to 500 mm"))
    if row.efficiency is not None and not Decimal("0.05") <= row.efficiency <= Decimal("1.2"):
        yield FieldError("efficiency", gettext("enter 0.05 to 1.2, for example 0.85"))
    if row.efficiency is None and row.efficiency_uncertainty is not None:
        yield FieldError("efficiency", gettext("enter the efficiency that is uncertain"))
    if (row.efficiency_uncertainty or 0) > 100:
        yield FieldError("efficiency_uncertainty", gettext("enter 0 to 100 %"))
    if row.pressure is not None and row.pressure.si >= row.session.barometer.si:
        yield FieldError("pressure", gettext("enter less than the barometer"))
    yield from _untested(row)
    if not any(float(reading) for _, reading in row.readings):
        yield FieldError("readings", gettext("every reading is 0: nothing turns"))


def _untested(row: SwirlTest) -> Iterator[FieldError]:
    lifts = row.session.lifts
    first, last = Decimal(lifts[0].lift_typed), Decimal(lifts[-1].lift_typed)
    for lift, _ in row.readings:
        if not first <= Decimal(lift) <= last:
            message = gettext(
                "the flow test has no lift of {lift} {unit}: enter {first} to {last}",
                lift=lift,
                unit=row.session.lift_unit,
                first=first,
                last=last,
            )
            yield FieldError("readings", message)
            return


def _number(cell: str, line: int) -> Decimal:
    """A number of a line. Raises ValidationError."""
    try:
        value = Decimal(cell.replace(",", ".").replace("−", "-"))
    except InvalidOperation:
        value = Decimal("NaN")
    if not (value.is_finite() and abs(value) <= 1_000_000 and len(cell) <= 20):
        raise _at_readings(gettext("line {line}: '{cell}' is no number", line=line, cell=cell[:20]))
    return value


def _at_readings(message: str) -> ValidationError:
    return ValidationError([FieldError("readings", message)])
