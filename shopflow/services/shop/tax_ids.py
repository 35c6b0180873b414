"""Numbers that an electronic invoice states: VAT numbers, accounts and banks, with their checks."""

from __future__ import annotations

import re
from typing import Any

from stdnum import bic as bank_codes
from stdnum import iban as accounts
from stdnum.eu import vat
from stdnum.exceptions import ValidationError as WrongNumber

from shopflow.documents import countries
from shopflow.services import fields
from shopflow.texts import gettext

GREECE = "EL"
"""Prefix of Greek VAT numbers; all others begin with the code of their country."""

_LINE = fields.text()


def country(value: Any) -> str:
    """A country by its code, or none."""
    code = str(value or "").strip().upper()
    if code and code not in countries.names():
        raise ValueError(gettext("'{value}' is not a country: choose one", value=value))
    return code


def vat_id(value: Any) -> str:
    """A VAT number with the prefix of its country (EN 16931-1, BR-CO-9); its digits are checked
    where it is of the EU."""
    number = re.sub(r"[\s.-]", "", str(_LINE(value))).upper()
    if not number:
        return ""
    prefix = number[:2]
    if prefix in countries.EU or prefix == GREECE:
        try:
            return str(vat.validate(number))
        except WrongNumber:
            raise ValueError(
                gettext("'{value}' is not a VAT number of {prefix}: check its digits",
                        value=value, prefix=prefix)
            ) from None  # fmt: skip
    if prefix not in countries.names() or not number[2:].isalnum():
        raise ValueError(
            gettext("start with the two letters of the country, as in DE or FR, then the number")
        )
    return number


def iban(value: Any) -> str:
    """An account by its IBAN (ISO 13616), its check digits checked."""
    text = _LINE(value)
    try:
        return str(accounts.validate(text)) if text else ""
    except WrongNumber:
        raise ValueError(
            gettext("'{value}' is not an IBAN: check its digits", value=value)
        ) from None


def bic(value: Any) -> str:
    """A bank by its BIC (ISO 9362)."""
    text = _LINE(value)
    try:
        return str(bank_codes.validate(text)) if text else ""
    except WrongNumber:
        raise ValueError(
            gettext("'{value}' is not a BIC: enter its 8 or 11 letters and digits", value=value)
        ) from None
