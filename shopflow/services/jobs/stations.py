"""A job as a line of stations, from booking in to handing over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from shopflow.models import CLOSED_STATES, Job, JobState
from shopflow.texts import gettext, ngettext


class Progress(StrEnum):
    """Progress of a job at a station."""

    DONE = "done"
    HERE = "here"
    AHEAD = "ahead"


@dataclass(frozen=True, slots=True)
class Station:
    """A station of a job's way through the shop."""

    name: str
    progress: Progress
    detail: str = ""
    at: datetime | None = None
    """Moment it was passed, where that is on record."""


_REACHED = {
    JobState.BOOKED_IN: 1,
    JobState.QUOTED: 1,
    JobState.APPROVED: 2,
    JobState.IN_WORK: 2,
    JobState.READY: 4,
    JobState.COLLECTED: 5,
    JobState.SHIPPED: 5,
}
"""Number of stations behind a job in each state; a cancelled one stays where it was."""


def of_job(job: Job) -> list[Station]:
    """Stations of a job, in order; the first that is not passed is where it stands.

    The shop's own development has none.
    """
    if job.is_development:
        return []
    steps = [step for visit in job.heads for step in visit.operations if step.counts]
    done = sum(not step.is_open for step in steps)
    passed = _passed(job, is_worked=bool(steps) and done == len(steps))
    left = gettext("Shipped") if job.state is JobState.SHIPPED else gettext("Handed over")
    stations = (
        (gettext("Booked in"), "", job.booked_in_at),
        (gettext("Approval"), _approval(job), job.approved_at),
        (gettext("Work"), _work(done, len(steps)), None),
        (gettext("Ready"), "", None),
        (left, "", job.closed_at if job.state in CLOSED_STATES else None),
    )
    return [
        Station(name, _progress(index, passed, job), detail, at)
        for index, (name, detail, at) in enumerate(stations)
    ]


def _passed(job: Job, *, is_worked: bool) -> int:
    if job.state is JobState.CANCELLED:
        return 2 if job.approved_at else 1
    reached = _REACHED[job.state]
    return 3 if reached == 2 and is_worked else reached


def _progress(index: int, passed: int, job: Job) -> Progress:
    if index < passed:
        return Progress.DONE
    is_here = index == passed and job.state is not JobState.CANCELLED
    return Progress.HERE if is_here else Progress.AHEAD


def _approval(job: Job) -> str:
    if job.approved_at is not None:
        return ""
    return gettext("quoted") if job.state is JobState.QUOTED else ""


def _work(done: int, steps: int) -> str:
    if not steps:
        return gettext("no steps")
    return ngettext("{done} of {num} step", "{done} of {num} steps", steps, done=done)
