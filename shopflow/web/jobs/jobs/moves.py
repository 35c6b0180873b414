"""The states a job's page offers to take it to."""

from __future__ import annotations

from shopflow.models import Job, JobState
from shopflow.services.jobs.jobs import FOLLOWS
from shopflow.texts import lazy

WORDS: dict[tuple[JobState, JobState], str] = {
    (JobState.QUOTED, JobState.BOOKED_IN): lazy("Withdraw quote"),
    (JobState.APPROVED, JobState.READY): lazy("Mark ready"),
    (JobState.IN_WORK, JobState.READY): lazy("Mark ready"),
    (JobState.READY, JobState.IN_WORK): lazy("Reopen work"),
    (JobState.COLLECTED, JobState.READY): lazy("Undo collection"),
    (JobState.SHIPPED, JobState.READY): lazy("Undo shipping"),
}
"""The words on the button from one state to another; approving and starting have their own."""


def words_for(job: Job) -> tuple[tuple[JobState, str], ...]:
    """States that may follow a job's own, each with its label."""
    following = [(state, WORDS.get((job.state, state), "")) for state in FOLLOWS[job.state]]
    return tuple((state, str(words)) for state, words in following if words)
