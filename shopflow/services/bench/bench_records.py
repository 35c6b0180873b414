"""Records of a bench's range, so that nobody types statistics into a flow test."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from math import sqrt

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.calc.repeatability import Repeatability, pooled_repeatability
from shopflow.models import BenchRange, BenchSession, Calibration, SessionLift
from shopflow.services.bench import bench_checks, leak_checks, leak_tests, sessions
from shopflow.texts import gettext
from shopflow.units import UnitError, parse

USUAL_PRESSURE = "28 inH2O"
"""Test pressure of a flow test that starts from nothing."""

MOST_TESTS = 40
"""Latest tests of a range that its repeatability is learned from."""


@dataclass
class BenchRecord:
    """Defaults of a new test on a range, by the keys of the session file, with their sources."""

    bench: dict[str, str] = field(default_factory=dict)
    uncertainty: dict[str, str] = field(default_factory=dict)
    sources: list[str] = field(default_factory=list)
    """Source of each value, in words."""


def of_range(
    db: Session,
    bench_range: BenchRange,
    test_pressure: str = USUAL_PRESSURE,
    day: date | None = None,
) -> BenchRecord:
    """The record of a range; what it does not know is left unknown.

    `test_pressure` is what the leakage is wanted at, as typed; the checks of a day, where one is
    named, go before what is older.
    """
    record = BenchRecord()
    _add_leakage(record, bench_range, test_pressure)
    if day is not None:
        _add_day(db, record, bench_range, day)
    if bench_range.division is not None:
        record.uncertainty["resolution"] = bench_range.division.text
        record.sources.append(
            gettext(
                "Scale division {division}: from the record of range {bench_range}.",
                division=bench_range.division,
                bench_range=bench_range.name,
            )
        )
    if bench_range.gauge_mark:
        record.bench["gauge_id"] = bench_range.gauge_mark
    if bench_range.gauge_accuracy is not None:
        accuracy = bench_range.gauge_accuracy
        standard = _percent(accuracy.si / sqrt(3.0))
        record.uncertainty["pressure"] = standard
        numbers = {"standard": standard, "accuracy": accuracy}
        record.sources.append(
            gettext(
                "Test pressure {standard}: the ± {accuracy} on the certificate of gauge {gauge}, "
                "divided by √3 (any error within it is as likely).",
                **numbers,
                gauge=bench_range.gauge_mark,
            )
            if bench_range.gauge_mark
            else gettext(
                "Test pressure {standard}: the ± {accuracy} on the certificate of the gauge, "
                "divided by √3 (any error within it is as likely).",
                **numbers,
            )
        )
    learned = learned_repeatability(db, bench_range)
    if learned is not None:
        stated = _percent(learned.as_known)
        record.uncertainty["repeatability"] = stated
        record.sources.append(
            gettext(
                "One reading {stated}: learned from the last {tests} tests of this range "
                "with repeats ({relative} with {freedom} degrees of freedom, widened by "
                "Student's t).",
                stated=stated,
                tests=learned.tests,
                relative=_percent(learned.relative),
                freedom=learned.freedom,
            )
        )
    return record


def _add_leakage(record: BenchRecord, bench_range: BenchRange, test_pressure: str) -> None:
    """The leakage at a pressure, from the latest leak test; a pressure that cannot be read gives
    none."""
    if not bench_range.leak_tests:
        return
    try:
        pressure = parse(test_pressure, "pressure")
    except UnitError:
        return
    if pressure.si > 0.0:
        bench, standard, source = leak_tests.offered(bench_range.leak_tests[-1], pressure)
        record.bench |= bench
        record.uncertainty["leakage"] = standard
        record.sources.append(source)


def _add_day(db: Session, record: BenchRecord, bench_range: BenchRange, day: date) -> None:
    """Leakage of a day's leak check; scatter of plate checks where one was made that day."""
    leak = leak_checks.of_day(db, bench_range, day)
    if leak is not None:
        bench, standard, source = leak_checks.offered(leak)
        record.bench |= bench
        record.sources = [source]
        if standard:
            record.uncertainty["leakage"] = standard
    scatter = bench_checks.day_to_day(db, bench_range, day)
    if scatter is not None:
        stated = _percent(scatter.deviation)
        record.uncertainty["day"] = stated
        record.sources.append(
            gettext(
                "Bench on the day {stated}: the scatter of {count} checks on {plate} since the "
                "calibration, today's among them.",
                stated=stated,
                count=scatter.count,
                plate=scatter.plate,
            )
        )


def learned_repeatability(db: Session, bench_range: BenchRange) -> Repeatability | None:
    """A range's repeatability from its own history; None where that says too little."""
    query = (
        select(BenchSession)
        .join(Calibration, BenchSession.calibration_id == Calibration.id)
        .where(Calibration.bench_range_id == bench_range.id, BenchSession.counts)
        .order_by(BenchSession.entered_at.desc(), BenchSession.id.desc())
        .limit(MOST_TESTS)
        .options(selectinload(BenchSession.lifts).selectinload(SessionLift.readings))
    )
    return pooled_repeatability(sessions.document(row).flow_test() for row in db.scalars(query))


def _percent(ratio: float) -> str:
    """A ratio in percent with three digits, as a session file has it."""
    return f"{float(f'{100.0 * ratio:.3g}'):.10g} %"
