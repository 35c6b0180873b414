"""What the programming interface answers with: plain data, each field with its meaning.

The description that programs read is made from these: see `schema`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow import camfile, models, testfile, units
from shopflow.calc.reduction import Point
from shopflow.services.bench import sessions
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.billing import balances
from shopflow.services.billing.balances import Balance
from shopflow.services.engine import cams
from shopflow.services.planning.floor import FloorRow
from shopflow.services.registry import heads
from shopflow.web.db import db


@dataclass(frozen=True)
class Quantity:
    """As typed with its unit, and in SI units."""

    typed: str
    si: float

    @classmethod
    def of(cls, found: units.Quantity | None) -> Quantity | None:
        """A quantity, or none."""
        return None if found is None else cls(found.text, found.si)


@dataclass(frozen=True)
class Contact:
    """Someone to ask for at a customer's."""

    name: str
    role: str
    phone: str
    email: str


@dataclass(frozen=True)
class Customer:
    """A person or firm."""

    id: int
    name: str
    is_firm: bool
    email: str
    phone: str
    address: str
    notes: str
    created_at: datetime
    contacts: list[Contact]

    @classmethod
    def of(cls, row: models.Customer) -> Customer:
        """A customer on file."""
        return cls(
            id=row.id,
            name=row.name,
            is_firm=row.is_firm,
            email=row.email,
            phone=row.phone,
            address=row.address,
            notes=row.notes,
            created_at=row.created_at,
            contacts=[Contact(one.name, one.role, one.phone, one.email) for one in row.contacts],
        )


@dataclass(frozen=True)
class Engine:
    """An engine type."""

    id: int
    builder: str
    family: str
    aliases: list[str]
    displacement: Quantity | None
    bore: Quantity | None
    stroke: Quantity | None
    cylinders: int
    valves_per_cylinder: int
    cooling: models.Cooling
    fuel: str
    notes: str

    @classmethod
    def of(cls, row: models.EngineType) -> Engine:
        """An engine type on file."""
        return cls(
            id=row.id,
            builder=row.builder,
            family=row.family,
            aliases=[alias.name for alias in row.aliases],
            displacement=Quantity.of(row.displacement),
            bore=Quantity.of(row.bore),
            stroke=Quantity.of(row.stroke),
            cylinders=row.cylinders,
            valves_per_cylinder=row.valves_per_cylinder,
            cooling=row.cooling,
            fuel=row.fuel,
            notes=row.notes,
        )


@dataclass(frozen=True)
class Head:
    """A casting, its owner, and the tags of its stays."""

    id: int
    engine_id: int
    customer_id: int | None
    casting_number: str
    serial: str
    material: str
    ports: str
    chamber: str
    notes: str
    tags: list[str]

    @classmethod
    def of(cls, row: models.Head) -> Head:
        """A head on file."""
        owner = heads.owner(row)
        return cls(
            id=row.id,
            engine_id=row.engine_type_id,
            customer_id=owner.id if owner else None,
            casting_number=row.casting_number,
            serial=row.serial,
            material=row.material,
            ports=row.ports,
            chamber=row.chamber,
            notes=row.notes,
            tags=[visit.tag for visit in row.visits],
        )


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
            price=row.price,
            started_at=row.started_at,
            signed_off_at=row.signed_off_at,
            signed_off_by=row.signed_off_by.name if row.signed_off_by else None,
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
        """A head's stay."""
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
class Money:
    """Where a job's money stands; amounts with tax, in the shop's currency."""

    invoiced: Decimal
    credited: Decimal
    received: Decimal
    balance: Decimal
    approved_not_invoiced: Decimal
    not_approved: Decimal
    left_to_pay: Decimal

    @classmethod
    def of(cls, balance: Balance) -> Money:
        """The balance every page shows."""
        return cls(
            invoiced=balance.invoiced,
            credited=balance.credited,
            received=balance.received,
            balance=balance.balance,
            approved_not_invoiced=balance.approved.total,
            not_approved=balance.unapproved.total,
            left_to_pay=balance.left,
        )


@dataclass(frozen=True)
class Job:
    """A customer's order of work."""

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
    approved_at: datetime | None
    money: Money
    heads: list[Stay]

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
            approved_at=row.approved_at,
            money=Money.of(balances.of_job(db(), row)),
            heads=[Stay.of(visit) for visit in row.heads],
        )


@dataclass(frozen=True)
class SessionSummary:
    """A flow test; areas in m2, and as flows in m3/s at 28 inH2O in air of 1.204 kg/m3.

    One with `withdrawn_at` counts nowhere; `replaced_by` is the test that corrects it.
    """

    id: int
    tag: str
    side: str
    cylinder: str
    stage: str
    title: str
    measured_at: datetime | None
    mean_effective_area: float
    peak_effective_area: float
    mean_flow: float
    peak_flow: float
    gain_over_first: float | None
    withdrawn_at: datetime | None
    withdrawal_reason: str
    replaced_by: int | None

    @classmethod
    def of(cls, row: models.BenchSession) -> SessionSummary:
        """A test's kept summary."""
        return cls(
            id=row.id,
            tag=row.job_head.tag,
            side=row.side,
            cylinder=row.cylinder,
            stage=row.stage,
            title=row.title,
            measured_at=row.measured_at,
            mean_effective_area=row.mean_area,
            peak_effective_area=row.peak_area,
            mean_flow=flow_shown(row.mean_area, row.side),
            peak_flow=flow_shown(row.peak_area, row.side),
            gain_over_first=row.gain_over_first,
            withdrawn_at=row.withdrawn_at,
            withdrawal_reason=row.withdrawal_reason,
            replaced_by=row.replaced_by_id,
        )


@dataclass(frozen=True)
class Session:
    """A flow test with its figures in SI at its own reference pressure, and its file as typed."""

    summary: SessionSummary
    air_density: float
    mean_flow: float
    points: list[Point]
    file: str

    @classmethod
    def of(cls, row: models.BenchSession) -> Session:
        """A test, worked out from its readings."""
        document = sessions.document(row)
        found = sessions.reduction(row)
        return cls(
            summary=SessionSummary.of(row),
            air_density=found.air_density,
            mean_flow=found.mean_flow,
            points=list(found.points),
            file=testfile.dumps(document),
        )


@dataclass(frozen=True)
class Cam:
    """A cam of an engine type or of a job; its lobes stand in its file."""

    id: int
    engine_id: int | None
    job: str | None
    name: str
    notes: str
    archived_at: datetime | None
    bore: Quantity
    stroke: Quantity
    speed: Quantity
    file: str

    @classmethod
    def of(cls, row: models.Cam) -> Cam:
        """A saved cam."""
        return cls(
            id=row.id,
            engine_id=row.engine_type_id,
            job=row.job.number if row.job else None,
            name=row.name,
            notes=row.notes,
            archived_at=row.archived_at,
            bore=Quantity(row.bore.text, row.bore.si),
            stroke=Quantity(row.stroke.text, row.stroke.si),
            speed=Quantity(row.speed.text, row.speed.si),
            file=camfile.dumps(cams.document(row)),
        )


@dataclass(frozen=True)
class Certificate:
    """An issued certificate; its PDF lies under its own address."""

    id: int
    number: str
    revision: int
    revision_reason: str
    job: str
    issued_at: datetime
    issued_by: str
    sha256: str
    withdrawn_at: datetime | None
    withdrawal_reason: str

    @classmethod
    def of(cls, row: models.Certificate) -> Certificate:
        """A certificate as issued."""
        return cls(
            id=row.id,
            number=row.number,
            revision=row.revision,
            revision_reason=row.revision_reason,
            job=row.job.number,
            issued_at=row.issued_at,
            issued_by=row.issued_by.name,
            sha256=row.sha256,
            withdrawn_at=row.withdrawn_at,
            withdrawal_reason=row.withdrawal_reason,
        )


@dataclass(frozen=True)
class FloorHead:
    """An open head, and where it stands."""

    tag: str
    job: str
    customer_id: int
    engine: str
    where: str
    promised_on: date | None
    is_late: bool
    at_risk: bool

    @classmethod
    def of(cls, row: FloorRow) -> FloorHead:
        """A row of the floor."""
        return cls(
            tag=row.head.tag,
            job=row.head.job,
            customer_id=row.head.customer_id,
            engine=row.head.engine_type,
            where=row.where,
            promised_on=row.head.promised_on,
            is_late=row.is_late,
            at_risk=row.at_risk,
        )


@dataclass(frozen=True)
class Floor:
    """Every open head: late ones, those at risk, then the rest, each as promised."""

    items: list[FloorHead]
