"""The ledger as a plain-text file of double entries, in the Beancount language, version 3.

Described at https://beancount.github.io/docs/beancount_language_syntax.html. What was booked before
the period is one opening entry; each account's balance after it is stated, so that whoever reads
the file checks its sums.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from itertools import groupby

from sqlalchemy.orm import Session

from shopflow.models import AccountRole
from shopflow.services.billing import bookkeeping
from shopflow.services.billing.bookkeeping import Account, Booked, Total
from shopflow.services.shop.periods import Period
from shopflow.services.shop.settings import get_shop

ROOTS = {
    AccountRole.RECEIVABLE: "Assets:Receivables",
    AccountRole.SALES: "Income:Sales",
    AccountRole.PREPAID: "Liabilities:Deposits",
    AccountRole.TAX: "Liabilities:Tax",
    AccountRole.MONEY: "Assets:Money",
}
OPENING = "Opening balances"


def written(db: Session, period: Period) -> str:
    """The file of a period."""
    shop = get_shop(db)
    totals = bookkeeping.totals(db, period)
    names = _names([row.account for row in totals])
    booked = list(bookkeeping.booked(db, period))
    lines = [
        f'option "title" {_quoted(shop.name)}',
        f'option "operating_currency" "{shop.currency}"',
        "",
        *_opened(totals, names, period),
        "",
        *_opening(totals, names, period, shop.currency),
    ]
    for _, rows in groupby(booked, key=lambda row: row.entry.number):
        lines += [*_entry(list(rows), names), ""]
    after = period.last + timedelta(days=1)
    lines += [
        f"{after} balance {names[row.account.key]} {row.after:.2f} {shop.currency}"
        for row in totals
    ]
    return "\n".join(lines) + "\n"


def _names(accounts: list[Account]) -> dict[str, str]:
    """A name for each account by its key, none twice."""
    names: dict[str, str] = {}
    for account in accounts:
        name = ROOTS[account.role] + (f":{_component(account.detail)}" if account.detail else "")
        taken = set(names.values())
        number = 2
        unique = name
        while unique in taken:
            unique, number = f"{name}-{number}", number + 1
        names[account.key] = unique
    return names


def _component(words: str) -> str:
    """A part of an account's name: letters, digits and hyphens, the first a capital or a digit.

    >>> _component("bank transfer"), _component("S 8.25"), _component("…")
    ('Bank-transfer', 'S-8-25', 'Other')
    """
    plain = re.sub(r"[^A-Za-z0-9]+", "-", words).strip("-")
    return plain[:1].upper() + plain[1:] if plain else "Other"


def _opened(totals: list[Total], names: dict[str, str], period: Period) -> Iterator[str]:
    for row in totals:
        yield f"{period.first} open {names[row.account.key]}"
        yield f"  name: {_quoted(row.account.name)}"
        if row.account.code:
            yield f"  code: {_quoted(row.account.code)}"


def _opening(
    totals: list[Total], names: dict[str, str], period: Period, currency: str
) -> Iterator[str]:
    before = [row for row in totals if row.before]
    if before:
        yield f'{period.first} * "{OPENING}"'
        for row in before:
            yield _posting(names[row.account.key], row.before, currency)
        yield ""


def _entry(rows: list[Booked], names: dict[str, str]) -> Iterator[str]:
    first = rows[0]
    customer = _quoted(first.entry.job.customer.name)
    yield f"{first.entry.on} * {customer} {_quoted(first.text)}"
    yield f"  entry: {first.entry.number}"
    yield f"  document: {_quoted(first.document)}"
    yield f"  job: {_quoted(first.entry.job.number)}"
    for row in rows:
        if row.posting.amount:
            yield _posting(names[row.account.key], row.posting.amount, row.currency)


def _posting(name: str, amount: Decimal, currency: str) -> str:
    return f"  {name}  {amount:.2f} {currency}"


def _quoted(words: str) -> str:
    """Text in quotes on one line."""
    plain = " ".join(words.split()).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'
