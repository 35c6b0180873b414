"""Records that programs can read: customers, engines, cams, heads, jobs, flow tests, certificates,
the floor. Those that they write, money and changes have modules of their own."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import joinedload, selectinload

from shopflow import camfile, models, testfile
from shopflow.models import CLOSED_STATES, JobState
from shopflow.services.bench import sessions
from shopflow.services.certificates import issue
from shopflow.services.engine import cams
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_tests, seat_profiles
from shopflow.services.planning import floor as floors
from shopflow.services.registry import customers, engine_types, heads
from shopflow.services.shop import opening_hours
from shopflow.services.springs import records as spring_records
from shopflow.web.api import benches, changes, money, readings, shapes, writes
from shopflow.web.api.endpoint import among, key, text
from shopflow.web.api.interface import blueprint, interface
from shopflow.web.context import minute_of_day, today
from shopflow.web.db import db

__all__ = ["blueprint", "interface"]

YES_NO = ("yes", "no")
REST = (benches, changes, money, readings, writes)
"""The other modules with addresses, which are declared as they are imported."""


@interface.page("/customers", "Customers", shapes.Customer, text("name", "Part of the name."))
def list_customers(arguments: dict[str, Any]) -> Select[Any]:
    """Customers."""
    query = select(models.Customer).options(selectinload(models.Customer.contacts))
    if "name" in arguments:
        like = customers.contains(arguments["name"])
        query = query.where(models.Customer.name.ilike(like, escape="\\"))
    return query


@interface.record("/customers/<int:customer_id>", "A customer", shapes.Customer)
def customer(customer_id: int) -> shapes.Customer:
    """A customer."""
    return shapes.Customer.of(customers.get(db(), customer_id))


@interface.page("/engines", "Engine types", shapes.Engine, text("builder", "The whole builder."))
def list_engines(arguments: dict[str, Any]) -> Select[Any]:
    """Engine types."""
    query = select(models.EngineType)
    if "builder" in arguments:
        query = query.where(models.EngineType.builder == arguments["builder"])
    return query


@interface.record("/engines/<int:engine_id>", "An engine type", shapes.Engine)
def engine(engine_id: int) -> shapes.Engine:
    """An engine type."""
    return shapes.Engine.of(engine_types.get(db(), engine_id))


@interface.page(
    "/heads",
    "Heads",
    shapes.Head,
    key("engine", "Key of their engine type."),
    text("casting_number", "The whole casting number."),
    text("serial", "The whole serial."),
)
def list_heads(arguments: dict[str, Any]) -> Select[Any]:
    """Heads."""
    query = select(models.Head).options(
        selectinload(models.Head.owners).joinedload(models.HeadOwner.customer),
        selectinload(models.Head.visits),
    )
    columns = {
        "engine": models.Head.engine_type_id,
        "casting_number": models.Head.casting_number,
        "serial": models.Head.serial,
    }
    return query.where(*(columns[name] == value for name, value in arguments.items()))


@interface.record("/heads/<int:head_id>", "A head", shapes.Head)
def head(head_id: int) -> shapes.Head:
    """A head."""
    return shapes.Head.of(heads.get(db(), head_id))


@interface.page(
    "/jobs",
    "Jobs with their heads and steps",
    shapes.Job,
    key("customer", "Key of the customer."),
    among("state", "How far it has come.", *JobState),
    among("open", "Whether its heads are still in the shop's care.", *YES_NO),
)
def list_jobs(arguments: dict[str, Any]) -> Select[Any]:
    """Jobs."""
    visits = selectinload(models.Job.heads)
    query = select(models.Job).options(
        visits.joinedload(models.Visit.head),
        visits.selectinload(models.Visit.sessions),
        visits.selectinload(models.Visit.operations).joinedload(models.Operation.signed_off_by),
    )
    is_open = models.Job.id.in_(jobs.OPEN_JOBS)
    closed = models.Job.state.in_(CLOSED_STATES)
    clauses = {
        "customer": models.Job.customer_id == arguments.get("customer"),
        "state": models.Job.state == arguments.get("state"),
        "open": is_open if arguments.get("open") == "yes" else closed,
    }
    return query.where(*(clauses[name] for name in arguments))


@interface.record("/jobs/<number>", "A job with its heads and steps", shapes.Job)
def job(number: str) -> shapes.Job:
    """A job."""
    return shapes.Job.of(jobs.get(db(), number))


@interface.page(
    "/measurements",
    "Measurements by place; without those struck out",
    shapes.Measurement,
    text("job", "Number of their job."),
    text("tag", "Tag of their head."),
    key("head", "Key of their head."),
    text("kind", "Code of what was measured."),
)
def list_measurements(arguments: dict[str, Any]) -> Select[Any]:
    """Measurements."""
    row = models.Measurement
    query = select(row).join(row.job_head).join(models.Visit.job).join(row.kind).where(row.counts)
    columns = {
        "job": models.Job.number,
        "tag": models.Visit.tag,
        "head": models.Visit.head_id,
        "kind": models.MeasurementKind.code,
    }
    clauses = (columns[name] == value for name, value in arguments.items())
    head = joinedload(row.job_head).joinedload(models.Visit.head)
    return query.where(*clauses).options(head.joinedload(models.Head.engine_type))


@interface.page(
    "/sessions",
    "Flow tests, summed up; withdrawn ones say so",
    shapes.SessionSummary,
    text("job", "Number of their job."),
    text("tag", "Label of their head."),
    key("head", "Key of their head."),
    among("side", "Which side.", "intake", "exhaust"),
)
def list_sessions(arguments: dict[str, Any]) -> Select[Any]:
    """Flow tests."""
    query = select(models.BenchSession).join(models.BenchSession.job_head).join(models.Visit.job)
    columns = {
        "job": models.Job.number,
        "tag": models.Visit.tag,
        "head": models.Visit.head_id,
        "side": models.BenchSession.side,
    }
    clauses = (columns[name] == value for name, value in arguments.items())
    return query.where(*clauses).options(joinedload(models.BenchSession.job_head))


@interface.record("/sessions/<int:session_id>", "A flow test with its results", shapes.Session)
def session(session_id: int) -> shapes.Session:
    """A flow test."""
    return shapes.Session.of(sessions.get(db(), session_id))


@interface.file("/sessions/<int:session_id>/file", "A flow test's file",
                "application/toml")  # fmt: skip
def session_file(session_id: int) -> bytes:
    """A flow test as typed."""
    return testfile.dumps(sessions.document(sessions.get(db(), session_id))).encode()


@interface.page(
    "/cams",
    "Cams of engine types and of jobs; archived ones say so",
    shapes.Cam,
    key("engine", "Key of their engine type."),
    text("job", "Number of their job."),
)
def list_cams(arguments: dict[str, Any]) -> Select[Any]:
    """Cams."""
    query = select(models.Cam).outerjoin(models.Cam.job).options(joinedload(models.Cam.job))
    columns = {"engine": models.Cam.engine_type_id, "job": models.Job.number}
    return query.where(*(columns[name] == value for name, value in arguments.items()))


@interface.record("/cams/<int:cam_id>", "A cam", shapes.Cam)
def cam(cam_id: int) -> shapes.Cam:
    """A cam."""
    return shapes.Cam.of(cams.get(db(), cam_id))


@interface.file("/cams/<int:cam_id>/file", "A cam's file", "application/toml")
def cam_file(cam_id: int) -> bytes:
    """A cam as typed."""
    return camfile.dumps(cams.document(cams.get(db(), cam_id))).encode()


@interface.page(
    "/springs",
    "Springs of heads, and usual ones of engine types, as loads by height",
    shapes.Spring,
    key("engine", "Key of the engine type they are usual on."),
    text("tag", "Tag of the head."),
)
def list_springs(arguments: dict[str, Any]) -> Select[Any]:
    """Springs."""
    query = (
        select(models.Spring)
        .outerjoin(models.Spring.job_head)
        .options(joinedload(models.Spring.job_head))
    )
    columns = {"engine": models.Spring.engine_type_id, "tag": models.Visit.tag}
    return query.where(*(columns[name] == value for name, value in arguments.items()))


@interface.record("/springs/<int:spring_id>", "The springs of one side", shapes.Spring)
def spring(spring_id: int) -> shapes.Spring:
    """Springs of a side."""
    return shapes.Spring.of(spring_records.get(db(), spring_id))


@interface.page(
    "/seat-profiles",
    "Seat profiles of heads, and usual ones of engine types",
    shapes.SeatProfile,
    text("tag", "Label of their head."),
    key("engine", "Key of the engine type that they are usual of."),
    among("side", "Which side.", "intake", "exhaust"),
    among("taken", "Condition on arrival, or after the work.", *models.When),
)
def list_seat_profiles(arguments: dict[str, Any]) -> Select[Any]:
    """Seat profiles."""
    row = models.SeatProfile
    columns = {
        "tag": models.Visit.tag,
        "engine": row.engine_type_id,
        "side": row.side,
        "taken": row.when,
    }
    clauses = (columns[name] == value for name, value in arguments.items())
    head = joinedload(row.job_head).joinedload(models.Visit.head)
    query = select(row).outerjoin(row.job_head).where(*clauses)
    return query.options(head.joinedload(models.Head.engine_type))


@interface.record("/seat-profiles/<int:profile_id>", "A seat profile", shapes.SeatProfile)
def seat_profile(profile_id: int) -> shapes.SeatProfile:
    """A seat profile."""
    return shapes.SeatProfile.of(seat_profiles.get(db(), profile_id))


@interface.page(
    "/integrity-tests",
    "Pressure, vacuum, leak and crack tests by place; withdrawn ones say so",
    shapes.IntegrityTest,
    text("job", "Number of their job."),
    text("tag", "Label of their head."),
    key("head", "Key of their head."),
    among("kind", "Which test.", *models.IntegrityKind),
)
def list_integrity_tests(arguments: dict[str, Any]) -> Select[Any]:
    """Pressure, vacuum, leak and crack tests."""
    row = models.IntegrityTest
    columns = {
        "job": models.Job.number,
        "tag": models.Visit.tag,
        "head": models.Visit.head_id,
        "kind": row.kind,
    }
    clauses = (columns[name] == value for name, value in arguments.items())
    head = joinedload(row.job_head).joinedload(models.Visit.head)
    query = select(row).join(row.job_head).join(models.Visit.job).where(*clauses)
    return query.options(head.joinedload(models.Head.engine_type))


@interface.record(
    "/integrity-tests/<int:test_id>", "A pressure, vacuum, leak or crack test", shapes.IntegrityTest
)
def integrity_test(test_id: int) -> shapes.IntegrityTest:
    """A pressure, vacuum, leak or crack test."""
    return shapes.IntegrityTest.of(integrity_tests.get(db(), test_id))


@interface.page(
    "/certificates",
    "Issued certificates",
    shapes.Certificate,
    text("job", "Number of their job."),
    text("number", "Number of the certificate; all its revisions."),
)
def list_certificates(arguments: dict[str, Any]) -> Select[Any]:
    """Certificates."""
    columns = {"job": models.Job.number, "number": models.Certificate.number}
    return (
        select(models.Certificate)
        .join(models.Certificate.job)
        .where(*(columns[name] == value for name, value in arguments.items()))
        .options(
            joinedload(models.Certificate.job),
            joinedload(models.Certificate.issued_by),
        )
    )


@interface.record("/certificates/<number>/<int:revision>", "A certificate", shapes.Certificate)
def certificate(number: str, revision: int) -> shapes.Certificate:
    """A certificate."""
    return shapes.Certificate.of(issue.get(db(), number, revision))


@interface.file("/certificates/<number>/<int:revision>/pdf",
                "A certificate, byte for byte as issued", "application/pdf")  # fmt: skip
def certificate_pdf(number: str, revision: int) -> bytes:
    """A certificate's PDF."""
    return issue.get(db(), number, revision).pdf


@interface.record("/floor", "Every open head and its state", shapes.Floor)
def floor() -> shapes.Floor:
    """The floor."""
    hours = opening_hours.open_hours(opening_hours.the_hours(db()))
    rows = floors.rows(db(), hours, today(), minute_of_day())
    return shapes.Floor([shapes.FloorHead.of(row) for row in rows])
