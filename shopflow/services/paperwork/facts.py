"""Facts about the shop, its customers, jobs and heads for documents."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents.head import identifiers
from shopflow.models import Customer, Job, Visit
from shopflow.services.paperwork.language import date_format_for, language_for
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop
from shopflow.texts import translated


def letterhead(db: Session) -> documents.Letterhead:
    """The shop's letterhead."""
    shop = get_shop(db)
    style = the_style(db)
    return documents.Letterhead(
        shop.name, shop.address, shop.phone, shop.email, style.logo, style.accent, style.second
    )


def display(db: Session, customer: Customer | None = None) -> documents.Display:
    """Units, time zone and formats of the shop, in the language of a document for a customer."""
    shop = get_shop(db)
    return documents.Display(
        shop.unit_system,
        shop.time_zone,
        shop.paper_size,
        date_format_for(db, customer),
        shop.currency,
        language_for(db, customer),
        shop.unit_choices,
    )


def party(job: Job) -> documents.Party:
    """The customer of a job."""
    customer = job.customer
    return documents.Party(customer.name, customer.address, customer.phone, customer.email)


def identity(visit: Visit) -> documents.HeadIdentity:
    """A head, and how it is known."""
    head = visit.head
    return documents.HeadIdentity(
        tag=visit.tag,
        engine_type=head.engine_type.title,
        casting_number=head.casting_number,
        serial=head.serial,
        material=head.material,
        ports=head.ports,
        chamber=head.chamber,
        condition=visit.condition,
        parts_received=visit.parts_in_words,
        came_back_because=visit.came_back_because,
    )


def heads_in_words(job: Job) -> tuple[str, ...]:
    """Each head of a job with its tag, engine type and what it is known by."""
    heads = (identity(visit) for visit in job.heads)
    return tuple(
        f"{head.tag}: " + ", ".join(filter(None, (head.engine_type, identifiers(head))))
        for head in heads
    )


def job_address(db: Session, job: Job) -> str:
    """Address of the QR code: the job's page, or empty while the app has no address."""
    web = get_shop(db).web_address
    return f"{web}/jobs/{job.number}" if web else ""


def head_address(db: Session, visit: Visit) -> str:
    """The address a label's code opens: the head's page; empty while the app has no address."""
    web = get_shop(db).web_address
    return f"{web}/heads/{visit.tag}" if web else ""


def job_facts(
    db: Session, job: Job, display_: documents.Display | None = None
) -> documents.JobFacts:
    """Facts about a job for documents for its customer, or as another display shows them."""
    approval = ""
    if job.approved_at is not None:
        day = (display_ or display(db, job.customer)).moment(job.approved_at)
        approval = f"{job.approved_by}, {translated(job.approved_how)}, {day}"
    return documents.JobFacts(
        number=job.number,
        booked_in=job.booked_in_at,
        promised_on=job.promised_on,
        purpose=translated(job.purpose.value),
        induction=translated(job.induction.value),
        boost=job.boost.text if job.boost else "",
        rev_limit=f"{job.rev_limit_rpm} rpm" if job.rev_limit_rpm else "",
        fuel=job.fuel,
        intake_lift=job.intake_lift.text if job.intake_lift else "",
        exhaust_lift=job.exhaust_lift.text if job.exhaust_lift else "",
        asked_for=job.asked_for,
        approval=approval,
        order_number=job.order_number,
    )


def stated_on_papers(db: Session, job: Job) -> tuple[object, ...]:
    """All that a job's quotes and invoices state of shop, customer, job, heads and work."""
    steps = [step for visit in job.heads for step in visit.operations]
    return (
        letterhead(db),
        party(job),
        job_facts(db, job),
        *(identity(visit) for visit in job.heads),
        *(text for step in steps for text in (step.kind.name, step.customer_text)),
        *(text for line in job.lines for text in (line.description, line.part_number, line.unit)),
    )
