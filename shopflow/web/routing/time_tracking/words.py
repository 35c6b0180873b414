"""What is said when someone's time begins to run on a step."""

from __future__ import annotations

from shopflow.models import Operation, TimeSpent


def in_hand(step: Operation, before: TimeSpent | None) -> str:
    """That a step is in one's hands, and what was stopped for it."""
    said = f"{step.kind.name} is assigned to you."
    if before is None:
        return said
    other = before.operation
    return f"{said} Your time on {other.kind.name}, {other.job_head.tag}, is stopped."
