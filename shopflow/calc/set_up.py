"""Set-ups of flow tests: what stood on the bench, and whether two of them are alike."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from shopflow.texts import gettext_noop


class Part(StrEnum):
    """A part of a set-up; the keys of the flow test file's table."""

    SLEEVE = "sleeve"
    INLET = "inlet"
    STUB = "stub"
    MANIFOLD = "manifold"
    CARBURETOR = "carburetor"
    HEADER = "header"
    SPARK_PLUG = "spark_plug"
    GUIDE = "guide"


NONE = gettext_noop("none")
"""Stated of a part that was not on the bench."""

ATTACHED = (Part.MANIFOLD, Part.CARBURETOR, Part.HEADER)
"""Parts that the flow passes one after another with the port."""


@dataclass(frozen=True, slots=True)
class SetUp:
    """Set-up as a test states it."""

    stated: tuple[tuple[Part, str], ...] = ()
    """Parts with what stood there, "none" among them; a part that is absent is not stated."""

    test: Hashable = None
    """The test on record, where it is one."""

    meant_with: frozenset[Hashable] = frozenset()
    """Tests on record that a person confirmed it may be compared with."""

    same_as: frozenset[Hashable] = frozenset()
    """Those of them that stood on the same set-up, though not all of it was written down."""

    def of(self, part: Part) -> str:
        """Text stated of a part; empty where nothing is."""
        return dict(self.stated).get(part, "")


NOT_STATED = SetUp()


@dataclass(frozen=True, slots=True)
class Unlike:
    """A part that two tests state differently; empty where one of them does not state it."""

    part: Part
    first: str
    other: str

    @property
    def is_half_stated(self) -> bool:
        """True where one test says nothing of the part."""
        return not (self.first and self.other)


def unlike_parts(first: SetUp, other: SetUp) -> tuple[Unlike, ...]:
    """The parts that two set-ups do not state alike; capitals and spacing do not count.

    Examples
    --------
    >>> bare, dressed = SetUp(((Part.MANIFOLD, "none"),)), SetUp(((Part.MANIFOLD, "M-2"),))
    >>> [(item.part.value, item.first, item.other) for item in unlike_parts(bare, dressed)]
    [('manifold', 'none', 'M-2')]
    """
    pairs = ((part, first.of(part), other.of(part)) for part in Part)
    return tuple(Unlike(*row) for row in pairs if _plain(row[1]) != _plain(row[2]))


def differing(set_ups: Sequence[SetUp]) -> tuple[Unlike, ...]:
    """The parts that keep set-ups from being compared: unlike in a pair that nobody confirmed."""
    unlike = (
        item
        for first, other in combinations(set_ups, 2)
        if not (_names(first.meant_with, other) or _names(other.meant_with, first))
        for item in unlike_parts(first, other)
    )
    return tuple(dict.fromkeys(unlike))


def are_of_one(first: SetUp, other: SetUp) -> bool:
    """True where two tests differ by the head alone: set-ups alike, or confirmed as the same."""
    if _names(first.same_as, other) or _names(other.same_as, first):
        return True
    return not unlike_parts(first, other)


def _names(tests: frozenset[Hashable], other: SetUp) -> bool:
    return other.test is not None and other.test in tests


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()
