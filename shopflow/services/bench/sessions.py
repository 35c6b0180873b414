"""Bench sessions: storing them as typed, and working out their figures."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, cast
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.calc.batch_reduction import reduce_all
from shopflow.calc.comparison import Comparison
from shopflow.calc.comparison import compare as compare_reductions
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    BenchSession,
    Calibration,
    Head,
    Operation,
    Reading,
    ReadingKind,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, gain_cases, readings, set_ups
from shopflow.services.bench.summaries import Summary, summarized
from shopflow.services.measuring import plausibility
from shopflow.services.shop.settings import get_shop, zone
from shopflow.testfile import ExcludedRun, SessionDocument
from shopflow.texts import gettext

_SPECIAL = frozenset({"measured_at", "reading_kind", "lifts", "flows", "excluded", "pressures"})
COLUMNS = tuple(
    field.name for field in dataclasses.fields(SessionDocument) if field.name not in _SPECIAL
)
"""Fields that a document and a stored session have alike."""

_AT_NO_TIME: dict[str, Any] = {"measured_at_typed": "", "measured_at": None}
_NOT_YET = {"position": 0, "mean_area": 0.0, "peak_area": 0.0}
"""Summary before it is calculated."""

LONGEST_LINE = 200
LONGEST_NUMBER = 40
"""Characters that the columns hold."""


def get(db: Session, session_id: int) -> BenchSession:
    """The session with this key. Raises NotFoundError."""
    session = db.get(BenchSession, session_id)
    if session is None:
        raise NotFoundError(gettext("this flow test does not exist"))
    return session


def of_entry(db: Session, visit: Visit, key: str) -> BenchSession | None:
    """The session that an entry of this head became, or none yet."""
    chosen = select(BenchSession).where(BenchSession.entry_key == key)
    return db.scalar(chosen.where(BenchSession.job_head_id == visit.id)) if key else None


def get_reading(db: Session, reading_id: int) -> Reading:
    """The reading with this key. Raises NotFoundError."""
    reading = db.get(Reading, reading_id)
    if reading is None:
        raise NotFoundError(gettext("this reading does not exist"))
    return reading


def store(
    db: Session,
    by: Actor,
    visit: Visit,
    document: SessionDocument,
    after_operation: Operation | None = None,
    entry_key: str = "",
) -> BenchSession:
    """Store a flow test exactly as typed, with its summary. Raises ValidationError, RuleError."""
    row = add(db, by, visit, document, after_operation, entry_key)
    renew_summaries(db, visit)
    note = in_the_log(row.side, row.stage, visit.tag)
    audit_log.record(db, by, row, "tested", job=visit.job, note=note)
    return row


def add(
    db: Session,
    by: Actor,
    visit: Visit,
    document: SessionDocument,
    after_operation: Operation | None,
    entry_key: str,
) -> BenchSession:
    """Add a flow test, without its summary and unlogged.

    Raises ValidationError where something cannot be kept as typed, RuleError where the operation is
    another head's.
    """
    if after_operation is not None and after_operation.job_head_id != visit.id:
        raise RuleError(gettext("that operation is another head's"))
    wrong = plausibility.cylinder(document.cylinder, visit.head.engine_type.cylinders)
    if wrong:
        raise ValidationError([FieldError("cylinder", wrong)])
    for stored in visit.sessions:
        if same_session(stored, document):
            raise RuleError(
                gettext("this flow test is already on record for {visit}", visit=visit.tag)
            )
    row = BenchSession(
        job_head=visit,
        after_operation=after_operation,
        entry_key=entry_key or None,
        lifts=readings.rows(document),
        **_NOT_YET,
        **values(db, by, document),
    )
    db.add(row)
    return row


def values(db: Session, by: Actor, document: SessionDocument) -> dict[str, Any]:
    """Fields of a test's own row from its document, by the model's attributes.

    Raises ValidationError where something cannot be kept as typed.
    """
    faults, typed = unkept(document), document.measured_at
    if faults:
        raise ValidationError(faults)
    moment = measured(typed, zone(get_shop(db))) if typed else _AT_NO_TIME
    wrong = plausibility.test_date(moment["measured_at"], by.at) if typed else ""
    if wrong:
        raise ValidationError([FieldError("measured_at", wrong)])
    return {
        "calibration_id": _calibration(db, document),
        "entered_at": by.at,
        "entered_by_id": by.person_id,
        "reading_kind": ReadingKind(document.reading_kind),
        **moment,
        **{name: getattr(document, name) for name in COLUMNS},
    }


def measured(typed: datetime, shops: ZoneInfo) -> dict[str, Any]:
    """The columns of the moment a session was made at, in the shop's zone where none is typed.

    Raises ValidationError.
    """
    try:
        zoned = typed if typed.tzinfo else typed.replace(tzinfo=shops)
        return {"measured_at_typed": typed.isoformat(), "measured_at": zoned.astimezone(UTC)}
    except OverflowError:
        raise ValidationError(
            [FieldError("measured_at", gettext("{typed} is no time a test was made", typed=typed))]
        ) from None


def in_the_log(side: str, stage: str, tag: str) -> str:
    """Note of a test in the log."""
    return " ".join(word for word in (side, stage, tag) if word)


def same_session(row: BenchSession, other: SessionDocument) -> bool:
    """True where a stored test is this one: measured at the same moment, with the same readings."""
    if other.measured_at is None or row.measured_at_typed != other.measured_at.isoformat():
        return False
    return document(row) == other


def document(row: BenchSession) -> SessionDocument:
    """The session as its file would say it; the same document that was stored."""
    counted_lifts = [lift for lift in row.lifts if any(not run.excluded for run in lift.readings)]
    return SessionDocument(
        measured_at=datetime.fromisoformat(row.measured_at_typed)
        if row.measured_at_typed
        else None,
        reading_kind=cast(Any, row.reading_kind.value),
        lifts=tuple(lift.lift_typed for lift in counted_lifts),
        flows=tuple(
            tuple(run.flow_typed for run in lift.readings if not run.excluded)
            for lift in counted_lifts
        ),
        pressures=readings.pressures(row, counted_lifts),
        excluded=tuple(
            ExcludedRun(
                lift.lift_typed, run.run, run.flow_typed, run.excluded_because, run.pressure_typed
            )
            for lift in row.lifts
            for run in lift.readings
            if run.excluded
        ),
        **{name: getattr(row, name) for name in COLUMNS},
    )


def flow_test(row: BenchSession) -> FlowTest:
    """The session in SI, with the comparisons across unlike set-ups that are confirmed of it."""
    content = document(row)
    return dataclasses.replace(content.flow_test(), set_up=set_ups.of_test(row, content))


def reduction(row: BenchSession) -> Reduction:
    """The session's figures."""
    return reduce(flow_test(row))


def reductions(rows: Sequence[BenchSession]) -> Sequence[Reduction]:
    """The figures of many sessions, calculated together."""
    return reduce_all([flow_test(row) for row in rows])


def compare(before: BenchSession, after: BenchSession) -> Comparison:
    """One session against another."""
    return compare_reductions(reduction(before), reduction(after))


def exclude(db: Session, by: Actor, reading: Reading, reason: str) -> Reading:
    """Leave a reading out, with the reason. Raises ValidationError, RuleError."""
    clean = fields.read({"reason": fields.text(required=True)}, {"reason": reason})
    session = reading.lift.session
    used = [run for lift in session.lifts for run in lift.readings if not run.excluded]
    if used == [reading]:
        raise RuleError(gettext("this is the only reading of the test: withdraw the test instead"))
    values = {"excluded": True, "excluded_because": clean["reason"]}
    _change_reading(db, by, reading, values, "excluded")
    return reading


def include(db: Session, by: Actor, reading: Reading) -> Reading:
    """Count a reading again. Raises RuleError where no figures could be had with it."""
    session = reading.lift.session
    across = reading.pressure_si or session.test_pressure.si
    if reading.flow_si <= document(session).leakage_flow(across):
        raise RuleError(gettext("this reading is not above the leakage: it cannot be counted"))
    values = {"excluded": False, "excluded_because": ""}
    _change_reading(db, by, reading, values, "counted again")
    return reading


def renew_summaries(db: Session, visit: Visit) -> None:
    """Calculate what is stored of a head's tests again, their summaries and cases, and put them in
    order."""
    tests = _in_order(visit.sessions)
    for row, summary in _summarized(tests):
        for name, value in summary.items():
            setattr(row, name, value)
    visit.sessions.sort(key=_order)
    gain_cases.renew(db, visit, tests)


def renew_cases(db: Session, visit: Visit) -> None:
    """Calculate the cases of a head again, once what was done between its tests changed."""
    if len(visit.sessions) > 1:
        gain_cases.renew(db, visit, _in_order(visit.sessions))


def summaries(tests: Iterable[BenchSession]) -> Iterator[tuple[BenchSession, Summary]]:
    """Each of a head's tests, in order, with the summary that its readings give."""
    return _summarized(_in_order(tests))


def _in_order(tests: Iterable[BenchSession]) -> list[tuple[BenchSession, Reduction]]:
    """Each of a head's tests, in order, with its results."""
    return [(row, reduction(row)) for row in sorted(tests, key=_order)]


def _summarized(
    tests: Sequence[tuple[BenchSession, Reduction]],
) -> Iterator[tuple[BenchSession, Summary]]:
    curves = (
        ((row.side, row.cylinder), figures.curve, figures.test.set_up) for row, figures in tests
    )
    return zip((row for row, _ in tests), summarized(curves), strict=True)


def latest(db: Session, visit: Visit) -> BenchSession | None:
    """The last session of this head on any job, to carry its set-up over."""
    if visit.sessions:
        return visit.sessions[-1]
    return db.scalars(
        select(BenchSession)
        .join(BenchSession.job_head)
        .where(Visit.head_id == visit.head_id, BenchSession.counts)
        .order_by(BenchSession.id.desc())
        .limit(1)
    ).first()


def latest_of_shop(db: Session) -> BenchSession | None:
    """The test taken last of any head."""
    moment = func.coalesce(BenchSession.measured_at, BenchSession.entered_at)
    query = (
        select(BenchSession)
        .join(BenchSession.job_head)
        .join(Visit.head)
        .where(BenchSession.counts, Head.from_open_data.is_(False))
    )
    return db.scalars(query.order_by(moment.desc(), BenchSession.id.desc()).limit(1)).first()


def _order(row: BenchSession) -> tuple[int, datetime, int]:
    after = row.after_operation.position if row.after_operation else 0
    # One not flushed yet has no key; it is the newest.
    return after, row.measured_at or row.entered_at, row.id or 2**62


def _change_reading(
    db: Session, by: Actor, reading: Reading, values: dict[str, Any], verb: str
) -> None:
    if not reading.lift.session.counts:
        raise RuleError(
            gettext("this test was withdrawn: restore it before you change its readings")
        )
    visit = reading.lift.session.job_head
    audit_log.change(db, by, reading, values, job=visit.job, verb=verb)
    renew_summaries(db, visit)
    db.flush()


def _calibration(db: Session, document: SessionDocument) -> int | None:
    """Key of the shop's own calibration that the session names, where it is one."""
    bench = benches.by_name(db, document.bench_name) if document.bench_name else None
    if bench is None:
        return None
    named = [
        calibration
        for bench_range in bench.ranges
        for calibration in bench_range.calibrations
        if calibration.identifier == document.calibration_mark
    ]
    # Two ranges may carry the same mark: the one of the session's own full scale is meant.
    full_scale = document.range.si if document.range else None
    named.sort(key=lambda calibration_marked: _full_scale(calibration_marked) != full_scale)
    return named[0].id if named else None


def _full_scale(calibration: Calibration) -> float | None:
    flow = calibration.range.full_scale
    return flow.si if flow else None


def unkept(document: SessionDocument) -> list[FieldError]:
    """Faults of values that the records cannot hold as typed."""
    faults: list[FieldError] = []

    def check(key: str, text: str, most: int | None = None) -> None:
        if most is not None and len(text) > most:
            faults.append(FieldError(key, gettext("at most {most} characters", most=most)))
        if "\x00" in text:
            faults.append(FieldError(key, gettext("holds a character that cannot be stored")))

    for name in COLUMNS:
        value = getattr(document, name)
        if isinstance(value, Decimal):
            check(name, str(value), LONGEST_NUMBER)
        elif isinstance(value, tuple):
            for number in value:
                check(name, str(number), LONGEST_NUMBER)
        elif isinstance(value, str):
            check(name, value, None if name == "notes" else LONGEST_LINE)
    arrays = (*document.flows, *document.pressures)
    for number in (*document.lifts, *(typed for runs in arrays for typed in runs)):
        check("readings", str(number), LONGEST_NUMBER)
    for position, run in enumerate(document.excluded, start=1):
        check(f"excluded[{position}]", run.reason, LONGEST_LINE)
        check(f"excluded[{position}]", str(run.lift), LONGEST_NUMBER)
        check(f"excluded[{position}]", str(run.flow), LONGEST_NUMBER)
    return faults
