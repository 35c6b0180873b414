"""Message shown when a user clocks on to a step."""

from __future__ import annotations

from shopflow.models import Operation, TimeSpent


def in_hand(step: Operation, before: TimeSpent | None) -> str:
    """Confirm that a step is assigned to the user, and name the step that was stopped for it."""
    assigned = f"{step.kind.name} is assigned to you."
    if before is None:
        return assigned
    other = before.operation
    return f"{assigned} Your time on {other.kind.name}, {other.job_head.tag}, is stopped."
