"""Chambers of a head: each volume, what to take out of it, and what that does to compression."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ChamberOf:
    """One cylinder's chamber, and what to take out of it."""

    where: str
    volume: str
    take_out: str
    """Empty for the largest."""

    ratio: str = ""
    """Compression ratio as measured."""


@dataclass(frozen=True)
class Chambers:
    """Chambers of a head, brought to the largest."""

    each: tuple[ChamberOf, ...]
    summary: str
    """As "Largest 54.2 cm³, cylinder 3. Take 0.4 cm³ out of cylinder 1"."""

    spread: str
    when: str
    equal_ratio: str = ""
    """Compression ratio of every cylinder once they are equal."""

    ratio_spread: str = ""
    missing: str = ""
    """Sentence: what to enter to see compression ratios."""

    not_measured: str = ""
    """Sentence that names the cylinders without a volume."""
