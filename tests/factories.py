"""One maker per noun, through the services: `create_x(db, **overrides)`."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from shopflow import camfile, issuing, testfile
from shopflow.database import open_engine, session_factory, upgrade
from shopflow.files import FileStore
from shopflow.mail.sealing import Seal
from shopflow.models import (
    Approval,
    ApprovalLine,
    Bench,
    BenchSession,
    Cam,
    Certificate,
    Customer,
    EngineType,
    Fixture,
    HandOffNote,
    Head,
    IntegrityTest,
    Job,
    JobState,
    MailServer,
    Operation,
    OutgoingMail,
    Role,
    SeatProfile,
    Shop,
    SwirlTest,
    User,
    VelocityMap,
    Visit,
    Webhook,
    When,
)
from shopflow.services.accounts import users
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, fixtures, sessions, swirl_tests, velocity_maps
from shopflow.services.billing import approvals, pricing
from shopflow.services.certificates import drafts
from shopflow.services.counter import booking
from shopflow.services.engine import cams
from shopflow.services.hand_off import notes
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_tests, seat_profiles
from shopflow.services.messaging import outbox, smtp_settings
from shopflow.services.registry import customers, engine_types, head_layouts, heads
from shopflow.services.routing import operations
from shopflow.services.shop import settings
from shopflow.services.webhooks import events, hooks
from shopflow.units import SI
from shopflow.webhooks import destination
from tests.cli.sessions import INTAKE_US
from tests.unit.camfile.documents import CAM

NOW = datetime(2026, 3, 5, 15, 30, tzinfo=UTC)
BY = Actor(None, NOW)
PASSWORD = "a long enough word"
SEAL = Seal("a key for tests")

_counting = itertools.count(1)


def create_shop(db: Session, **overrides: Any) -> Shop:
    """The shop, set up."""
    values = {"name": "Falling Water Heads", "time_zone": "America/Chicago", **overrides}
    return settings.set_up(db, BY, values)


def shop_or_none(db: Session) -> Shop:
    """The shop, set up where it is not yet."""
    return settings.shop_or_none(db) or create_shop(db)


def a_new_shop(file: Path) -> None:
    """A SQLite file with the schema and the settings of a shop, nothing else."""
    engine = open_engine(f"sqlite:///{file}")
    upgrade(engine)
    with session_factory(engine).begin() as db:
        shop_or_none(db)
    engine.dispose()


def create_person(db: Session, role: Role = Role.OWNER, **overrides: Any) -> User:
    """Someone with an account, whose login is their role."""
    values = {"login": role.value, "name": f"Nila {role.value.capitalize()}", "password": PASSWORD}
    return users.create(db, BY, role=role, **{**values, **overrides})


def create_customer(db: Session, **overrides: Any) -> Customer:
    """A customer."""
    values = {"name": f"Tarn Customer {next(_counting)}", "phone": "555 0100", **overrides}
    return customers.create(db, BY, values)


def create_engine_type(db: Session, **overrides: Any) -> EngineType:
    """An engine type."""
    values = {
        "builder": "Hollin",
        "family": f"K{next(_counting)}",
        "displacement": "1792 cm3",
        "bore": "80.5 mm",
        "stroke": "88 mm",
        "cylinders": "4",
        "valves_per_cylinder": "2",
        **overrides,
    }
    return engine_types.create(db, BY, values)


def create_head(
    db: Session,
    engine_type: EngineType | None = None,
    owner: Customer | None = None,
    **overrides: Any,
) -> Head:
    """A casting on file."""
    values = {"casting_number": "HC 4417 208", "serial": f"S{next(_counting)}", **overrides}
    engine_type = engine_type or create_engine_type(db)
    return heads.create(db, BY, engine_type, owner or create_customer(db), values)


def create_job(
    db: Session,
    customer: Customer | None = None,
    engine_type: EngineType | None = None,
    head_count: int = 1,
    by: Actor = BY,
    **overrides: Any,
) -> Job:
    """A job booked in, with its heads."""
    shop_or_none(db)
    castings = [
        {"casting_number": "HC 4417 208", "serial": f"S{next(_counting)}"}
        for _ in range(head_count)
    ]
    form = booking.BookIn(
        heads=castings,
        customer_id=(customer or create_customer(db)).id,
        engine_type_id=(engine_type or create_engine_type(db)).id,
        job={"asked_for": "More flow, street manners kept", **overrides},
    )
    return booking.book_in(db, by, form)


def create_visit(db: Session, **overrides: Any) -> Visit:
    """A head's stay on a new job."""
    return create_job(db, **overrides).heads[0]


def someone(db: Session, name: str = "Odile Marsh", role: Role = Role.MACHINIST) -> Actor:
    """A person who acts in the shop and never signs in, so that no password need be hashed."""
    login = f"{name.split()[0].lower()}{next(_counting)}"
    person = User(login=login, name=name, role=role, password_hash="none", created_at=NOW)
    db.add(person)
    db.flush()
    return Actor(person, NOW)


def create_operation(
    db: Session, visit: Visit | None = None, kind: str = "flow-test", **values: Any
) -> Operation:
    """A planned step at a price, of a kind that cuts no metal unless told."""
    visit = visit or create_visit(db)
    values = {"price": "60.00", **values}
    return operations.add(db, BY, visit, operations.kind_by_code(db, kind).id, values)


def approve(
    db: Session, by: Actor, job: Job, approved_by: str = "Cal Pruitt", how: str = "telephone"
) -> Job:
    """A job approved: its work as planned, priced first; the job alone where nothing is planned."""
    for step in pricing.steps(pricing.charged(job)):
        step.price = Decimal(60) if step.price is None else step.price
    if pricing.charged(job):
        approvals.record(db, by, job, approved_by, how)
    else:
        jobs.mark_approved(db, by, job, approved_by, how)
    return job


def make_ready(db: Session, by: Actor, job: Job) -> Job:
    """A job marked ready, with a reason for each head that nothing was done on."""
    return jobs.move(db, by, job, JobState.READY, untouched_because="sold before the work")


def agree(db: Session, by: Actor, step: Operation) -> Operation:
    """A step priced and approved by itself, on a job approved before."""
    step.price = Decimal(60) if step.price is None else step.price
    line = ApprovalLine(operation_id=step.id, position=1, price=step.charge)
    values = {"approved_by": "Cal Pruitt", "approved_how": "telephone", "total": step.price}
    db.add(Approval(job=step.job_head.job, at=by.at, lines=[line], **values))
    db.flush()
    return step


def create_bench(db: Session, **overrides: Any) -> Bench:
    """A bench with one range and no calibration."""
    bench = benches.create(db, BY, {"name": f"bench {next(_counting)}", **overrides})
    full_scale = "120 cfm" if bench.reading == "percent of range" else ""
    benches.add_range(db, BY, bench, {"name": "whole scale", "full_scale": full_scale})
    return bench


def token_values(*scopes: str, bench: int | None = None) -> dict[str, Any]:
    """Values that a token is made from."""
    return {"name": "ledger", "days": "30", "scopes": list(scopes), "bench": bench}


def create_webhook(
    db: Session, by: Actor = BY, url: str = "https://office.example/shopflow", allowed: str = ""
) -> Webhook:
    """A webhook that is told of everything."""
    values = {"url": url, "events": list(events.TYPES)}
    return hooks.make(db, by, SEAL, values, destination.networks(allowed))[0]


def create_mailbox(db: Session, port: int = 2525, **overrides: Any) -> MailServer:
    """A mail server on this machine."""
    values = {
        "host": "127.0.0.1",
        "port": port,
        "security": "none",
        "sender": "counter@heads.example",
        **overrides,
    }
    return smtp_settings.save(db, BY, SEAL, values, None)


def queue_mail(
    db: Session, store: FileStore, job: Job | None = None, link: str = "", **overrides: Any
) -> OutgoingMail:
    """A message about a job, in the outbox; the mail server must be set up."""
    values = {
        "to_address": "soren@boats.example",
        "to_name": "Søren Madsby",
        "subject": "Your head",
        "body": "It is ready.",
        **overrides,
    }
    job = job or create_job(db)
    return outbox.queue(db, BY, job, values, store=store, seal=SEAL, link=link)


def create_session(
    db: Session,
    visit: Visit | None = None,
    text: str = INTAKE_US,
    by: Actor = BY,
    after: Operation | None = None,
) -> BenchSession:
    """A bench session, from a session file's text."""
    return sessions.store(db, by, visit or create_visit(db), testfile.loads(text), after)


def create_velocity_map(db: Session, row: BenchSession, **values: str) -> VelocityMap:
    """A round section of 30 mm traversed beside a flow test, the same all over."""
    typed = {
        "session_id": str(row.id),
        "lift": f"{row.lifts[-1].lift_typed} {row.lift_unit}",
        "outline": "round or oval",
        "width": "30 mm",
        "arms": "4",
        "rings": "3",
        "pressure_unit": "inH2O",
        "readings": "10\n10 10 10 10\n10 10 10 10\n10 10 10 10",
    }
    return velocity_maps.add(db, BY, row.job_head, typed | values)


def create_swirl_test(db: Session, row: BenchSession, **values: str) -> SwirlTest:
    """A torque meter of 90 mm read beside a flow test, at its first and its last lift."""
    lifts = [lift.lift_typed for lift in row.lifts]
    typed = {
        "session_id": str(row.id),
        "motion": "tumble",
        "meter_kind": "torque of a honeycomb",
        "meter": "M-1",
        "bore": "90 mm",
        "adapter": "A-86",
        "rotation": "clockwise",
        "reading_unit": "N.mm",
        "readings": f"{lifts[0]} 2.0\n{lifts[0]} 2.2\n{lifts[-1]} 31\n{lifts[-1]} 32",
        "efficiency": "0.85",
        "efficiency_uncertainty": "6",
        "division": "0.2",
    }
    return swirl_tests.add(db, BY, row.job_head, typed | values)


def create_cam(db: Session, owner: EngineType | Job | None = None, text: str = CAM) -> Cam:
    """A cam, from a cam file's text; of a new engine type unless told."""
    return cams.create(db, BY, owner or create_engine_type(db), camfile.loads(text))


SEAT: dict[str, Any] = {
    "head_diameter": "44.5 mm",
    "margin": "1.2 mm",
    "cuts": [
        {"angle": "30 deg", "width": "1 mm", "tool": "30° stone"},
        {"angle": "45 deg", "width": "1.5 mm", "outer_diameter": "43 mm", "is_contact": True},
        {"angle": "60 deg", "width": "2 mm", "blend_radius": "1 mm"},
    ],
}
"""A seat profile as typed."""


def create_seat_profile(
    db: Session, visit: Visit, side: str = "intake", when: When = When.AFTER, **values: Any
) -> SeatProfile:
    """The profile of the first seat of a side."""
    seat = seat_profiles.seat_at(visit, 1, side, 1)
    return seat_profiles.save(db, BY, visit, seat, when, {**SEAT, **values}, SI)


def write_hand_off(db: Session, by: Actor, visit: Visit) -> HandOffNote:
    """A hand-off note with one side's seat load."""
    valves = {"intake": {"base_seat_load": "90 lbf"}}
    return notes.write(db, by, visit, {"addressee": "Tarn Motors"}, valves, [])


OWN_CHECK = "Read over against the bench sheets; nobody else was in the shop."


def issue_certificate(
    db: Session,
    by: Actor,
    chosen: list[BenchSession],
    replaces: Certificate | None = None,
    sign: issuing.Sign | None = None,
    **values: Any,
) -> Certificate:
    """A certificate drafted, checked and issued by one person."""
    draft = drafts.write(db, by, chosen[0].job_head, chosen, values, replaces)
    answers = dict.fromkeys(drafts.doubts_of(db, draft), "Tested before it was booked in.")
    drafts.check(db, by, draft, OWN_CHECK, answers)
    return issuing.issue_certificate(db, by, draft, sign)


def create_planned_visit(
    db: Session,
    intake: str = "front, rear",
    exhaust: str = "front, rear",
    cylinders: str = "4",
    **layout: str,
) -> Visit:
    """A head in the shop, of an engine type whose head layout is recorded."""
    engine_type = create_engine_type(db, cylinders=cylinders)
    values = {"intake_valves": intake, "exhaust_valves": exhaust, **layout}
    set_layout(db, engine_type, cylinders_per_head=cylinders, **values)
    return create_visit(db, engine_type=engine_type)


def set_layout(db: Session, engine_type: EngineType, **layout: str) -> None:
    """Record the head layout of an engine type: one valve of each side unless told otherwise."""
    values = {
        "cylinders_per_head": "4", "intake_valves": "front", "exhaust_valves": "front",
        "intake_ports": "", "exhaust_ports": "",
    }  # fmt: skip
    head_layouts.set_layout(db, BY, engine_type, values | layout)


def record_crack(db: Session, by: Actor, step: Operation) -> IntegrityTest:
    """A crack that a step's test showed."""
    values = {"method": "dye penetrant", "result": "failed"}
    return integrity_tests.record(db, by, step, values)


def create_fixture(db: Session, kind: str = "manifold", **overrides: Any) -> Fixture:
    """A fixture of the flow bench, a manifold where nothing else is asked for."""
    return fixtures.create(db, BY, {"kind": kind, "name": f"M-{next(_counting)}", **overrides})
