"""Countries by their code (ISO 3166-1 alpha-2), and their names in the reader's language."""

from __future__ import annotations

from functools import cache

from shopflow.texts import language

EU = frozenset(
    ("AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT",
     "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK")
)  # fmt: skip
"""Members of the European Union, whose invoices follow EN 16931 (Directive 2014/55/EU)."""

_NO_COUNTRY = frozenset(
    ("AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "XK", "ZZ")
)
"""Codes of the Unicode locale data that are groups, test codes, or not of ISO 3166-1."""


def names() -> dict[str, str]:
    """Name of every country by its code, in the order of the names."""
    return _names(language())


def name(code: str) -> str:
    """Name of a country; empty for an empty code."""
    return names().get(code, code)


@cache
def _names(spoken: str) -> dict[str, str]:
    from babel import Locale

    territories = Locale.parse(spoken).territories
    named = [
        (words, code)
        for code, words in territories.items()
        if len(code) == 2 and code.isalpha() and code not in _NO_COUNTRY
    ]
    return {code: words for words, code in sorted(named)}
