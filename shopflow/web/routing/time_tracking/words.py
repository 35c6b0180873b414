"""What is said when someone's time begins to run on a step."""

from __future__ import annotations

from shopflow.models import Operation, TimeSpent
from shopflow.texts import gettext


def in_hand(step: Operation, before: TimeSpent | None) -> str:
    """That a step is in one's hands, and what was stopped for it."""
    said = gettext("{kind} is assigned to you.", kind=step.kind.name)
    if before is None:
        return said
    other = before.operation
    return gettext(
        "{said} Your time on {kind}, {job_head}, is stopped.",
        said=said,
        kind=other.kind.name,
        job_head=other.job_head.tag,
    )
