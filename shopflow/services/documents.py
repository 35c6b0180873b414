"""The plain data papers are made from, filled from the records."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, RuleError
from shopflow.files import FileStore
from shopflow.models import (
    Collection,
    HandedOver,
    HandOffNote,
    IntegrityTest,
    Job,
    JobHead,
    Measurement,
    Operation,
    Payment,
    Verdict,
)
from shopflow.papers import data
from shopflow.papers.collection import CollectionReceipt, PartBack
from shopflow.papers.receipt import Receipt
from shopflow.papers.work_order import known_by
from shopflow.services import approvals, assembly, balances, files, verdicts
from shopflow.services.engine_figures import engine_figures
from shopflow.services.house_style import the_style
from shopflow.services.seat_loads import is_boosted
from shopflow.services.shop import settled

TEST_BLANK = "medium, pressure, time, drop, passed or failed"


def work_order(db: Session, job: Job, store: FileStore | None = None) -> data.WorkOrder:
    """A job's work order as things stand; photos come along where their store is given."""
    return data.WorkOrder(
        shop=letterhead(db),
        display=display(db),
        job=job_facts(db, job),
        customer=party(job),
        heads=tuple(_work_order_head(db, stay, store) for stay in job.heads),
        printed_at=datetime.now(UTC),
    )


def hand_off(db: Session, stay: JobHead) -> data.HandOff:
    """A head's hand-off sheet. Raises NotFoundError without a note, RuleError without figures."""
    note = stay.hand_off
    if note is None:
        raise NotFoundError(f"{stay.tag} has no hand-off note yet")
    if not note.has_figures:
        raise RuleError(
            f"the hand-off note of {stay.tag} has no figures yet: enter them before you print it"
        )
    units = display(db).units
    return data.HandOff(
        shop=letterhead(db),
        display=display(db),
        job=job_facts(db, stay.job),
        customer=party(stay.job),
        head=identity(stay),
        addressee=note.addressee,
        valves=tuple(assembly.side_figures(valve, units) for valve in note.valves),
        figures=(
            *engine_figures(note, units),
            *(data.Figure(row.name, row.value, row.working) for row in note.figures),
        ),
        measured=tuple(measured(row) for row in stay.measurements if _for_assembler(row)),
        to_check=_lines(note.to_check),
        cautions=_lines(note.cautions),
        notes=note.notes,
        signed_by=_signer(note),
        signed_at=note.signed_at,
        written_at=note.written_at,
        tested=tuple(
            tested(db, row)
            for step in stay.operations
            for row in verdicts.latest_tests(step.integrity_tests)
        ),
        remaining=tuple(step.kind.name for step in stay.operations if step.is_open),
        boosted=is_boosted(stay.job),
    )


def collection(db: Session, row: Collection) -> CollectionReceipt:
    """What left the shop on a job, for its receipt."""
    job = row.job
    return CollectionReceipt(
        shop=letterhead(db),
        display=display(db),
        customer=party(job),
        job=job_facts(db, job),
        heads=heads_in_words(job),
        shipped=row.how is HandedOver.SHIPPED,
        handed_to=row.handed_to,
        handed_on=row.handed_on,
        handed_over_by=row.recorded_by.name if row.recorded_by else "",
        recorded_at=row.recorded_at,
        parts=tuple(PartBack(**part) for part in row.parts),
        papers=tuple(row.papers),
        carrier=row.carrier,
        parcels=row.parcels,
        tracking_number=row.tracking_number,
        packed_by=row.packed_by,
        balance=row.balance,
        remarks=row.remarks,
    )


def receipt(db: Session, row: Payment) -> Receipt:
    """What was received or paid back, for its receipt."""
    return Receipt(
        shop=letterhead(db),
        display=display(db),
        title=receipt_title(row),
        customer=party(row.job),
        job=job_facts(db, row.job),
        heads=heads_in_words(row.job),
        number=str(row.id),
        received_on=row.received_on,
        amount=row.amount,
        method=row.method,
        note=row.note,
        recorded_by=row.recorded_by.name if row.recorded_by else "",
        recorded_at=row.recorded_at,
        left=balances.of_job(db, row.job).left,
    )


def receipt_title(row: Payment) -> str:
    """The heading of a payment's receipt."""
    if row.amount < 0:
        return "Refund receipt"
    return "Deposit receipt" if row.is_deposit else "Receipt"


def letterhead(db: Session) -> data.Letterhead:
    """The shop's letterhead."""
    shop = settled(db)
    style = the_style(db)
    return data.Letterhead(
        shop.name, shop.address, shop.phone, shop.email, style.logo, style.accent, style.second
    )


def display(db: Session) -> data.Display:
    """How the shop shows figures and times."""
    shop = settled(db)
    return data.Display(
        shop.unit_system,
        shop.time_zone,
        shop.paper_size,
        the_style(db).date_format,
        shop.currency,
    )


def party(job: Job) -> data.Party:
    """The customer of a job."""
    customer = job.customer
    return data.Party(customer.name, customer.address, customer.phone, customer.email)


def identity(stay: JobHead) -> data.HeadIdentity:
    """A head, and how it is known."""
    head = stay.head
    return data.HeadIdentity(
        tag=stay.tag,
        engine_type=head.engine_type.title,
        casting_number=head.casting_number,
        serial=head.serial,
        material=head.material,
        ports=head.ports,
        chamber=head.chamber,
        condition=stay.condition,
        parts_received=stay.parts_in_words,
        came_back_because=stay.came_back_because,
    )


def heads_in_words(job: Job) -> tuple[str, ...]:
    """Each head of a job with its tag, engine type and what it is known by."""
    heads = (identity(stay) for stay in job.heads)
    return tuple(
        f"{head.tag}: " + ", ".join(filter(None, (head.engine_type, known_by(head))))
        for head in heads
    )


def job_address(db: Session, job: Job) -> str:
    """Where a code to scan leads: the job's page, or nowhere while the app has no address."""
    web = settled(db).web_address
    return f"{web}/jobs/{job.number}" if web else ""


def head_address(db: Session, stay: JobHead) -> str:
    """The address a label's code opens: the head's page; empty while the app has no address."""
    web = settled(db).web_address
    return f"{web}/heads/{stay.tag}" if web else ""


def job_facts(db: Session, job: Job) -> data.JobFacts:
    """What papers say of a job."""
    approval = ""
    if job.approved_at is not None:
        day = display(db).moment(job.approved_at)
        approval = f"{job.approved_by}, {job.approved_how}, {day}"
    return data.JobFacts(
        number=job.number,
        booked_in=job.booked_in_at,
        promised_on=job.promised_on,
        purpose=job.purpose.value,
        induction=job.induction.value,
        boost=job.boost.text if job.boost else "",
        rev_limit=f"{job.rev_limit_rpm} rpm" if job.rev_limit_rpm else "",
        fuel=job.fuel,
        intake_lift=job.intake_lift.text if job.intake_lift else "",
        exhaust_lift=job.exhaust_lift.text if job.exhaust_lift else "",
        asked_for=job.asked_for,
        approval=approval,
    )


def stated_on_papers(db: Session, job: Job) -> tuple[object, ...]:
    """All that a job's quotes and invoices state of shop, customer, job, heads and work."""
    steps = [step for stay in job.heads for step in stay.operations]
    return (
        letterhead(db),
        party(job),
        job_facts(db, job),
        *(identity(stay) for stay in job.heads),
        *(text for step in steps for text in (step.kind.name, step.customer_text)),
    )


def measured(row: Measurement) -> data.Measured:
    """One measured figure."""
    return data.Measured(
        what=row.kind.name,
        where=row.where,
        when=row.when.value,
        value=row.value.text,
        limits=row.limits,
        verdict="" if row.verdict is Verdict.NO_LIMIT else row.verdict.value,
    )


def tested(db: Session, row: IntegrityTest) -> data.Tested:
    """One pressure, vacuum, leak or crack test."""
    return data.Tested(
        what=row.title,
        where=row.where,
        conditions=row.conditions,
        result=row.result,
        notes=row.notes,
        decision=_decided(db, row),
    )


def _work_order_head(db: Session, stay: JobHead, store: FileStore | None) -> data.WorkOrderHead:
    hazards = [hazard for step in stay.operations for hazard in step.kind.cautions]
    return data.WorkOrderHead(
        head=identity(stay),
        steps=tuple(_step(db, step) for step in stay.operations),
        measured=tuple(
            replace(measured(row), decision=_decided(db, row)) for row in stay.measurements
        ),
        cautions=tuple(dict.fromkeys(hazards)),
        url=job_address(db, stay.job),
        photos=tuple(_photos(db, stay, store)) if store else (),
        tested=tuple(tested(db, row) for step in stay.operations for row in step.integrity_tests),
    )


def _photos(db: Session, stay: JobHead, store: FileStore) -> Iterator[data.Photo]:
    """A head's photos, small: they are printed no larger than a palm."""
    for row in files.of_stay(db, stay):
        if row.is_photo:
            try:
                image = store.get(row.small_sha256)
            except NotFoundError:
                # The paper says that this picture cannot be read, and is of use without it.
                image = b""
            yield data.Photo(row.caption, image)


def _decided(db: Session, row: Measurement | IntegrityTest) -> str:
    """What was decided on a figure as it stands, why, by whom and when."""
    word = row.decision
    if word is None:
        return ""
    day = display(db).moment(word.at)
    return f"{word.choice.value.capitalize()}: {word.reason} ({word.person.name}, {day})"


def _remarks(db: Session, step: Operation) -> Iterator[str]:
    """What whoever does a step must know of it beside its instructions."""
    if step.again_because:
        yield f"Again: {step.again_because}"
    for row in step.integrity_tests:
        yield f"{row.title} {row.result}: {row.conditions}"
    if step.not_measured_because:
        yield f"Not measured: {', '.join(verdicts.missing(step))}: {step.not_measured_because}"
    if step.release is not None:
        by, day = step.release.person.name, display(db).moment(step.release.at)
        yield f"Released before approval by {by}, {day}: {step.release.reason}"
    if step.is_open and step.job_head.job.approved_at and approvals.forbids(db, step):
        yield "Extra work, not approved yet: do not cut."


def _step(db: Session, step: Operation) -> data.Step:
    missing = verdicts.missing(step)
    if step.kind.tests_by and not step.integrity_tests:
        missing = [f"{step.kind.tests_by.value}: {TEST_BLANK}", *missing]
    person = step.signed_off_by or step.started_by
    return data.Step(
        name=step.kind.name,
        instructions=step.instructions,
        planned_minutes=step.planned_minutes,
        state=step.state.value,
        by=person.name if person else "",
        at=step.signed_off_at,
        note=step.skip_reason or step.notes,
        blanks=tuple(code.capitalize() for code in missing) if step.is_open else (),
        remarks=tuple(_remarks(db, step)),
        released=step.release is not None,
    )


def _for_assembler(row: Measurement) -> bool:
    wanted = {"installed height", "seat load", "chamber volume", "valve head diameter",
              "seat angle", "head thickness", "throat diameter"}  # fmt: skip
    return row.kind.code in wanted and row.when.value == "after"


def _signer(note: HandOffNote) -> str:
    return note.signed_by.name if note.signed_by else ""


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
