"""Money that programs can read, with a scope of its own."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import joinedload, selectinload

from shopflow import models
from shopflow.models import Scope
from shopflow.services.billing import invoices, quotes
from shopflow.services.jobs import jobs
from shopflow.web.api import shapes
from shopflow.web.api.endpoint import key, text
from shopflow.web.api.interface import interface
from shopflow.web.db import db

MONEY = (Scope.MONEY,)
JOB = text("job", "Number of their job.")


@interface.page("/quotes", "Quotes that were given", shapes.Quote, JOB, scopes=MONEY)
def list_quotes(arguments: dict[str, Any]) -> Select[Any]:
    """Quotes."""
    row = models.Quote
    return _of_job(row, arguments).options(joinedload(row.job), selectinload(row.lines))


@interface.record("/quotes/<number>/<int:revision>", "A quote", shapes.Quote, scopes=MONEY)
def quote(number: str, revision: int) -> shapes.Quote:
    """A quote."""
    return shapes.Quote.of(quotes.get(db(), number, revision))


@interface.page("/invoices", "Invoices and credit notes", shapes.Invoice, JOB, scopes=MONEY)
def list_invoices(arguments: dict[str, Any]) -> Select[Any]:
    """Invoices."""
    row = models.Invoice
    options = joinedload(row.job), joinedload(row.credits), selectinload(row.lines)
    return _of_job(row, arguments).options(*options)


@interface.record("/invoices/<number>", "An invoice", shapes.Invoice, scopes=MONEY)
def invoice(number: str) -> shapes.Invoice:
    """An invoice."""
    return shapes.Invoice.of(invoices.get(db(), number))


@interface.page("/payments", "Payments", shapes.Payment, JOB, scopes=MONEY)
def list_payments(arguments: dict[str, Any]) -> Select[Any]:
    """Payments."""
    return _of_job(models.Payment, arguments).options(joinedload(models.Payment.job))


@interface.page(
    "/ledger-entries", "Entries of the ledger with their postings", shapes.LedgerEntry, JOB,
    scopes=MONEY,
)  # fmt: skip
def list_ledger_entries(arguments: dict[str, Any]) -> Select[Any]:
    """Entries of the ledger."""
    row = models.LedgerEntry
    options = joinedload(row.job), joinedload(row.invoice), selectinload(row.postings)
    return _of_job(row, arguments).options(*options)


@interface.page(
    "/balances",
    "Balances of jobs",
    shapes.JobBalance,
    key("customer", "Key of the customer."),
    scopes=MONEY,
)
def list_balances(arguments: dict[str, Any]) -> Select[Any]:
    """Balances."""
    query = select(models.Job)
    if "customer" in arguments:
        query = query.where(models.Job.customer_id == arguments["customer"])
    return query


@interface.record("/balances/<number>", "The balance of a job", shapes.JobBalance, scopes=MONEY)
def balance(number: str) -> shapes.JobBalance:
    """A job's balance."""
    return shapes.JobBalance.of(jobs.get(db(), number))


def _of_job(row: Any, arguments: dict[str, Any]) -> Select[Any]:
    query: Select[Any] = select(row)
    if "job" in arguments:
        query = query.join(row.job).where(models.Job.number == arguments["job"])
    return query
