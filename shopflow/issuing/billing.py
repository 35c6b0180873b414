"""Issuing quotes, invoices and credit notes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.issuing.signature import Sign, signed, signing_key
from shopflow.models import Invoice, Job, Quote
from shopflow.services.actor import Actor
from shopflow.services.billing import credits, deposit_invoices, invoices, quotes
from shopflow.services.billing.approvals import Keys
from shopflow.services.billing.invoices import Unprinted


def give_quote(
    db: Session, by: Actor, job: Job, values: Mapping[str, Any], sign: Sign | None = None
) -> Quote:
    """Give the customer a quote of the job's work. Raises as `quotes.offer`."""
    content = replace(quotes.offer(db, by, job, values), signing_key=signing_key(db, sign))
    pdf = signed(papers.quote(content), content.display.language, sign)
    return quotes.keep(db, by, job, content, pdf)


def issue_invoice(
    db: Session, by: Actor, job: Job, chosen: Keys | None = None, sign: Sign | None = None
) -> Invoice:
    """Issue an invoice for the steps and lines chosen, or all that is ready.

    Raises as `invoices.prepare`.
    """
    return _stored(db, by, invoices.prepare(db, by, job, chosen), sign)


def issue_deposit_invoice(
    db: Session, by: Actor, job: Job, values: Mapping[str, Any], sign: Sign | None = None
) -> Invoice:
    """Issue an invoice of a deposit ahead of the work. Raises as `deposit_invoices.prepare`."""
    return _stored(db, by, deposit_invoices.prepare(db, by, job, values), sign)


def issue_credit_note(
    db: Session,
    by: Actor,
    invoice: Invoice,
    reason: str,
    amounts: Mapping[str, Any] | None = None,
    sign: Sign | None = None,
) -> Invoice:
    """Take an invoice back, whole or in part. Raises as `credits.prepare`."""
    return _stored(db, by, credits.prepare(db, by, invoice, reason, amounts), sign)


def _stored(db: Session, by: Actor, unprinted: Unprinted, sign: Sign | None) -> Invoice:
    content = replace(unprinted.content, signing_key=signing_key(db, sign))
    pdf = signed(papers.invoice(content), content.display.language, sign)
    return invoices.keep(db, by, replace(unprinted, content=content), pdf)
