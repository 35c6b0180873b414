"""A past job as the start of a new one: its steps, the lifts it was tested at, what it reached."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.models import BenchSession, Job, Visit
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem

LIKE_JOB = lazy("Like job {number}.")
CARRIED = ("purpose", "induction", "fuel", "boost", "rev_limit_rpm", "intake_lift", "exhaust_lift")
"""Facts of a job that another like it begins with."""


@dataclass(frozen=True)
class Like:
    """Fields that a new job copies from a past one."""

    tag: str
    """The past head whose steps are taken over."""

    engine_type_id: int
    job: Mapping[str, Any]
    """Fields of the new job, the lifts and what to reach among what is asked for."""


def like(db: Session, number: str) -> Like:
    """Copy from a past job what a new one like it begins with. Raises NotFoundError."""
    past = jobs.get(db, number)
    system = unit_system(get_shop(db))
    # What that job itself took over from an earlier one is not said twice.
    begins = str(LIKE_JOB).partition("{")[0]
    own = past.asked_for.partition(f"\n{begins}")[0].strip()
    lines = [own, str(LIKE_JOB).format(number=past.number)]
    lines += [line for side in ("intake", "exhaust") for line in _side(past, side, system)]
    carried = {name: getattr(past, name) for name in CARRIED}
    carried["asked_for"] = "\n".join(line for line in lines if line)
    first = past.heads[0]
    return Like(first.tag, first.head.engine_type_id, carried)


def steps_in_words(visit: Visit) -> str:
    """The steps a head went through, in order, as "Tear down, Hot-wash, Cut seats"."""
    return ", ".join(step.kind.name for step in visit.operations if step.counts)


def _side(job: Job, side: str, system: UnitSystem) -> Iterator[str]:
    """The best last test of a side: its lifts, and the flows to reach."""
    tests = [last for visit in job.heads if (last := _last(visit.sessions, side)) is not None]
    if not tests:
        return
    best = max(tests, key=lambda row: row.mean_area)
    mean, peak = (flow_shown(area, side) for area in (best.mean_area, best.peak_area))
    lifts = ", ".join(str(lift.lift_typed) for lift in best.lifts)
    yield gettext(
        "{side}: test at lifts {lifts} {unit}. To reach over them: mean {mean}, peak {peak}, at 28 "
        "inH₂O in air of {density} kg/m³.",
        side=translated(side).capitalize(),
        lifts=lifts,
        unit=best.lift_unit,
        mean=system.text(mean, "flow"),
        peak=system.text(peak, "flow"),
        density=STANDARD_DENSITY,
    )


def _last(rows: Sequence[BenchSession], side: str) -> BenchSession | None:
    of_side = [row for row in rows if row.side == side]
    return of_side[-1] if of_side else None
