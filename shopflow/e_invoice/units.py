"""Units of lines by their code in UN/ECE Recommendation 20, or 21 for packages."""

from __future__ import annotations

ONE = "C62"
"""Unit "one"; of what has no unit, or one that has no code here."""

CODES = {
    "H87": ("pc", "pcs", "piece", "pieces", "part", "parts", "ea", "each", "stk", "st"),
    "SET": ("set", "sets"),
    "PR": ("pair", "pairs", "pr"),
    "DZN": ("dozen", "doz"),
    "KT": ("kit", "kits"),
    "XBX": ("box", "boxes"),
    "XPK": ("pack", "packs", "package", "packages"),
    "XBO": ("bottle", "bottles"),
    "XCA": ("can", "cans", "tin", "tins"),
    "XTU": ("tube", "tubes"),
    "HUR": ("h", "hr", "hrs", "hour", "hours"),
    "MIN": ("min", "mins", "minute", "minutes"),
    "DAY": ("day", "days"),
    "KGM": ("kg",),
    "GRM": ("g",),
    "LBR": ("lb", "lbs"),
    "ONZ": ("oz",),
    "MTR": ("m",),
    "CMT": ("cm",),
    "MMT": ("mm",),
    "KMT": ("km",),
    "FOT": ("ft", "foot", "feet"),
    "INH": ("in", "inch", "inches"),
    "SMI": ("mi", "mile", "miles"),
    "LTR": ("l", "liter", "liters", "litre", "litres"),
    "MLT": ("ml",),
    "GLL": ("gal", "gallon", "gallons"),
    "QTL": ("qt", "quart", "quarts"),
    "PTL": ("pt", "pint", "pints"),
    "MTK": ("m2", "m²"),
    "KWH": ("kwh",),
}
_BY_WORD = {word: code for code, words in CODES.items() for word in words}


def code_of(unit: str) -> str:
    """The code of a unit as people write it.

    >>> code_of("pc"), code_of("Hours"), code_of("")
    ('H87', 'HUR', 'C62')
    """
    return _BY_WORD.get(unit.strip().rstrip(".").lower(), ONE)


def has_code(unit: str) -> bool:
    """True where a unit needs no words beside its code."""
    return not unit.strip() or code_of(unit) != ONE
