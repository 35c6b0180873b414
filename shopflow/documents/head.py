"""A head, and the figures measured on it and calculated for it."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.texts import gettext


@dataclass(frozen=True)
class HeadIdentity:
    """A head, and how it is known."""

    tag: str
    engine_type: str
    casting_number: str = ""
    serial: str = ""
    material: str = ""
    ports: str = ""
    chamber: str = ""
    condition: str = ""
    parts_received: str = ""
    came_back_because: str = ""


@dataclass(frozen=True)
class Measured:
    """One measured figure as typed, with its limits and verdict in words."""

    what: str
    where: str
    when: str
    value: str
    limits: str = ""
    verdict: str = ""
    decision: str = ""
    """Decision on how to continue after a measurement outside its limits."""

    @property
    def is_outside(self) -> bool:
        """True where it is outside its limits."""
        return self.verdict.startswith("out")


@dataclass(frozen=True)
class Tested:
    """A pressure, vacuum, leak or crack test: its conditions, and passed or failed."""

    what: str
    where: str
    conditions: str
    result: str
    notes: str = ""
    decision: str = ""
    """Decision on how to continue after a failed test."""

    @property
    def is_failed(self) -> bool:
        """True where the head failed it, be it repairable or not."""
        return self.result in ("failed", "repairable")


@dataclass(frozen=True)
class Figure:
    """A figure for the assembler and its source."""

    name: str
    value: str
    working: str = ""
    decisive: bool = False
    """True where the other results lead up to it, to be set or checked by the assembler."""


@dataclass(frozen=True)
class ValveFigures:
    """One side's set-up."""

    side: str
    figures: tuple[Figure, ...]
    by_valve: tuple[str, ...] = ()
    """Names of the figures that are stated valve by valve instead."""


def identifiers(head: HeadIdentity) -> str:
    """Numbers that identify a head, as "casting 3-0917-L, serial 2204"."""
    casting = gettext("casting {number}", number=head.casting_number)
    serial = gettext("serial {number}", number=head.serial)
    numbers = ((casting, head.casting_number), (serial, head.serial))
    return ", ".join(words for words, number in numbers if number)
