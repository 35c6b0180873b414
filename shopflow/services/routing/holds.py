"""Holds: recording, changing and ending them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Hold, Visit, WaitFor
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.routing import time_tracking
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext


def _since(value: Any) -> date:
    day: date | None = fields.day()(value)
    if day is None:
        raise ValueError(gettext("required: enter a value"))
    return day


SPECIFICATION: fields.Specification = {
    "wait_for": fields.one_of(WaitFor),
    "what": fields.text(required=True),
    "since": _since,
    "expected_on": fields.day(),
}


def get(db: Session, wait_id: int) -> Hold:
    """The hold with this key. Raises NotFoundError."""
    hold = db.get(Hold, wait_id)
    if hold is None:
        raise NotFoundError(gettext("this hold does not exist"))
    return hold


def begin(db: Session, by: Actor, visit: Visit, values: Mapping[str, Any]) -> Hold:
    """Put a head on hold, from today where not said; for the customer, clock
    everyone off it. Raises ValidationError, RuleError.

    Every fault is at `wait_for`, `what`, `since` or `expected_on`.
    """
    if not visit.job.is_open:
        raise RuleError(
            gettext(
                "job {job} is {state}: its heads wait no more",
                job=visit.job.number,
                state=visit.job.state,
            )
        )
    today = by.at.astimezone(zone(get_shop(db))).date()
    clean = fields.require(SPECIFICATION, {"since": today, **values}, "wait_for", "what")
    _in_order(clean, today)
    wait = Hold(job_head=visit, written_by_id=by.person_id, **clean)
    db.add(wait)
    audit_log.record(db, by, wait, "begun", job=visit.job, note=f"{visit.tag}: {describe(wait)}")
    if wait.wait_for is WaitFor.CUSTOMER:
        time_tracking.end_all_on(db, by, visit)
    return wait


def change(db: Session, by: Actor, wait: Hold, values: Mapping[str, Any]) -> Hold:
    """Change what is written of a wait, as the day it is expected. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    today = by.at.astimezone(zone(get_shop(db))).date()
    on_file = {"since": wait.since, "expected_on": wait.expected_on}
    _in_order({**on_file, **clean}, today)
    audit_log.change(db, by, wait, clean, job=wait.job_head.job)
    return wait


def end(db: Session, by: Actor, wait: Hold) -> Hold:
    """Say that what was waited for is there. Raises RuleError where it was said already."""
    if wait.is_over:
        raise RuleError(gettext("this hold has ended already"))
    wait.ended_at = by.at
    visit = wait.job_head
    audit_log.record(db, by, wait, "over", job=visit.job, note=f"{visit.tag}: {describe(wait)}")
    return wait


def still(visit: Visit) -> list[Hold]:
    """Holds of a head that have not ended, the longest first."""
    return [wait for wait in visit.waits if not wait.is_over]


def describe(wait: Hold) -> str:
    """Describe a hold, as "waiting for parts: 8 exhaust valves"."""
    return gettext("waiting for {wait_for}: {what}", wait_for=wait.wait_for, what=wait.what)


def _in_order(values: Mapping[str, Any], today: date) -> None:
    faults = []
    if values["since"] > today:
        faults.append(
            FieldError("since", gettext("this is in the future: enter today or an earlier date"))
        )
    if values.get("expected_on") and values["expected_on"] < values["since"]:
        faults.append(
            FieldError(
                "expected_on", gettext("the expected date is before the start: enter a later date")
            )
        )
    if faults:
        raise ValidationError(faults)
