"""What engine types and customers are called: read each time, folded only when it has changed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import Customer, EngineAlias, EngineType
from shopflow.services.likeness import Names

LONG_WORD = 4
"""Letters from which one word of a customer's name may stand for the whole."""

Rows = tuple[tuple[int, str], ...]


@dataclass(frozen=True)
class Called:
    """An engine type by all that it is called, and its size."""

    key: int
    builder: str
    family: str
    cylinders: int
    size: str
    """Displacement as typed; empty where it is not on file."""

    displacement: float | None
    aliases: tuple[str, ...]

    @property
    def title(self) -> str:
        """Builder and family."""
        return f"{self.builder} {self.family}"

    @property
    def names(self) -> tuple[str, ...]:
        """Its own names, then the others."""
        return (self.title, self.builder, self.family, *self.aliases)


@dataclass(frozen=True)
class EngineNames:
    """Every engine type on file, and their names."""

    types: tuple[Called, ...]
    names: Names


def engine_types(db: Session) -> EngineNames:
    """What the engine types are called."""
    columns = EngineType.__table__.c
    types = db.execute(
        select(
            columns.id, columns.builder, columns.family, columns.cylinders,
            columns.displacement_typed, columns.displacement_si,
        ).order_by(columns.builder, columns.family)
    )  # fmt: skip
    aliases = db.execute(
        select(EngineAlias.engine_type_id, EngineAlias.name).order_by(EngineAlias.name)
    )
    return _engine_names(
        tuple((*row,) for row in types), tuple((key, name) for key, name in aliases)
    )


def customers(db: Session) -> Rows:
    """Every customer's key and name."""
    return tuple((key, name) for key, name in db.execute(select(Customer.id, Customer.name)))


def customers_called(rows: Rows, text: str) -> list[tuple[int, str]]:
    """Those of these customers whose name, or a word of it, is what was typed."""
    alike = _customer_names(rows).like(text)
    words = len(text.split())
    if words > 1:
        # A slip in the first words of a longer name.
        alike |= _customer_beginnings(rows, words).like(text)
    if not alike:
        return []
    return [
        (key, name)
        for key, name in rows
        if name in alike
        or any(word in alike for word in _long_words(name))
        or (words > 1 and _beginning(name, words) in alike)
    ]


# A list of rows is its own key: what has changed is another list.
@lru_cache(maxsize=4)
def _engine_names(
    types: tuple[tuple[int, str, str, int, str | None, float | None], ...], aliases: Rows
) -> EngineNames:
    other: dict[int, list[str]] = {}
    for key, name in aliases:
        other.setdefault(key, []).append(name)
    called = tuple(
        Called(key, builder, family, cylinders, size or "", si, tuple(other.get(key, ())))
        for key, builder, family, cylinders, size, si in types
    )
    return EngineNames(called, Names(name for one in called for name in one.names))


@lru_cache(maxsize=4)
def _customer_names(rows: Rows) -> Names:
    return Names(part for _, name in rows for part in (name, *_long_words(name)))


@lru_cache(maxsize=8)
def _customer_beginnings(rows: Rows, words: int) -> Names:
    return Names(_beginning(name, words) for _, name in rows)


def _long_words(name: str) -> list[str]:
    return [word for word in name.split() if len(word) >= LONG_WORD]


def _beginning(name: str, words: int) -> str:
    return " ".join(name.split()[:words])
