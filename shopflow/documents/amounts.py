"""Amounts of money as papers and pages show them."""

from __future__ import annotations

from decimal import Decimal

SIGNS = {"USD": "$", "EUR": "€", "GBP": "£"}


def is_currency(code: str) -> bool:
    """True of a currency of ISO 4217."""
    from babel.numbers import is_currency as is_listed

    return bool(is_listed(code))


def written(amount: Decimal, currency: str) -> str:
    """An amount in a currency of three letters.

    >>> written(Decimal("-1250"), "USD")
    '−$1,250.00'
    >>> written(Decimal("3.5"), "CHF")
    'CHF 3.50'
    """
    sign = SIGNS.get(currency, f"{currency} ")
    return f"{'−' if amount < 0 else ''}{sign}{abs(amount):,.2f}"
