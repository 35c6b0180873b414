"""The states a job's page offers to take it to."""

from __future__ import annotations

from shopflow.models import Job, JobState

MOVES: dict[JobState, tuple[tuple[JobState, str], ...]] = {
    JobState.BOOKED_IN: ((JobState.QUOTED, "Quote given"),),
    JobState.QUOTED: ((JobState.BOOKED_IN, "Quote withdrawn"),),
    JobState.APPROVED: ((JobState.READY, "Ready for the customer"),),
    JobState.IN_WORK: ((JobState.READY, "Ready for the customer"),),
    JobState.READY: ((JobState.IN_WORK, "Back to work"),),
    JobState.COLLECTED: ((JobState.READY, "Not collected after all"),),
    JobState.SHIPPED: ((JobState.READY, "Not shipped after all"),),
}
"""From each state, what may follow and the words on its button; the usual one first."""


def words_for(job: Job) -> tuple[tuple[JobState, str], ...]:
    """What may follow a job's state, with the words for it."""
    return MOVES.get(job.state, ())


def awaits_approval(job: Job) -> bool:
    """Whether the next thing a job needs is the customer's word."""
    return job.is_open and job.approved_at is None
