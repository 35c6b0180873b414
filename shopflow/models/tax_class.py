"""Tax classes: which of the shop's rates a line is taxed at, and why a customer pays none."""

from __future__ import annotations

from enum import StrEnum

from shopflow.texts import gettext_noop


class TaxClass(StrEnum):
    """Class of tax of a line or a type of step."""

    STANDARD = gettext_noop("standard")
    REDUCED = gettext_noop("reduced")
    ZERO = gettext_noop("zero")
    EXEMPT = gettext_noop("exempt")


class ExemptionKind(StrEnum):
    """Kind of a customer's exemption, which an electronic invoice states by a code."""

    EXEMPT = gettext_noop("exempt")
    REVERSE_CHARGE = gettext_noop("reverse charge")
    """The customer owes the tax."""

    WITHIN_EU = gettext_noop("supply to another EU country")
    EXPORT = gettext_noop("export outside the EU")
    NOT_SUBJECT = gettext_noop("not subject to tax")
