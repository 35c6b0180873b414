"""Findings of a check, and looks at records that may be too damaged to read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sqlalchemy.exc import StatementError

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

DAMAGE = (
    ArithmeticError,
    AttributeError,
    LookupError,
    OSError,
    ShopflowError,
    StatementError,
    TypeError,
    ValueError,
)
"""Errors that a record raises whose stored values cannot be read or do not belong together."""

Faults = Iterator[str | None]
"""For each thing looked at, what is wrong with it in words, or None."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Result of one check: its subject, the number of items, the faults, and what to do then."""

    what: str
    count: int
    faults: tuple[str, ...]
    advice: str = ""

    @classmethod
    def of(cls, what: str, faults: Faults, advice: str) -> Finding:
        """The result of looking at everything."""
        looked_at = list(readable(what, faults))
        return cls(what, len(looked_at), tuple(fault for fault in looked_at if fault), advice)


def looked_at(name: str, look: Callable[[], str | None]) -> str | None:
    """The fault of one record; that it cannot be read is one."""
    try:
        return look()
    except DAMAGE as error:
        return unreadable(name, error)


def readable(name: str, faults: Faults) -> Faults:
    """Faults of many records; that they cannot be read on is one."""
    try:
        yield from faults
    except DAMAGE as error:
        yield unreadable(name, error)


def unreadable(name: str, error: Exception) -> str:
    """The fault of a record that cannot be read."""
    words = f"{type(error).__name__}: {str(error).splitlines()[0] if str(error) else ''}"
    return gettext("{name}: it cannot be read ({error})", name=name, error=words)
