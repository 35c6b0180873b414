"""The ledger for the shop's bookkeeping: its own accounts, and a file with its own columns."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session, contains_eager

from shopflow.errors import FieldError, ValidationError
from shopflow.models import (
    AccountRole,
    Bookkeeping,
    Job,
    LedgerAccount,
    LedgerEntry,
    Posting,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.shop.periods import Period
from shopflow.services.shop.settings import get_shop
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext, lazy, translated


@dataclass(frozen=True, slots=True)
class Account:
    """An account in use, under the shop's number and name where it gave any."""

    key: str
    role: AccountRole
    detail: str
    code: str
    own_name: str

    @property
    def name(self) -> str:
        """Its name: the shop's, else that of what is booked on it."""
        if self.own_name:
            return self.own_name
        role = translated(self.role).capitalize()
        return f"{role}, {translated(self.detail)}" if self.detail else role


@dataclass(frozen=True, slots=True)
class Booked:
    """A posting with its entry and account."""

    entry: LedgerEntry
    posting: Posting
    account: Account
    currency: str

    @property
    def document(self) -> str:
        """Number of the invoice or credit note, or of the entry of a payment."""
        invoice = self.entry.invoice
        return invoice.number if invoice is not None else f"L-{self.entry.number}"

    @property
    def text(self) -> str:
        """Kind and document, as "Invoice INV-2026-0001" or "Payment, card"."""
        kind = translated(self.entry.kind).capitalize()
        if self.entry.invoice is not None:
            return f"{kind} {self.document}"
        return f"{kind}, {self.entry.payment.method}" if self.entry.payment else kind


_Value = Callable[[Booked], Cell]
FIELDS: dict[str, tuple[str, _Value]] = {
    "date": (lazy("date"), lambda row: row.entry.on.isoformat()),
    "entry": (lazy("entry number"), lambda row: row.entry.number),
    "document": (lazy("document"), lambda row: row.document),
    "account": (lazy("account"), lambda row: row.account.code or row.account.key),
    "account name": (lazy("account name"), lambda row: row.account.name),
    "debit": (lazy("debit"), lambda row: max(row.posting.amount, Decimal(0))),
    "credit": (lazy("credit"), lambda row: max(-row.posting.amount, Decimal(0))),
    "amount": (lazy("amount"), lambda row: row.posting.amount),
    "currency": (lazy("currency"), lambda row: row.currency),
    "tax code": (lazy("tax code"), lambda row: row.posting.tax_code or ""),
    "tax rate": (lazy("tax rate"), lambda row: row.posting.tax_rate),
    "tax base": (lazy("tax base"), lambda row: row.posting.tax_base),
    "customer": (lazy("customer"), lambda row: row.entry.job.customer.name),
    "job": (lazy("job"), lambda row: row.entry.job.number),
    "text": (lazy("text"), lambda row: row.text),
}
"""Fields of a posting that a column can hold, with their usual headings."""

USUAL = ("date", "document", "text", "customer", "account", "account name", "debit", "credit")
"""Columns until the shop chooses its own."""


def accounts(db: Session) -> list[Account]:
    """Every account that was posted on, in the order of their roles."""
    query = select(Posting.role, Posting.detail).distinct()
    own = {row.key: row for row in db.scalars(select(LedgerAccount))}
    posted = [_account(role, detail, own) for role, detail in db.execute(query)]
    roles = list(AccountRole)
    return sorted(posted, key=lambda row: (roles.index(row.role), row.detail))


def _account(role: AccountRole, detail: str, own: Mapping[str, LedgerAccount]) -> Account:
    key = Posting(role=role, detail=detail).account
    row = own.get(key)
    return Account(key, role, detail, row.code if row else "", row.name if row else "")


def name_accounts(db: Session, by: Actor, typed: Mapping[str, tuple[str, str]]) -> None:
    """Save the shop's number and name of accounts, by key. Raises ValidationError at `code-KEY`."""
    text = fields.text(most=60)
    rows = {row.key: row for row in db.scalars(select(LedgerAccount))}
    for key, (code, name) in typed.items():
        read = fields.read({f"code-{key}": text, f"name-{key}": fields.text()},
                           {f"code-{key}": code, f"name-{key}": name})  # fmt: skip
        values = {"code": read[f"code-{key}"], "name": read[f"name-{key}"]}
        row = rows.get(key)
        if row is not None:
            audit_log.change(db, by, row, values)
        elif any(values.values()):
            row = LedgerAccount(key=key, **values)
            db.add(row)
            audit_log.record(db, by, row, "added", note=f"{key}: {values['code']}")


def columns(db: Session) -> list[tuple[str, str]]:
    """Field and heading of each column of the file, in order."""
    row = db.get(Bookkeeping, 1)
    if row is None:
        return [(name, str(FIELDS[name][0])) for name in USUAL]
    return [(name, heading) for name, heading in row.columns if name in FIELDS]


def choose_columns(db: Session, by: Actor, text: str) -> None:
    """Save the columns, one to a line as "field = heading". Raises ValidationError at `columns`."""
    chosen = [_column(line) for line in text.splitlines() if line.strip()]
    if not chosen:
        raise ValidationError([FieldError("columns", gettext("enter at least one column"))])
    row = db.get(Bookkeeping, 1)
    if row is None:
        row = Bookkeeping(id=1, columns=chosen)
        db.add(row)
        audit_log.record(db, by, row, "set")
    else:
        audit_log.change(db, by, row, {"columns": chosen})


def columns_in_words(db: Session) -> str:
    """The columns as they are typed."""
    return "\n".join(f"{name} = {heading}" for name, heading in columns(db))


def _column(line: str) -> list[str]:
    name, _, heading = (part.strip() for part in line.partition("="))
    if name not in FIELDS:
        message = gettext(
            "'{name}' is not a field: use {names}", name=name, names=", ".join(FIELDS)
        )
        raise ValidationError([FieldError("columns", message)])
    return [name, (heading or str(FIELDS[name][0]))[:100]]


def booked(db: Session, period: Period) -> Iterator[Booked]:
    """Every posting of a period in order, those of an entry together."""
    own = {row.key: row for row in db.scalars(select(LedgerAccount))}
    currency = get_shop(db).currency
    for entry in entries(db, period):
        for posting in entry.postings:
            account = _account(posting.role, posting.detail, own)
            yield Booked(entry, posting, account, currency)


def entries(db: Session, period: Period) -> Sequence[LedgerEntry]:
    """Entries of a period by day and number, with all that is printed of them."""
    query = (
        select(LedgerEntry)
        .join(LedgerEntry.job)
        .join(Job.customer)
        .outerjoin(LedgerEntry.invoice)
        .outerjoin(LedgerEntry.payment)
        .join(LedgerEntry.postings)
        .where(LedgerEntry.on >= period.first, LedgerEntry.on <= period.last)
        .order_by(LedgerEntry.on, LedgerEntry.number, Posting.position)
        .options(
            contains_eager(LedgerEntry.job).contains_eager(Job.customer),
            contains_eager(LedgerEntry.invoice),
            contains_eager(LedgerEntry.payment),
            contains_eager(LedgerEntry.postings),
        )
    )
    return db.scalars(query).unique().all()


def file_rows(db: Session, period: Period) -> tuple[list[str], list[list[Cell]]]:
    """Headings and rows of the file of a period."""
    chosen = columns(db)
    values = [FIELDS[name][1] for name, _ in chosen]
    rows = [[value(row) for value in values] for row in booked(db, period)]
    return [heading for _, heading in chosen], rows


@dataclass(frozen=True, slots=True)
class Total:
    """Sums of an account over a period, and its balance before and after."""

    account: Account
    before: Decimal
    debit: Decimal
    credit: Decimal

    @property
    def after(self) -> Decimal:
        """Balance at the end."""
        return self.before + self.debit - self.credit


def totals(db: Session, period: Period) -> list[Total]:
    """Each account's sums over a period; debits equal credits, and balances add up to nothing."""
    rows = []
    before = _sums(db, LedgerEntry.on < period.first)
    within = (LedgerEntry.on >= period.first, LedgerEntry.on <= period.last)
    debit, credit = (
        _sums(db, *within, side)
        for side in (Posting.amount > Decimal(0), Posting.amount < Decimal(0))
    )
    for account in accounts(db):
        key = account.role, account.detail
        opening, debited, credited = (sums.get(key, Decimal(0)) for sums in (before, debit, credit))
        rows.append(Total(account, opening, debited, -credited))
    return [row for row in rows if row.before or row.debit or row.credit]


def _sums(db: Session, *conditions: Any) -> dict[tuple[AccountRole, str], Decimal]:
    query = (
        select(Posting.role, Posting.detail, func.sum(Posting.amount))
        .join(LedgerEntry, LedgerEntry.id == Posting.entry_id)
        .where(*conditions)
        .group_by(Posting.role, Posting.detail)
    )
    return {(role, detail): amount for role, detail, amount in db.execute(query)}
