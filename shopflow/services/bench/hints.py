"""Hints from the curve of a stored test, with the head's other side beside it."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.calc.hints import Hint, greatest_flow, hints
from shopflow.models import BenchSession
from shopflow.services.bench import port_surveys, sections, sessions
from shopflow.services.bench.port_geometry import setup
from shopflow.services.measuring import uncertainties


def hints_on(db: Session, row: BenchSession) -> list[Hint]:
    """Hints on a session: where one might look first, and why."""
    other = other_side(row)
    reduced = sessions.reduction(row)
    measured = [section.value.si for section in port_surveys.along_head(row)]
    area = min(measured, default=reduced.test.port_area)
    return hints(
        reduced,
        sessions.reduction(other) if other else None,
        seat_angle=setup(row).seat_angle,
        induction=row.job_head.job.induction.value,
        section=area,
        tighter=sections.port_or_valve(
            reduced, greatest_flow(reduced), area, uncertainties.usual(db)
        )
        if area is not None
        else "",
    )


def other_side(row: BenchSession) -> BenchSession | None:
    """The test of the head's other side that best matches a test.

    One that followed the same operation, else the last one before it; of the same cylinder where
    there is one.
    """
    others = [test for test in row.job_head.sessions if test.side != row.side]
    others = [test for test in others if test.cylinder == row.cylinder] or others
    same = [test for test in others if test.after_operation_id == row.after_operation_id]
    earlier = [test for test in others if test.position <= row.position]
    fitting = same or earlier
    return fitting[-1] if fitting else None
