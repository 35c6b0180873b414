"""The bench cards of a job's heads: lifts and valve sizes as far as they are known."""

from __future__ import annotations

from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow.documents.bench_card import BenchCard, BenchHead, ValveSizes
from shopflow.models import BenchSession, Job, Visit
from shopflow.services.paperwork import facts
from shopflow.texts import lazy
from shopflow.units import Quantity

SIZES = (
    (lazy("Valve head diameter"), "head_diameter"),
    (lazy("Stem diameter"), "stem_diameter"),
    (lazy("Throat diameter"), "throat_diameter"),
    (lazy("Seat angle"), "seat_angle"),
    (lazy("Seat width"), "seat_width"),
)
"""Sizes on a card, with the test's own name for each."""

STEPS = {"in": 0.050, "mm": 1.0}
"""From lift to lift where a head was never tested, in the unit the lift is stated in."""


def bench_card(db: Session, job: Job) -> BenchCard:
    """A job's bench cards as things stand."""
    return BenchCard(
        shop=facts.letterhead(db),
        display=facts.display(db),
        job=facts.job_facts(db, job),
        customer=facts.party(job),
        heads=tuple(_head(db, visit) for visit in job.heads),
        printed_at=datetime.now(UTC),
    )


def _head(db: Session, visit: Visit) -> BenchHead:
    last = {row.side: row for row in visit.sessions}
    intake, exhaust = last.get("intake"), last.get("exhaust")
    return BenchHead(
        head=facts.identity(visit),
        lifts=_tested(intake or exhaust) or _planned(visit.job),
        sizes=tuple(
            ValveSizes(name, _size(intake, key), _size(exhaust, key)) for name, key in SIZES
        ),
        url=facts.job_address(db, visit.job),
    )


def _size(row: BenchSession | None, key: str) -> str:
    size: Quantity | None = getattr(row, key) if row is not None else None
    return size.text if size is not None else ""


def _tested(row: BenchSession | None) -> tuple[str, ...]:
    """The lifts of the last test."""
    return tuple(f"{lift.lift_typed} {row.lift_unit}" for lift in row.lifts) if row else ()


def _planned(job: Job) -> tuple[str, ...]:
    """Even steps up to the greater lift the engine will see; none where it is not known."""
    stated = [lift for lift in (job.intake_lift, job.exhaust_lift) if lift is not None]
    if not stated:
        return ()
    greatest = max(stated, key=lambda lift: lift.si)
    step = STEPS.get(greatest.unit)
    if step is None:
        return ()
    count = int(float(greatest.number) / step + 1e-9)
    places = 3 if greatest.unit == "in" else 1
    return tuple(f"{step * number:.{places}f} {greatest.unit}" for number in range(1, count + 1))
