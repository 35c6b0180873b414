"""Tax classes: which of the shop's rates a line is taxed at."""

from __future__ import annotations

from enum import StrEnum

from shopflow.texts import gettext_noop


class TaxClass(StrEnum):
    """Class of tax of a line or a type of step."""

    STANDARD = gettext_noop("standard")
    REDUCED = gettext_noop("reduced")
    ZERO = gettext_noop("zero")
    EXEMPT = gettext_noop("exempt")
