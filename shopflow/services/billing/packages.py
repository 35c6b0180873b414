"""Packages: several steps and parts of a work plan template at a price of their own.

The package is a line of the job with the price; what it includes costs nothing by itself, and is
approved, declined and removed with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import JobLine, LineKind, LineState, Operation, OperationState, Routing, Visit
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.billing import job_lines
from shopflow.texts import gettext


def begin(db: Session, by: Actor, visit: Visit, routing: Routing) -> JobLine | None:
    """Add the line of a template's package to a head; none where it has no price of its own."""
    if routing.package_price is None or visit.job.is_development:
        return None
    values = {
        "description": routing.name,
        "unit_price": routing.package_price,
        "tax_class": routing.tax_class,
        "head": visit.tag,
    }
    return job_lines.add(db, by, visit.job, LineKind.PACKAGE, values)


def include(package: JobLine, steps: Sequence[Operation]) -> None:
    """Put steps just planned into a package."""
    for step in steps:
        step.package = package
        step.price = Decimal(0)
        step.customer_text = step.customer_text or gettext(
            "included in {package}", package=package.description
        )


def add_parts(
    db: Session, by: Actor, visit: Visit, routing: Routing, package: JobLine | None
) -> list[JobLine]:
    """Add a template's parts to a head, at no price of their own where they are in a package."""
    lines = []
    for part in () if visit.job.is_development else routing.parts:
        price = part.unit_price if package is None else Decimal(0)
        values = {
            "description": part.description,
            "part_number": part.part_number,
            "quantity": part.quantity,
            "unit": part.unit,
            "unit_price": price,
            "head": visit.tag,
        }
        line = job_lines.add(db, by, visit.job, LineKind.PART, values)
        line.package = package
        lines.append(line)
    return lines


def remove(db: Session, by: Actor, package: JobLine) -> None:
    """Remove a package with its parts; its steps stay planned, and are not priced any more.

    Raises RuleError where one of its steps is begun, and as `job_lines.remove`.
    """
    steps = db.scalars(select(Operation).where(Operation.package_id == package.id)).all()
    if any(step.state is not OperationState.PLANNED for step in steps):
        raise RuleError(gettext("a step of this package is begun: it cannot be removed"))
    job = package.job
    job_lines.remove(db, by, package)
    for line in job.lines:
        if line.package_id == package.id:
            audit_log.change(db, by, line, {"state": LineState.REMOVED}, job=job, verb="removed")
    for step in steps:
        step.package = None
        audit_log.change(db, by, step, {"price": None}, job=job)
