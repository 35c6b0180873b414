"""Inspection reports: a job's heads as they were before metal was cut, and what is proposed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from decimal import Decimal

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.documents import Display
from shopflow.documents.inspection import InspectedHead, InspectionReport, ProposedStep
from shopflow.errors import RuleError
from shopflow.files import FileStore
from shopflow.models import (
    IntegrityTest,
    Job,
    Measurement,
    Operation,
    OperationState,
    Quote,
    Visit,
    When,
)
from shopflow.services.bench import section_tables
from shopflow.services.billing import approvals, quotes
from shopflow.services.measuring import limit_checks, place_tables
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.routing import work_orders
from shopflow.texts import gettext, ngettext

_MEASURED = (
    select(Measurement.id)
    .join(Visit, Visit.id == Measurement.job_head_id)
    .where(Visit.job_id == bindparam("job_id"), Measurement.counts)
)
_TESTED = (
    select(IntegrityTest.id)
    .join(Visit, Visit.id == IntegrityTest.job_head_id)
    .where(Visit.job_id == bindparam("job_id"), IntegrityTest.counts)
)
_FINDINGS = select(_MEASURED.exists() | _TESTED.exists())


def has_findings(db: Session, job: Job) -> bool:
    """True where anything was measured or tested on a job's heads."""
    return bool(db.scalar(_FINDINGS, {"job_id": job.id}))


def inspection_report(
    db: Session, job: Job, store: FileStore | None = None, *, prices: bool = True
) -> InspectionReport:
    """A job's inspection report; with the prices of its last quote, and its photos, where wanted.

    Raises RuleError where nothing was measured or tested yet.
    """
    if not has_findings(db, job):
        raise RuleError(
            gettext(
                "nothing was measured or tested on job {job} yet: record the inspection first",
                job=job.number,
            )
        )
    sent = quotes.of_job(db, job)[-1:] if prices else []
    with spoken_for(db, job.customer):
        return InspectionReport(
            shop=facts.letterhead(db),
            display=facts.display(db, job.customer),
            job=facts.job_facts(db, job),
            customer=facts.party(job),
            heads=tuple(_head(db, visit, store, sent) for visit in job.heads),
            made_at=datetime.now(UTC),
            quote=sent[0].title if sent else "",
        )


def _head(
    db: Session, visit: Visit, store: FileStore | None, sent: Sequence[Quote]
) -> InspectedHead:
    measured, tested = _measured(visit), tested_on_arrival(visit)
    display = facts.display(db, visit.job.customer)
    along, rest = section_tables.tabled(measured, display.units)
    tables, others = place_tables.placed(db, visit, rest, (When.BEFORE, When.AFTER))
    return InspectedHead(
        head=facts.identity(visit),
        inspected_by=tuple(_inspectors(display, measured, tested)),
        tables=tables,
        others=tuple(work_orders.measured(row) for row in others),
        tested=tuple(work_orders.tested(row, display) for row in tested),
        photos=tuple(work_orders.photos(db, visit, store, shown_only=True)) if store else (),
        sections=along,
        proposed=tuple(_proposed(db, visit, measured, _prices(sent))),
    )


def _first_cut(visit: Visit) -> datetime | None:
    """Time when the first step that cuts metal was begun or, if that was not noted, done."""
    cuts = [step for step in visit.operations if step.kind.cuts_metal]
    times = (step.started_at or step.signed_off_at for step in cuts)
    return min((at for at in times if at is not None), default=None)


def _measured(visit: Visit) -> list[Measurement]:
    """Measurements of a head as it came in, the last of each kind and place."""
    cut = _first_cut(visit)
    rows = (
        row
        for row in visit.measurements
        if row.when is When.BEFORE
        or (
            (cut is None or row.at <= cut)
            and (row.operation is None or not row.operation.kind.cuts_metal)
        )
    )
    return limit_checks.latest(rows)


def tested_on_arrival(visit: Visit) -> list[IntegrityTest]:
    """Tests of a head before metal was cut, the last of each kind and place."""
    cut = _first_cut(visit)
    rows = (row for row in visit.integrity_tests if cut is None or row.at <= cut)
    return limit_checks.latest_tests(rows)


def _inspectors(
    display: Display, measured: Sequence[Measurement], tested: Sequence[IntegrityTest]
) -> Iterator[str]:
    """Everyone who measured or tested, with the days."""
    days: dict[str, dict[str, None]] = {}
    results: list[Measurement | IntegrityTest] = [*measured, *tested]
    for row in sorted(results, key=lambda row: row.at):
        if row.person is not None:
            days.setdefault(row.person.name, {}).setdefault(display.moment(row.at))
    for name, each in days.items():
        first, *_, last = [*each, *list(each)[-1:]]
        yield f"{name}, {first}" if first == last else f"{name}, {first} – {last}"


def _prices(sent: Sequence[Quote]) -> dict[str, Decimal]:
    return {line.key: line.price for quote in sent for line in quote.lines}


def _proposed(
    db: Session,
    visit: Visit,
    measured: Sequence[Measurement],
    prices: Mapping[str, Decimal],
) -> Iterator[ProposedStep]:
    """Steps still open, and those that cut metal since or were declined."""
    for step in visit.operations:
        is_past = step.state is OperationState.DONE and not step.kind.cuts_metal
        if is_past or step.state is OperationState.SKIPPED:
            continue
        yield ProposedStep(
            step.kind.name, _reason(step, measured), prices.get(step.key), _state(db, step)
        )


def _state(db: Session, step: Operation) -> str:
    if step.is_declined:
        return gettext("declined")
    if step.state is OperationState.DONE:
        return gettext("done")
    if step.kind.cuts_metal and approvals.forbids(db, step):
        return gettext("not approved yet")
    return ""


def _reason(step: Operation, measured: Sequence[Measurement]) -> str:
    """Findings of the inspection that the step answers, and the text for the customer."""
    counts: dict[str, int] = {}
    for row in measured:
        if row.verdict == "outside limits" and row.kind.code in step.kind.asks_for:
            counts[row.kind.name] = counts.get(row.kind.name, 0) + 1
    findings = [
        ngettext(
            "{kind} outside its limits at {num} place",
            "{kind} outside its limits at {num} places",
            count,
            kind=kind,
        )
        for kind, count in counts.items()
    ]
    texts = (*findings, step.again_because, step.customer_text)
    return ". ".join(text.rstrip(". ") for text in texts if text)
