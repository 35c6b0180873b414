"""Holds that end by themselves once every part of their head is here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Hold, Visit, WaitFor
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.routing import holds
from shopflow.texts import gettext

if TYPE_CHECKING:
    from shopflow.services.parts.needs import Need


def begin(db: Session, by: Actor, visit: Visit, needs: Sequence[Need]) -> Hold:
    """Put a head on hold until its parts are here. Raises RuleError where none is missing, or it
    waits for them already."""
    missing = [need.line for need in needs if need.line.tag == visit.tag and need.is_missing]
    if not missing:
        raise RuleError(gettext("every part of this head is here"))
    if any(wait.ends_with_parts for wait in holds.still(visit)):
        raise RuleError(gettext("this head waits for its parts already"))
    what = ", ".join(f"{line.quantity} {line.description}" for line in missing)
    shortened = what if len(what) <= MOST else f"{what[: MOST - 1]}…"
    hold = holds.begin(db, by, visit, {"wait_for": WaitFor.PARTS, "what": shortened})
    audit_log.change(db, by, hold, {"ends_with_parts": True}, job=visit.job)
    return hold


MOST = 200
"""Characters of what a hold waits for."""


def end_where_all_here(db: Session, by: Actor, needs: Sequence[Need]) -> list[Hold]:
    """End the holds of heads that waited for parts of a job, and miss none any more."""
    missing = {need.line.tag for need in needs if need.is_missing}
    ended = []
    visits = {need.line.job_head for need in needs if need.line.job_head is not None}
    for visit in sorted(visits, key=lambda visit: visit.id):
        for hold in holds.still(visit):
            if hold.ends_with_parts and visit.tag not in missing:
                ended.append(holds.end(db, by, hold))
    return ended
