"""Issuing quotes, invoices and credit notes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.models import Invoice, Job, Quote
from shopflow.services.actor import Actor
from shopflow.services.billing import credits, deposit_invoices, invoices, quotes
from shopflow.services.billing.approvals import Keys


def give_quote(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> Quote:
    """Give the customer a quote of the job's work. Raises as `quotes.offer`."""
    content = quotes.offer(db, by, job, values)
    return quotes.keep(db, by, job, content, papers.quote(content))


def issue_invoice(db: Session, by: Actor, job: Job, chosen: Keys | None = None) -> Invoice:
    """Issue an invoice for the steps and lines chosen, or all that is ready.

    Raises as `invoices.prepare`.
    """
    unprinted = invoices.prepare(db, by, job, chosen)
    return invoices.keep(db, by, unprinted, papers.invoice(unprinted.content))


def issue_deposit_invoice(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> Invoice:
    """Issue an invoice of a deposit ahead of the work. Raises as `deposit_invoices.prepare`."""
    unprinted = deposit_invoices.prepare(db, by, job, values)
    return invoices.keep(db, by, unprinted, papers.invoice(unprinted.content))


def issue_credit_note(
    db: Session, by: Actor, invoice: Invoice, reason: str, amounts: Mapping[str, Any] | None = None
) -> Invoice:
    """Take an invoice back, whole or in part. Raises as `credits.prepare`."""
    unprinted = credits.prepare(db, by, invoice, reason, amounts)
    return invoices.keep(db, by, unprinted, papers.invoice(unprinted.content))
