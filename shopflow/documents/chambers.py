"""Chambers of a head: each volume, how much larger to grind it, and compression ratios."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ChamberOf:
    """One cylinder's chamber, and how much larger to grind it."""

    where: str
    volume: str
    grind: str
    """Volume to grind it larger by; empty where there is nothing to grind."""

    ratio: str = ""
    """Compression ratio as measured."""


@dataclass(frozen=True)
class Chambers:
    """Chambers of a head, matched to the largest."""

    each: tuple[ChamberOf, ...]
    state: str
    """As "Largest 54.2 cm³, cylinder 3." or "Chambers match: 54.1 to 54.2 cm³."; empty where a
    volume is doubtful."""

    spread: str
    when: str
    to_grind: str = ""
    """For the shop, not for the assembler, as "Grind cylinder 1 0.4 cm³ larger."."""

    in_doubt: tuple[str, ...] = ()
    """Sentences on volumes far from the others: while there are any, nothing follows from them."""

    equal_ratio: str = ""
    """Compression ratio of every cylinder once they are equal."""

    ratio_spread: str = ""
    missing: str = ""
    """Sentence: what to enter to see compression ratios."""

    not_measured: str = ""
    """Sentence that names the cylinders without a volume."""
