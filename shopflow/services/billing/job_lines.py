"""Lines of a job beside its steps: adding, changing and removing them."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    Approval,
    ApprovalLine,
    DiscountOf,
    Job,
    JobLine,
    LineKind,
    LineState,
    StockMovement,
    TaxClass,
    Visit,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing.balances import INVOICED_LINES
from shopflow.texts import gettext, translated

LARGEST_QUANTITY = Decimal(100_000)


def _quantity(value: Any) -> Decimal:
    number = fields.decimal(places=3)(value)
    if number is None:
        return Decimal(1)
    if not 0 < number <= LARGEST_QUANTITY:
        raise ValueError(
            gettext(
                "'{value}' is out of range: enter a number above 0, up to {most}",
                value=value,
                most=LARGEST_QUANTITY,
            )
        )
    return Decimal(f"{number:f}")


def _percent(value: Any) -> Decimal | None:
    number = fields.decimal(places=2)(value)
    if number is not None and not 0 < number <= 100:
        raise ValueError(gettext("'{value}' is out of range: enter 0.01 to 100", value=value))
    return None if number is None else Decimal(f"{number:f}")


SPECIFICATION: fields.Specification = {
    "description": fields.text(required=True),
    "part_number": fields.text(),
    "quantity": _quantity,
    "unit": fields.text(most=20),
    "unit_price": fields.price(),
    "percent": _percent,
    "discount_of": fields.one_of(DiscountOf),
    "tax_class": fields.one_of(TaxClass),
    "head": fields.text(),
}
COUNTED = ("description", "quantity", "unit", "unit_price", "tax_class", "head")
FIELDS: dict[LineKind, tuple[str, ...]] = {
    LineKind.PART: ("part_number", *COUNTED),
    LineKind.OUTSIDE_WORK: COUNTED,
    LineKind.FREIGHT: COUNTED,
    LineKind.FEE: COUNTED,
    LineKind.DISCOUNT: (
        "description", "percent", "discount_of", "unit_price", "tax_class", "head",
    ),
    LineKind.TEXT: ("description", "head"),
    LineKind.PACKAGE: ("description", "unit_price", "tax_class"),
}  # fmt: skip
"""Fields of each kind of line; `head` is the tag of its head, empty for the whole job."""


def get(db: Session, line_id: int) -> JobLine:
    """The line with this key. Raises NotFoundError."""
    line = db.get(JobLine, line_id)
    if line is None:
        raise NotFoundError(gettext("this line does not exist"))
    return line


def add(db: Session, by: Actor, job: Job, kind: LineKind, values: Mapping[str, Any]) -> JobLine:
    """Add a line to a job; on a job approved already the customer has to approve it too.

    Raises ValidationError, RuleError where the job is closed.
    """
    _must_be_open(job)
    clean = _read(job, kind, {"description": "", **values})
    line = JobLine(
        job=job,
        kind=kind,
        position=next_position(job),
        added_at=by.at,
        **clean,
    )
    _must_be_stated(line)
    db.add(line)
    audit_log.record(db, by, line, "added", job=job, note=_in_log(line))
    return line


def next_position(job: Job) -> int:
    """The position after a job's last line."""
    return max((line.position for line in job.lines), default=0) + 1


def change(db: Session, by: Actor, line: JobLine, values: Mapping[str, Any]) -> JobLine:
    """Change a line; one that costs more than was approved waits for another approval.

    Raises ValidationError; RuleError where it is invoiced, declined or removed, the job is closed,
    or an approved discount would be lowered.
    """
    _may_change(db, line)
    clean = _read(line.job, line.kind, values)
    before = _worth(line)
    is_promised = line.is_discount and _is_approved(db, line)
    audit_log.change(db, by, line, clean, job=line.job, note=_in_log(line))
    _must_be_stated(line)
    if is_promised and not _is_as_good(before, _worth(line)):
        raise RuleError(
            gettext("the customer approved this discount: it can be raised, not lowered or moved")
        )
    return line


def remove(db: Session, by: Actor, line: JobLine) -> JobLine:
    """Take a line off a job; quotes that offered it still name it.

    Raises RuleError where it is invoiced, declined or removed, the job is closed, or it is a
    discount that the customer approved.
    """
    _may_change(db, line)
    if line.is_discount and _is_approved(db, line):
        raise RuleError(gettext("the customer approved this discount: it cannot be removed"))
    if db.scalar(
        select(func.sum(StockMovement.change)).where(StockMovement.job_line_id == line.id)
    ):
        raise RuleError(gettext("this part is fitted: put it back in stock first"))
    changes = {"state": LineState.REMOVED}
    audit_log.change(db, by, line, changes, job=line.job, verb="removed", note=_in_log(line))
    return line


def is_invoiced(db: Session, line: JobLine) -> bool:
    """True where a line is on an invoice that stands."""
    return db.scalar(INVOICED_LINES.where(_on(line)).limit(1)) is not None


def _on(line: JobLine) -> Any:
    return INVOICED_LINES.selected_columns[0] == line.id


def _must_be_open(job: Job) -> None:
    if not job.is_open or job.is_development:
        raise RuleError(
            gettext("job {job} is {state}: no line can be changed", job=job.number,
                    state=translated(job.state))
        )  # fmt: skip


def _may_change(db: Session, line: JobLine) -> None:
    _must_be_open(line.job)
    if line.package is not None and line.package.counts:
        raise RuleError(
            gettext("this part is in package {package}: remove that", package=line.package.title)
        )
    if line.kind is LineKind.DEPOSIT:
        raise RuleError(gettext("a deposit is on an invoice: issue a credit note for it"))
    if not line.counts:
        raise RuleError(
            gettext("this line is {state}: add another one", state=translated(line.state))
        )
    if is_invoiced(db, line):
        raise RuleError(gettext("this line is on an invoice: issue a credit note first"))


def _read(job: Job, kind: LineKind, values: Mapping[str, Any]) -> dict[str, Any]:
    names = (*FIELDS[kind], "head") if kind is LineKind.PACKAGE else FIELDS[kind]
    of_kind = {name: SPECIFICATION[name] for name in names}
    clean = fields.read(of_kind, {name: values[name] for name in values if name in of_kind})
    if "head" in clean:
        clean["job_head"] = _visit(job, clean.pop("head"))
    return clean


def _visit(job: Job, tag: str) -> Visit | None:
    visit = next((visit for visit in job.heads if visit.tag == tag), None)
    if tag and visit is None:
        raise ValidationError(
            [FieldError("head", gettext("'{tag}' is not on this job: choose a head", tag=tag))]
        )
    return visit


def _must_be_stated(line: JobLine) -> None:
    """Refuse a discount that is neither a sum nor per cent, or both."""
    if line.is_discount and (line.percent is None) == (line.unit_price is None):
        raise ValidationError(
            [FieldError("percent", gettext("enter a percentage or an amount, not both"))]
        )


def _is_approved(db: Session, line: JobLine) -> bool:
    approved = (
        exists(ApprovalLine)
        .where(ApprovalLine.job_line_id == line.id, ApprovalLine.declined.is_(False))
        .where(Approval.id == ApprovalLine.approval_id)
    )
    return bool(db.scalar(select(approved)))


_Worth = tuple[Decimal | None, Decimal | None, DiscountOf, int | None]


def _worth(line: JobLine) -> _Worth:
    """Size of a discount, and the charges it is taken of."""
    head = line.job_head.id if line.job_head else None
    return line.percent, line.unit_price, line.discount_of, head


def _is_as_good(before: _Worth, after: _Worth) -> bool:
    """True where a discount takes off as much as before, or more, of the same charges."""
    same = before[2:] == after[2:]
    return same and all(
        (old is None) == (new is None) and (new or 0) >= (old or 0)
        for old, new in zip(before[:2], after[:2], strict=True)
    )


def _in_log(line: JobLine) -> str:
    kind = translated(line.kind)
    return f"{kind}: {line.description}, {line.tag}" if line.tag else f"{kind}: {line.description}"
