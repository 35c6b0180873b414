"""Quotes: prepared from a job's operations, frozen when given, approved by the customer."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow import sentences
from shopflow.documents.quote import Quote as QuotePaper
from shopflow.documents.snapshot import to_plain
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import Job, JobLine, JobState, Quote, QuoteLine
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals, pricing
from shopflow.services.billing.approvals import Keys
from shopflow.services.billing.pricing import Charged
from shopflow.services.forecasting import forecasts
from shopflow.services.jobs import jobs
from shopflow.services.numbering import next_number
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext, translated

SPECIFICATION: fields.Specification = {
    "valid_until": fields.day(),
    "deposit": fields.amount(),
    "conditions": fields.text(most=6000),
    "payment_terms": fields.text(most=2000),
    "show_minutes": fields.flag(),
}

_OF_JOB = select(Quote).where(Quote.job_id == bindparam("job_id")).order_by(Quote.revision)


def get(db: Session, number: str, revision: int) -> Quote:
    """The quote with this number and revision. Raises NotFoundError."""
    quote = db.scalars(
        select(Quote).where(Quote.number == number, Quote.revision == revision)
    ).one_or_none()
    if quote is None:
        raise NotFoundError(
            gettext(
                "there is no quote {number} revision {revision}", number=number, revision=revision
            )
        )
    return quote


def of_job(db: Session, job: Job) -> list[Quote]:
    """A job's quotes, the first revision first."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def agreed(quotes: Sequence[Quote]) -> Quote | None:
    """The last of a job's quotes that the customer approved."""
    return next((item for item in reversed(quotes) if item.approved_at is not None), None)


def awaiting(db: Session, job: Job) -> Quote | None:
    """The job's last quote, while the customer has not said yes to it."""
    last = of_job(db, job)[-1:]
    return next((quote for quote in last if quote.approved_at is None), None)


def suggested(db: Session, by: Actor, job: Job) -> dict[str, Any]:
    """Defaults of a new quote: the house style's terms, and the last quote's deposit."""
    style = the_style(db)
    before = of_job(db, job)
    today = by.at.astimezone(zone(get_shop(db))).date()
    return {
        "valid_until": today + timedelta(days=style.quote_days),
        "deposit": before[-1].deposit if before else Decimal(0),
        "conditions": style.quote_conditions,
        "payment_terms": style.payment_terms,
        "show_minutes": False,
    }


def offer(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> QuotePaper:
    """A quote of the job's work with its number: the job's first, or a new revision.

    Raises ValidationError, and RuleError where the job is closed or has no work to quote.
    """
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state))
    jobs.must_not_be_practice(job)
    approvals.priced_work(db, job)
    return prepare(db, by, job, values)


def keep(db: Session, by: Actor, job: Job, content: QuotePaper, pdf: bytes) -> Quote:
    """Put what `offer` gave on record with its PDF, in the same transaction."""
    charges, approved = approvals.priced_work(db, job), _approved(db, job)
    quote = Quote(
        number=content.number,
        revision=content.revision,
        job=job,
        given_at=by.at,
        given_by_id=by.person_id,
        valid_until=content.valid_until,
        deposit=content.deposit,
        total=content.tax.total,
        snapshot=to_plain(content),
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
        approved_by="",
        approved_how="",
        lines=[
            QuoteLine(
                **pricing.reference(charge.row),
                position=position,
                price=charge.amount,
                extra=_is_extra(charge.row, approved),
            )
            for position, charge in enumerate(charges, start=1)
        ],
    )
    db.add(quote)
    audit_log.record(db, by, quote, "given", job=job, note=quote.title)
    if job.state is JobState.BOOKED_IN:
        jobs.move(db, by, job, JobState.QUOTED)
    return quote


def approve(
    db: Session,
    by: Actor,
    quote: Quote,
    approved_by: str,
    how: str,
    *,
    declined: Keys = (),
) -> Quote:
    """Record that the customer agrees to a quote, but for what is `declined` by its key.

    Raises ValidationError, RuleError where the quote is not the job's last, or approved already,
    and as `approvals.record`.
    """
    if quote is not of_job(db, quote.job)[-1]:
        raise RuleError(
            gettext("quote {quote} was replaced by a later revision", quote=quote.title)
        )
    if quote.approved_at is not None:
        raise RuleError(gettext("quote {quote} is approved already", quote=quote.title))
    row = approvals.record(db, by, quote.job, approved_by, how, quote=quote, declined=declined)
    changes = {"approved_by": row.approved_by, "approved_how": row.approved_how}
    audit_log.change(
        db, by, quote, {**changes, "approved_at": by.at}, job=quote.job, verb="approved"
    )
    return quote


def approve_job(
    db: Session,
    by: Actor,
    job: Job,
    approved_by: str,
    how: str,
    *,
    seen: str = "",
    declined: Keys = (),
) -> None:
    """Record the customer's approval of a job: of the quote that awaits it, where there is one.

    `seen` is that quote's title as it was looked at, or without one `work_seen`. Raises
    ValidationError; RuleError where the offer is another by now, the job is closed, or there is
    nothing left to approve.
    """
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state))
    quote = awaiting(db, job)
    if quote is not None:
        if quote.title != seen:
            raise RuleError(
                gettext("another quote was sent meanwhile: check it before you record the approval")
            )
        approve(db, by, quote, approved_by, how, declined=declined)
    elif job.approved_at is not None:
        raise RuleError(
            gettext(
                "job {job} was approved already, by {approved_by}",
                job=job.number,
                approved_by=job.approved_by,
            )
        )
    else:
        if seen != work_seen(job):
            raise RuleError(gettext("the work or its prices changed meanwhile: check them again"))
        approvals.record(db, by, job, approved_by, how, declined=declined)


def work_seen(job: Job) -> str:
    """Steps, lines and prices of a job without a quote, told from any other state of them."""
    charges = pricing.charges(pricing.charged(job))
    return ",".join(f"{charge.row.key}:{charge.price}" for charge in charges)


def prepare(
    db: Session, by: Actor, job: Job, values: Mapping[str, Any], *, draft: bool = False
) -> QuotePaper:
    """Contents of a quote issued now; it takes a number unless it is a draft.

    Raises ValidationError; RuleError where there is no work to quote, or some of it has no price.
    """
    clean = fields.read(SPECIFICATION, {**suggested(db, by, job), **values})
    today = by.at.astimezone(zone(get_shop(db))).date()
    if clean["valid_until"] is None or clean["valid_until"] < today:
        raise ValidationError(
            [
                FieldError(
                    "valid_until", gettext("this date is in the past: enter a date from today")
                )
            ]
        )
    minutes = clean.pop("show_minutes")
    before = of_job(db, job)
    last = agreed(before)
    charges = approvals.priced_work(db, job)
    approved = _approved(db, job)
    extras = [charge for charge in charges if _is_extra(charge.row, approved)]
    rest = [charge for charge in charges if charge not in extras]
    with spoken_for(db, job.customer):
        tax = pricing.tax_of(db, job, charges)
        return QuotePaper(
            shop=facts.letterhead(db),
            display=facts.display(db, job.customer),
            number=_number(db, by, before, draft),
            revision=len(before) + 1,
            given_at=by.at,
            given_by=by.person.name if by.person else "",
            customer=facts.party(job),
            job=facts.job_facts(db, job),
            heads=facts.heads_in_words(job),
            lines=tuple(pricing.lines(db, job, rest, tax, minutes=minutes)),
            extras=tuple(pricing.lines(db, job, extras, tax, minutes=minutes)),
            tax=tax,
            agreed=_agreed_in_words(db, last or job) if job.approved_at else "",
            declined=approvals.declined_in_words(job),
            draft=draft,
            forecasts=_forecasts(db, job),
            **clean,
        )


def _forecasts(db: Session, job: Job) -> tuple[str, ...]:
    """Forecasts of the work in words, where the shop prints them."""
    if not the_style(db).quote_forecasts:
        return ()
    of_heads = forecasts.of_visits(db, job.heads)
    return tuple(
        f"{visit.tag}: {sentences.forecast_in_words(one.work.name, one.side, one.interval)}"
        for visit in job.heads
        for one in of_heads[visit.id]
    )


def _number(db: Session, by: Actor, before: Sequence[Quote], draft: bool) -> str:
    if before:
        return before[0].number
    if draft:
        return "–"
    year = by.at.astimezone(zone(get_shop(db))).year
    return f"Q-{year}-{next_number(db, 'quote', year):04d}"


def _approved(db: Session, job: Job) -> approvals.Prices | None:
    """Prices approved before; None where no approval was recorded, so that nothing is extra."""
    return approvals.approved_prices(db, job) if job.approved_at else None


def _is_extra(row: Charged, approved: approvals.Prices | None) -> bool:
    """True where a step or line is not part of the approved work, or costs more now; a discount or
    text, where it was not on a quote approved before."""
    if approved is None:
        return False
    if isinstance(row, JobLine) and not row.is_charge:
        return row.key not in approved
    return not approvals.is_approved(row, approved)


def _agreed_in_words(db: Session, agreed: Quote | Job) -> str:
    """Describe an agreement, with who approved it, how and when: a quote, or a job without one."""
    job = agreed.job if isinstance(agreed, Quote) else agreed
    work = agreed.title if isinstance(agreed, Quote) else gettext("the work as booked in")
    return gettext(
        "{work}, by {person}, {how}, {day}",
        work=work,
        person=agreed.approved_by,
        how=translated(agreed.approved_how),
        day=facts.display(db, job.customer).moment(agreed.approved_at),
    )
