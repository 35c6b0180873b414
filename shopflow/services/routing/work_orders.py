"""A job's work order as things stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents.placed import PlaceTable
from shopflow.errors import NotFoundError
from shopflow.files import FileStore
from shopflow.models import (
    IntegrityTest,
    Job,
    Measurement,
    MeasurementKind,
    Operation,
    PlaceKind,
    Verdict,
    Visit,
    When,
)
from shopflow.services.bench import section_tables
from shopflow.services.billing import approvals
from shopflow.services.measuring import limit_checks, place_tables, sheets
from shopflow.services.paperwork import facts, seat_sheets
from shopflow.services.registry import attachments
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext, lazy, translated

Kinds = Mapping[str, MeasurementKind]
"""Kinds of measurement by their code."""

OF_NO_TABLE = (PlaceKind.HEAD, PlaceKind.SECTION)
"""Kinds of place with one place, or as many as are measured."""

TEST_BLANK = lazy("{test}: medium, pressure, time, drop, passed or failed")


def work_order(db: Session, job: Job, store: FileStore | None = None) -> documents.WorkOrder:
    """A job's work order as things stand; photos come along where their store is given."""
    kinds = built_in_kinds.asked_by(db, [step for visit in job.heads for step in visit.operations])
    return documents.WorkOrder(
        shop=facts.letterhead(db),
        display=facts.display(db),
        job=facts.job_facts(db, job, facts.display(db)),
        customer=facts.party(job),
        heads=tuple(_work_order_head(db, visit, store, kinds) for visit in job.heads),
        printed_at=datetime.now(UTC),
    )


def measured(row: Measurement) -> documents.Measured:
    """One measured figure."""
    return documents.Measured(
        what=row.kind.name,
        where=row.where,
        when=translated(row.when),
        value=row.value.text,
        limits=row.limits,
        verdict="" if row.verdict is Verdict.NO_LIMIT else translated(row.verdict),
    )


def tested(row: IntegrityTest, display: documents.Display) -> documents.Tested:
    """One pressure, vacuum, leak or crack test."""
    return documents.Tested(
        what=row.title,
        where=row.where,
        conditions=row.conditions,
        result=row.result,
        notes=row.remarks,
        decision=_decided(row, display),
    )


def _work_order_head(
    db: Session, visit: Visit, store: FileStore | None, kinds: Kinds
) -> documents.WorkOrderHead:
    display = facts.display(db)
    latest = limit_checks.latest(visit.measurements)
    along, rest = section_tables.tabled(latest, display.units)
    tables, others = place_tables.placed(db, visit, rest, (When.AFTER, When.BEFORE))
    decided = [row for row in visit.measurements if row.decision is not None]
    still_open = [step for step in visit.operations if step.is_open]
    hazards = [hazard for step in still_open for hazard in step.kind.cautions]
    return documents.WorkOrderHead(
        head=facts.identity(visit),
        steps=tuple(_step(db, step, kinds) for step in visit.operations),
        measured=tuple(
            replace(measured(row), decision=_decided(row, display))
            for row in dict.fromkeys([*others, *decided])
        ),
        tables=tables,
        sections=along,
        cautions=tuple(dict.fromkeys(hazards)),
        url=facts.job_address(db, visit.job),
        photos=tuple(photos(db, visit, store)) if store else (),
        tested=tuple(tested(row, display) for row in visit.integrity_tests),
        seats=seat_sheets.to_cut(db, visit, display.units),
    )


def photos(
    db: Session, visit: Visit, store: FileStore, *, shown_only: bool = False
) -> Iterator[documents.Photo]:
    """A head's photos, small: they are printed no larger than a palm.

    With `shown_only`, those that the shop shows its customer.
    """
    for row in attachments.of_stay(db, visit):
        if row.is_photo and (row.shown_to_customer or not shown_only):
            try:
                image = store.get(row.small_sha256)
            except NotFoundError:
                # The paper says that this picture cannot be read, and is of use without it.
                image = b""
            yield documents.Photo(row.caption, image)


def _decided(row: Measurement | IntegrityTest, display: documents.Display) -> str:
    """Decision on a result as it is now, with its reason, user and date."""
    word = row.decision
    if word is None:
        return ""
    day = display.moment(word.at)
    return f"{translated(word.choice).capitalize()}: {word.reason} ({word.person.name}, {day})"


def _tested(step: Operation) -> Iterator[str]:
    """Results of a step: one with its conditions, those of many places counted by verdict."""
    by_title: dict[str, list[IntegrityTest]] = {}
    for row in step.integrity_tests:
        if row.counts:
            by_title.setdefault(row.title, []).append(row)
    for title, rows in by_title.items():
        if len(rows) == 1:
            yield f"{title} {rows[0].result}: {rows[0].conditions}"
            continue
        verdicts = Counter(translated(row.result) for row in rows)
        yield f"{title}: {', '.join(f'{count} {verdict}' for verdict, count in verdicts.items())}"


def _remarks(db: Session, step: Operation, kinds: Kinds) -> Iterator[str]:
    """Remarks on a step beside its instructions."""
    if step.again_because:
        yield gettext("Again: {reason}", reason=step.again_because)
    yield from _tested(step)
    if step.not_measured_because:
        missing = limit_checks.missing(step, kinds)
        yield gettext(
            "Not measured: {missing}: {reason}",
            missing=", ".join(missing),
            reason=step.not_measured_because,
        )
    if step.release is not None:
        yield gettext(
            "Released before approval by {person}, {day}: {reason}",
            person=step.release.person.name,
            day=facts.display(db).moment(step.release.at),
            reason=step.release.reason,
        )
    if step.is_open and step.job_head.job.approved_at and approvals.forbids(db, step):
        yield gettext("Extra work, not approved yet: do not cut.")


def _step(db: Session, step: Operation, kinds: Kinds) -> documents.Step:
    tables = tuple(_tables(db, step, kinds)) if step.is_open else ()
    checks = limit_checks.asked_for(step, kinds)
    missing = [check.in_words for check in checks if check.missing and not _by_place(step, check)]
    if step.kind.tests_by and not step.integrity_tests:
        missing = [str(TEST_BLANK).format(test=translated(step.kind.tests_by)), *missing]
    person = step.signed_off_by or step.started_by
    return documents.Step(
        name=step.kind.name,
        instructions=step.instructions,
        planned_minutes=step.planned_minutes,
        state=step.state.value,
        by=person.name if person else "",
        at=step.signed_off_at,
        note=step.skip_reason or step.notes,
        blanks=tuple(name[:1].upper() + name[1:] for name in missing) if step.is_open else (),
        tables=tables,
        cautions=tuple(step.kind.cautions) if step.is_open else (),
        remarks=tuple(_remarks(db, step, kinds)),
        released=step.release is not None,
    )


def _by_place(step: Operation, check: limit_checks.Check) -> bool:
    """True where a kind asked for has a blank for each place of the head."""
    return step.job_head.head.plan is not None and check.kind.place_kind not in OF_NO_TABLE


def _tables(db: Session, step: Operation, kinds: Kinds) -> Iterator[PlaceTable]:
    """A blank for every place of each kind that a step still asks for somewhere."""
    checks = [check for check in limit_checks.asked_for(step, kinds) if _by_place(step, check)]
    wanted = [check.kind for check in checks if check.missing]
    if wanted:
        units = sheets.Units(unit_system(get_shop(db)))
        sheet = sheets.sheet(db, step.job_head, step, wanted, units, (When.AFTER,))
        yield from place_tables.place_tables(sheet)
