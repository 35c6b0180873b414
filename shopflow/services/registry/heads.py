"""Heads: knowing a casting again, its owners and its history."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.errors import NotFoundError
from shopflow.models import Customer, EngineType, Head, HeadOwner, Job, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.matching.fuzzy import bare, bare_column
from shopflow.services.registry import head_layouts
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "casting_number": fields.text(most=100),
    "serial": fields.text(most=100),
    "material": fields.text(),
    "ports": fields.text(),
    "chamber": fields.text(),
    "cylinders": fields.text(),
    "notes": fields.words(),
}


def get(db: Session, head_id: int) -> Head:
    """The head with this key. Raises NotFoundError."""
    head = db.get(Head, head_id)
    if head is None:
        raise NotFoundError(gettext("this head does not exist"))
    return head


def seen_before(db: Session, casting_number: str, serial: str) -> list[Head]:
    """Heads on record with this serial or, where none is given, this casting number.

    Spaces, hyphens and the like are left out of account.
    """
    column, wanted = Head.serial, bare(serial)
    if not wanted:
        column, wanted = Head.casting_number, bare(casting_number)
    if not wanted:
        return []
    return list(db.scalars(select(Head).where(bare_column(column) == wanted).order_by(Head.id)))


def create(
    db: Session,
    by: Actor,
    engine_type: EngineType,
    owner: Customer | None,
    values: Mapping[str, Any],
) -> Head:
    """Record a casting under its owner; none for the shop's own. Raises ValidationError."""
    head = Head(engine_type=engine_type, **_read(engine_type, values))
    head.owners = [HeadOwner(customer=owner, since=by.at)] if owner else []
    db.add(head)
    audit_log.record(db, by, head, "added")
    return head


def change(db: Session, by: Actor, head: Head, values: Mapping[str, Any]) -> Head:
    """Change what is known of a casting. Raises ValidationError."""
    audit_log.change(db, by, head, _read(head.engine_type, values))
    return head


def _read(engine_type: EngineType, values: Mapping[str, Any]) -> dict[str, Any]:
    clean = fields.read(SPECIFICATION, values)
    if "cylinders" in clean:
        clean["cylinders"] = head_layouts.read_cylinders(engine_type, clean["cylinders"])
    return clean


def pass_to(db: Session, by: Actor, head: Head, customer: Customer) -> None:
    """Record a new owner, unless the customer owns it already or a later owner is on record."""
    current = owner(head)
    # A job of the past says nothing of who owns the head now.
    if current is customer or any(term.since > by.at for term in head.owners):
        return
    end_ownership(by, head)
    head.owners.append(HeadOwner(customer=customer, since=by.at))
    before = current.name if current else ""
    audit_log.record(db, by, head, "changed owner", changes={"owner": [before, customer.name]})


def end_ownership(by: Actor, head: Head) -> None:
    """End the term of the present owner, where there is one."""
    for term in head.owners:
        if term.until is None:
            term.until = by.at


def owner(head: Head) -> Customer | None:
    """Present owner of the head."""
    return next((term.customer for term in reversed(head.owners) if term.until is None), None)


def history(db: Session, head: Head) -> list[Visit]:
    """The head's visits in the shop, latest first."""
    query = (
        select(Visit)
        .join(Visit.job)
        .where(Visit.head_id == head.id)
        .order_by(Job.booked_in_at.desc())
        .options(
            selectinload(Visit.job).selectinload(Job.customer),
            selectinload(Visit.sessions),
            selectinload(Visit.withdrawn_sessions),
            selectinload(Visit.open_tests),
        )
    )
    return list(db.scalars(query))
