"""Jobs with their heads and steps, and where their money stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow import models
from shopflow.services.billing import balances
from shopflow.web.api.bearer import sees_money
from shopflow.web.api.shapes.money import Money
from shopflow.web.api.shapes.quantity import Quantity
from shopflow.web.db import db


@dataclass(frozen=True)
class Operation:
    """A step of a head's routing."""

    id: int
    position: int
    kind: str
    name: str
    state: models.OperationState
    instructions: str
    customer_text: str
    planned_minutes: int
    actual_minutes: int | None
    price: Decimal | None
    started_at: datetime | None
    signed_off_at: datetime | None
    signed_off_by: str | None

    @classmethod
    def of(cls, row: models.Operation) -> Operation:
        """A planned or finished step."""
        return cls(
            id=row.id,
            position=row.position,
            kind=row.kind.code,
            name=row.kind.name,
            state=row.state,
            instructions=row.instructions,
            customer_text=row.customer_text,
            planned_minutes=row.planned_minutes,
            actual_minutes=row.actual_minutes,
            price=row.price if sees_money() else None,
            started_at=row.started_at,
            signed_off_at=row.signed_off_at,
            signed_off_by=row.signed_off_by.name if row.signed_off_by else None,
        )


@dataclass(frozen=True)
class JobLine:
    """A part, outside work, freight, fee, discount or text of a job."""

    id: int
    position: int
    kind: models.LineKind
    state: models.LineState
    head: str
    """Tag of its head; empty where it is for the whole job."""

    description: str
    part_number: str
    quantity: Decimal
    unit: str
    unit_price: Decimal | None
    percent: Decimal | None
    discount_of: models.DiscountOf
    tax_class: models.TaxClass
    price: Decimal | None
    """Before tax, below zero for a discount; null where it is not priced or in per cent."""

    @classmethod
    def of(cls, row: models.JobLine) -> JobLine:
        """A line of a job."""
        return cls(
            id=row.id,
            position=row.position,
            kind=row.kind,
            state=row.state,
            head=row.tag,
            description=row.description,
            part_number=row.part_number,
            quantity=row.quantity,
            unit=row.unit,
            unit_price=row.unit_price if sees_money() else None,
            percent=row.percent if sees_money() else None,
            discount_of=row.discount_of,
            tax_class=row.tax_class,
            price=row.price if sees_money() else None,
        )


@dataclass(frozen=True)
class Stay:
    """A head on a job, with its operations in order."""

    tag: str
    head_id: int
    engine_id: int
    casting_number: str
    serial: str
    casting_state: str
    condition: str
    parts_received: str
    operations: list[Operation]
    session_ids: list[int]

    @classmethod
    def of(cls, row: models.Visit) -> Stay:
        """A head's visit."""
        return cls(
            tag=row.tag,
            head_id=row.head_id,
            engine_id=row.head.engine_type_id,
            casting_number=row.head.casting_number,
            serial=row.head.serial,
            casting_state=row.casting_state.value,
            condition=row.condition,
            parts_received=row.parts_received,
            operations=[Operation.of(step) for step in row.operations],
            session_ids=[session.id for session in row.sessions],
        )


@dataclass(frozen=True)
class Job:
    """A customer's order of work; its money and prices are null to a token that may not see it."""

    id: int
    number: str
    earlier_number: str | None
    customer_id: int
    state: models.JobState
    priority: int
    booked_in_at: datetime
    promised_on: date | None
    closed_at: datetime | None
    purpose: models.Purpose
    induction: models.Induction
    boost: Quantity | None
    asked_for: str
    notes: str
    order_number: str
    """The customer's own number of the order."""

    approved_at: datetime | None
    money: Money | None
    heads: list[Stay]
    lines: list[JobLine]

    @classmethod
    def of(cls, row: models.Job) -> Job:
        """A job with its heads, and where its money stands."""
        return cls(
            id=row.id,
            number=row.number,
            earlier_number=row.earlier_number,
            customer_id=row.customer_id,
            state=row.state,
            priority=row.priority,
            booked_in_at=row.booked_in_at,
            promised_on=row.promised_on,
            closed_at=row.closed_at,
            purpose=row.purpose,
            induction=row.induction,
            boost=Quantity.of(row.boost),
            asked_for=row.asked_for,
            notes=row.notes,
            order_number=row.order_number,
            approved_at=row.approved_at,
            money=Money.of(balances.of_job(db(), row)) if sees_money() else None,
            heads=[Stay.of(visit) for visit in row.heads],
            lines=[JobLine.of(line) for line in row.lines],
        )
