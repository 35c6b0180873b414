"""Message shown when a user clocks on to a step."""

from __future__ import annotations

from shopflow.models import Operation, TimeSpent
from shopflow.texts import gettext


def in_hand(step: Operation, before: TimeSpent | None) -> str:
    """Confirm that a step is assigned to the user, and name the step that was stopped for it."""
    assigned = gettext("Assigned to you: {kind}.", kind=step.kind.name)
    if before is None:
        return assigned
    other = before.operation
    return gettext(
        "{assigned} Your time stopped: {kind}, {job_head}.",
        assigned=assigned,
        kind=other.kind.name,
        job_head=other.job_head.tag,
    )
