"""Work at a vendor: sent with a hold on its head, and back with the cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Job, JobLine, LineKind, OutsideWork, WaitFor
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.parts import suppliers
from shopflow.services.routing import holds
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

SPECIFICATION: fields.Specification = {
    "supplier_id": fields.count(),
    "sent_on": fields.day(),
    "due_on": fields.day(),
    "cost": fields.price(),
}


def get(db: Session, work_id: int) -> OutsideWork:
    """The work with this key. Raises NotFoundError."""
    row = db.get(OutsideWork, work_id)
    if row is None:
        raise NotFoundError(gettext("this work does not exist"))
    return row


def of_job(db: Session, job: Job) -> list[OutsideWork]:
    """Work of a job that was sent out, in the order it was."""
    query = (
        select(OutsideWork)
        .join(OutsideWork.line)
        .where(JobLine.job_id == job.id)
        .order_by(OutsideWork.id)
        .options(selectinload(OutsideWork.supplier), selectinload(OutsideWork.line))
    )
    return list(db.scalars(query))


def still_out(db: Session) -> list[OutsideWork]:
    """All work that is at a vendor now, what is due first."""
    query = (
        select(OutsideWork)
        .where(OutsideWork.back_on.is_(None))
        .order_by(OutsideWork.due_on.is_(None), OutsideWork.due_on, OutsideWork.id)
        .options(
            selectinload(OutsideWork.supplier),
            selectinload(OutsideWork.line).selectinload(JobLine.job),
        )
    )
    return list(db.scalars(query))


def to_send(job: Job, sent: Sequence[OutsideWork]) -> list[JobLine]:
    """Lines of outside work that were not sent out yet."""
    sent_lines = {row.job_line_id for row in sent}
    return [
        line for line in job.lines
        if line.kind is LineKind.OUTSIDE_WORK and line.counts and line.id not in sent_lines
    ]  # fmt: skip


def send(db: Session, by: Actor, line: JobLine, values: Mapping[str, Any]) -> OutsideWork:
    """Send the work of a line to a vendor; its head is on hold until it is back.

    Raises ValidationError; RuleError where the job is closed or it is out already.
    """
    if line.kind is not LineKind.OUTSIDE_WORK or not line.counts or not line.job.is_open:
        raise RuleError(gettext("only outside work of an open job is sent out"))
    out = select(OutsideWork.id).where(
        OutsideWork.job_line_id == line.id, OutsideWork.back_on.is_(None)
    )
    if db.scalar(out) is not None:
        raise RuleError(gettext("this work is out already"))
    clean = _read(by, db, {"sent_on": None, **values})
    supplier = suppliers.chosen(db, clean.pop("supplier_id", None))
    if supplier is None:
        raise ValidationError([FieldError("supplier_id", gettext("choose a vendor"))])
    row = OutsideWork(line=line, supplier=supplier, **clean)
    if line.job_head is not None:
        row.hold = holds.begin(
            db, by, line.job_head,
            {"wait_for": WaitFor.OUTSIDE, "what": f"{line.description}, {supplier.name}"[:200],
             "since": row.sent_on, "expected_on": row.due_on},
        )  # fmt: skip
    db.add(row)
    audit_log.record(db, by, row, "sent", job=line.job, note=_in_log(row))
    return row


def bring_back(db: Session, by: Actor, row: OutsideWork, values: Mapping[str, Any]) -> OutsideWork:
    """Say that work is back, with its cost; its hold ends. Raises ValidationError, RuleError."""
    if row.back_on is not None:
        raise RuleError(gettext("this work is back already"))
    clean = fields.read({"back_on": fields.day(), "cost": fields.price()}, values)
    back_on = clean.get("back_on") or _today(by, db)
    faults = []
    if back_on < row.sent_on:
        faults.append(
            FieldError("back_on", gettext("this is before it was sent: enter a later date"))
        )
    if back_on > _today(by, db):
        faults.append(
            FieldError("back_on", gettext("this is in the future: enter today or an earlier date"))
        )
    if faults:
        raise ValidationError(faults)
    changes = {**clean, "back_on": back_on}
    job = row.line.job
    audit_log.change(db, by, row, changes, job=job, verb="brought back", note=_in_log(row))
    if row.hold is not None and not row.hold.is_over:
        holds.end(db, by, row.hold)
    return row


def _read(by: Actor, db: Session, values: Mapping[str, Any]) -> dict[str, Any]:
    clean = fields.read(SPECIFICATION, values)
    today = _today(by, db)
    sent_on = clean["sent_on"] = clean.get("sent_on") or today
    faults = []
    if sent_on > today:
        faults.append(
            FieldError("sent_on", gettext("this is in the future: enter today or an earlier date"))
        )
    if clean.get("due_on") and clean["due_on"] < sent_on:
        faults.append(
            FieldError("due_on", gettext("this is before it was sent: enter a later date"))
        )
    if faults:
        raise ValidationError(faults)
    return clean


def _today(by: Actor, db: Session) -> date:
    return by.at.astimezone(zone(get_shop(db))).date()


def _in_log(row: OutsideWork) -> str:
    return f"{row.line.description}, {row.supplier.name}"
