"""Sets of steps that a head's plan will show together, or that are planned by themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select, type_coerce
from sqlalchemy.orm import Session

from shopflow.models import BenchSession, Operation, OperationKind, Visit, steps_key
from shopflow.models.base import UtcDateTime
from shopflow.texts import listed

FLOW_TEST = "flow-test"
"""Code of the step that a plan tests a head by."""


@dataclass(frozen=True)
class Work:
    """Kinds of step done between two tests, in the order of the plan."""

    kinds: tuple[OperationKind, ...]

    @property
    def steps(self) -> str:
        """Key of the set."""
        return steps_key({kind.id for kind in self.kinds})

    @property
    def name(self) -> str:
        """The steps in words."""
        return listed([kind.name for kind in self.kinds])


def of_visits(db: Session, visits: Sequence[Visit]) -> dict[int, list[Work]]:
    """Each planned step that cuts metal by itself, and the sets between two planned tests, by the
    key of the visit: at most one statement for all."""
    cutting = [visit for visit in visits if any(map(_is_planned_cut, visit.operations))]
    tested = last_tested(db, cutting)
    works: dict[int, list[Work]] = {visit.id: [] for visit in visits}
    return works | {visit.id: _of_visit(visit, tested.get(visit.id)) for visit in cutting}


def last_tested(db: Session, visits: Sequence[Visit]) -> dict[int, datetime]:
    """Time of each head's last flow test on these visits, where it has one."""
    if not visits:
        return {}
    tested = func.max(func.coalesce(BenchSession.measured_at, BenchSession.entered_at))
    rows = db.execute(
        select(BenchSession.job_head_id, type_coerce(tested, UtcDateTime).label("tested"))
        .where(BenchSession.counts, BenchSession.job_head_id.in_([visit.id for visit in visits]))
        .group_by(BenchSession.job_head_id)
    )
    return {row.job_head_id: row.tested for row in rows}


def _is_planned_cut(step: Operation) -> bool:
    return step.is_open and step.kind.cuts_metal


def _of_visit(visit: Visit, last: datetime | None) -> list[Work]:
    works: dict[str, Work] = {}
    for group in _groups(visit, last):
        for step in group:
            if step.is_open:
                single = Work((step.kind,))
                works.setdefault(single.steps, single)
        together = Work(tuple(dict.fromkeys(step.kind for step in group)))
        if any(step.is_open for step in group):
            works.setdefault(together.steps, together)
    return list(works.values())


def _groups(visit: Visit, last: datetime | None) -> Iterator[list[Operation]]:
    """Steps that cut metal and are not tested yet, divided by the tests planned."""
    group: list[Operation] = []
    for step in visit.operations:
        if step.is_open and step.kind.code == FLOW_TEST:
            yield group
            group = []
        elif step.kind.cuts_metal and (step.is_open or _is_untested(step, last)):
            group.append(step)
    yield group


def _is_untested(step: Operation, last: datetime | None) -> bool:
    """True where a step was done after the last test."""
    done = step.signed_off_at if step.is_done else None
    return done is not None and last is not None and done > last
