"""Heads alike on one job, as the pair of a V engine: one step or work plan for all of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import Operation, Routing, Visit
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.routing import operations

SHARED = ("instructions", "customer_text", "planned_minutes", "price")
"""Fields of a step that its likes on the other heads share; notes are of one head's work."""


def of(visit: Visit) -> list[Visit]:
    """The heads of its engine type on its job, itself first; it alone where no other is like it."""
    own = visit.head.engine_type_id
    others = [row for row in visit.job.heads if row is not visit and row.head.engine_type_id == own]
    return [visit, *others]


def add(
    db: Session,
    by: Actor,
    visits: Sequence[Visit],
    kind_id: int,
    values: Mapping[str, Any],
    *,
    is_extra: bool = False,
) -> list[Operation]:
    """Add a step to each of these heads. Raises ValidationError, RuleError."""
    return [operations.add(db, by, visit, kind_id, values, is_extra=is_extra) for visit in visits]


def add_routing(
    db: Session, by: Actor, visits: Sequence[Visit], routing: Routing
) -> list[Operation]:
    """Add every step of a work plan template to each of these heads. Raises RuleError."""
    return [step for visit in visits for step in operations.add_routing(db, by, visit, routing)]


def add_like(db: Session, by: Actor, visits: Sequence[Visit], past: Visit) -> list[Operation]:
    """Add the plan of another head to each of these. Raises RuleError."""
    # Read before anything is added, since the other head may be among these.
    plan = operations.steps_to_copy(past)
    return [step for visit in visits for step in operations.add_steps(db, by, visit, plan)]


def likes(step: Operation) -> list[Operation]:
    """The same step of the other heads alike: of the same kind, and as manieth of it.

    A step that is closed is left out: what was done or skipped stays as it was agreed.
    """
    own = _of_kind(step.job_head, step)
    index = own.index(step)
    alike = [_of_kind(visit, step) for visit in of(step.job_head)[1:]]
    return [steps[index] for steps in alike if index < len(steps) and steps[index].is_open]


def change(db: Session, by: Actor, step: Operation, values: Mapping[str, Any]) -> list[Operation]:
    """Change a step, and of its likes on the other heads the shared fields that this changes.

    Gives the likes changed. Raises ValidationError.
    """
    clean = fields.read(operations.SPECIFICATION, values)
    changed = {
        name: clean[name] for name in SHARED if name in clean and clean[name] != getattr(step, name)
    }
    operations.change(db, by, step, values)
    others = likes(step) if changed else []
    for other in others:
        operations.change(db, by, other, changed)
    return others


def _of_kind(visit: Visit, step: Operation) -> list[Operation]:
    """Steps of a head of the same kind as this one, in order; repeats of one are no likes."""
    return [
        row
        for row in visit.operations
        if row.kind_id == step.kind_id and bool(row.again_because) == bool(step.again_because)
    ]
