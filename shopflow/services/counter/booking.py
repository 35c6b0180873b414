"""Booking heads in: customer, engine type, heads and job in one go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, ValidationError
from shopflow.models import Customer, EngineType, Job, Routing, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import payments
from shopflow.services.jobs import jobs, received_parts, warranty
from shopflow.services.numbering import next_number
from shopflow.services.registry import (
    casting_status,
    castings,
    customers,
    engine_types,
    heads,
)
from shopflow.services.routing import operations
from shopflow.services.shop.settings import get_shop, zone
from shopflow.spreadsheet import letters
from shopflow.texts import gettext

MOST_HEADS = 16


@dataclass(frozen=True)
class BookIn:
    """Everything said at the counter. A customer, engine type or head is known by its key, or new.

    `customer` and `engine_type` are fields of new ones; each of `heads` is a head's and its
    visit's fields, with `head_id` where the casting has been here before.
    """

    heads: Sequence[Mapping[str, Any]]
    customer_id: int | None = None
    customer: Mapping[str, Any] = field(default_factory=dict)
    engine_type_id: int | None = None
    engine_type: Mapping[str, Any] = field(default_factory=dict)
    routing_id: int | None = None
    like_tag: str = ""
    """Tag of a past head whose steps are planned again, where no routing is given."""

    job: Mapping[str, Any] = field(default_factory=dict)
    deposit: Mapping[str, Any] = field(default_factory=dict)
    """A payment's fields, where money is left at the counter."""

    returns: str = ""
    """Number of the job this one returns from under warranty; `warranty` says why."""

    warranty: Mapping[str, Any] = field(default_factory=dict)
    is_past: bool = False
    """True where the heads left long ago: what became of their castings since stays."""


def book_in(db: Session, by: Actor, form: BookIn) -> Job:
    """Log a job with its heads in.

    Raises ValidationError with every fault of the form, keyed as "customer-name",
    "heads-0-serial" and so on.
    """
    shop = get_shop(db)
    if not 1 <= len(form.heads) <= MOST_HEADS:
        raise ValidationError(
            [FieldError("heads", gettext("from one to {most_heads} heads", most_heads=MOST_HEADS))]
        )
    customer, engine_type, values = _checked(db, by, form)
    year = by.at.astimezone(zone(shop)).year
    job = Job(
        number=numbered(year, next_number(db, "job", year)),
        customer=customer,
        booked_in_at=by.at,
        **values,
    )
    db.add(job)
    audit_log.record(db, by, job, "booked in", job=job)
    routing = db.get(Routing, form.routing_id) if form.routing_id else None
    past = jobs.visit(db, form.like_tag) if form.like_tag else None
    faults: list[FieldError] = []
    for position, head_values in enumerate(form.heads):
        with _under(f"heads-{position}", faults):
            visit = add_head(db, by, job, engine_type, head_values, is_past=form.is_past)
            if routing is not None:
                operations.add_routing(db, by, visit, routing)
            elif past is not None:
                operations.add_like(db, by, visit, past)
    if form.deposit:
        with _under("deposit", faults):
            payments.record(db, by, job, {**form.deposit, "is_deposit": True})
    if form.returns:
        with _under("warranty", faults):
            warranty.tie(db, by, job, jobs.get(db, form.returns), form.warranty)
    if faults:
        raise ValidationError(faults)
    return job


def numbered(year: int, number: int) -> str:
    """The number of a job, by its place among a year's."""
    return f"{year}-{number:04d}"


def tag_of(number: str, position: int) -> str:
    """The tag of a job's head, by its place on the job from 1 on."""
    return f"{number}-{letters(position)}"


def add_head(
    db: Session,
    by: Actor,
    job: Job,
    engine_type: EngineType,
    values: Mapping[str, Any],
    *,
    is_past: bool = False,
) -> Visit:
    """Take a head in on a job and give it its tag; on a past one its status stays as it is.

    Raises ValidationError.
    """
    rest = dict(values)
    head_id = rest.pop("head_id", None)
    stay_values = {name: rest.pop(name) for name in jobs.VISIT if name in rest}
    if head_id:
        head = heads.get(db, int(head_id))
        if not is_past:
            casting_status.put_in_use(db, by, head, job)
        heads.pass_to(db, by, head, job.customer)
        if rest:
            heads.change(db, by, head, rest)
    else:
        head = heads.create(db, by, engine_type, job.customer, rest)
    if any(visit.head is head for visit in job.heads):
        raise ValidationError([FieldError("serial", gettext("this head is on the job already"))])
    position = len(job.heads) + 1
    clean = fields.read(jobs.VISIT, stay_values)
    counted = clean.pop("parts", {})
    earlier = castings.visits_in_order(head) if head_id else []
    clean["casting_state"] = castings.arrived(clean.pop("casting_state", None), earlier)
    visit = Visit(head=head, position=position, tag=tag_of(job.number, position), **clean)
    job.heads.append(visit)
    audit_log.record(
        db, by, visit, "taken in", job=job, note=gettext("label {visit}", visit=visit.tag)
    )
    received_parts.replace(db, by, visit, counted)
    return visit


def _checked(db: Session, by: Actor, form: BookIn) -> tuple[Customer, EngineType, dict[str, Any]]:
    """Customer, engine type and the job's own fields, once no part of the form has an error."""
    faults: list[FieldError] = []
    customer = engine_type = None
    values: dict[str, Any] = {}
    with _under("customer", faults):
        customer = _customer(db, by, form)
    with _under("engine_type", faults):
        engine_type = _engine_type(db, by, form)
    with _under("job", faults):
        values = fields.read(jobs.SPECIFICATION, form.job)
    with _under("deposit", faults):
        if form.deposit:
            fields.require(payments.SPECIFICATION, form.deposit, "amount", "method")
    for position, head_values in enumerate(form.heads):
        fields_typed = {name: value for name, value in head_values.items() if name != "head_id"}
        with _under(f"heads-{position}", faults):
            fields.read({**heads.SPECIFICATION, **jobs.VISIT}, fields_typed)
    if customer is None or engine_type is None or faults:
        raise ValidationError(faults)
    return customer, engine_type, values


@contextmanager
def _under(prefix: str, faults: list[FieldError]) -> Iterator[None]:
    """Collect faults, each named with the part of the form it comes from."""
    try:
        yield
    except ValidationError as error:
        faults += [FieldError(f"{prefix}-{fault.key}", fault.message) for fault in error.faults]


def _customer(db: Session, by: Actor, form: BookIn) -> Customer:
    if form.customer_id:
        return customers.get(db, form.customer_id)
    return customers.create(db, by, form.customer)


def _engine_type(db: Session, by: Actor, form: BookIn) -> EngineType:
    if form.engine_type_id:
        return engine_types.get(db, form.engine_type_id)
    head_id = next((values["head_id"] for values in form.heads if values.get("head_id")), None)
    if head_id and not any(form.engine_type.values()):
        return heads.get(db, int(head_id)).engine_type
    return engine_types.create(db, by, form.engine_type)
