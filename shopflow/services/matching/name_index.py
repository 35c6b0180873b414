"""Names of engine types and customers, folded once and cached until a name changes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from threading import Lock
from typing import Any, TypeVar

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.models import Customer, EngineAlias, EngineType, NameStamp
from shopflow.services.matching.fuzzy import Names, bare, plain

LONG_WORD = 4
"""Letters from which one word of a customer's name may stand for the whole."""

MOST_KEPT = 6
"""Sets of names kept in memory; a shop has two, and the one before while it changes."""

Kept = TypeVar("Kept")


@dataclass(frozen=True)
class Called:
    """An engine type by all that it is called, and its size."""

    key: int
    builder: str
    family: str
    cylinders: int
    valves_per_cylinder: int
    size: str
    """Displacement as typed; empty where it is not on record."""

    displacement: float | None
    aliases: tuple[str, ...]

    @property
    def title(self) -> str:
        """Builder and family."""
        return f"{self.builder} {self.family}"

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Its own names, then the others."""
        return (self.title, self.builder, self.family, *self.aliases)

    @cached_property
    def digits(self) -> tuple[str, ...]:
        """Every number in its names, and the counts of its cylinders and valves."""
        in_names = (number for name in self.names for number in digits_of(name))
        valves = self.valves_per_cylinder, self.cylinders * self.valves_per_cylinder
        return (*in_names, *map(str, (self.cylinders, *valves)))

    def contradicts(self, text: str) -> bool:
        """True where a text has a number that is in none of this type's names and counts.

        The beginning of a number is enough, as "34" of 342.
        """
        return not all(
            any(own.startswith(number) for own in self.digits) for number in digits_of(text)
        )

    @cached_property
    def bare_builder(self) -> str:
        """Its builder's letters and digits."""
        return bare(plain(self.builder))

    @cached_property
    def bare_family(self) -> str:
        """Its family's letters and digits."""
        return bare(plain(self.family))

    @cached_property
    def families(self) -> frozenset[str]:
        """The letters and digits of its family and of its other names."""
        others = {bare(plain(name)) for name in self.aliases}
        return frozenset({self.bare_family, *others} - {""})


@dataclass(frozen=True)
class EngineNames:
    """Every engine type on record by builder and family, and their names."""

    types: tuple[Called, ...]
    kin: dict[int, tuple[int, ...]] = field(default_factory=dict)
    """Keys of those that seem to be of the same family, by the key of each that was asked for."""

    @cached_property
    def names(self) -> Names:
        """All that any of them is called."""
        return Names(self._having)

    @cached_property
    def exact(self) -> frozenset[str]:
        """The letters and digits of each name."""
        return frozenset(bare(plain(name)) for name in self._having) - {""}

    def called(self, names: Iterable[str]) -> set[int]:
        """Indexes, among the types, of those that have one of these names."""
        return {index for name in names for index in self._having[name]}

    @cached_property
    def _having(self) -> dict[str, list[int]]:
        having: dict[str, list[int]] = {}
        for index, engine_type in enumerate(self.types):
            for name in engine_type.names:
                having.setdefault(name, []).append(index)
        return having


@dataclass(frozen=True)
class CustomerNames:
    """Every customer's key and name."""

    customers: tuple[tuple[int, str], ...]
    _beginnings: dict[int, Parts] = field(default_factory=dict)

    @cached_property
    def exact(self) -> frozenset[str]:
        """The letters and digits of each name."""
        return frozenset(bare(plain(name)) for _, name in self.customers) - {""}

    def called(self, text: str) -> dict[int, str]:
        """Customers whose name, or a word of it, is the text typed."""
        names = self._parts.called(text)
        words = len(text.split())
        if words > 1:
            # A slip in the first words of a longer name.
            if words not in self._beginnings:
                longer = [
                    customer for customer in self.customers if len(customer[1].split()) > words
                ]
                self._beginnings[words] = Parts(longer, lambda name: [_first(name, words)])
            names |= self._beginnings[words].called(text)
        return names

    @cached_property
    def _parts(self) -> Parts:
        return Parts(self.customers, lambda name: [name, *_long_words(name)])


class Parts:
    """Parts of customers' names, and who has them."""

    def __init__(
        self, customers: Iterable[tuple[int, str]], parts: Callable[[str], list[str]]
    ) -> None:
        self._having: dict[str, dict[int, str]] = {}
        for key, name in customers:
            for part in parts(name):
                self._having.setdefault(part, {})[key] = name
        self._names = Names(self._having)

    def called(self, text: str) -> dict[int, str]:
        """The customers of the parts that are like a text."""
        return {
            key: name for part in self._names.like(text) for key, name in self._having[part].items()
        }


def digits_of(text: str) -> list[str]:
    """The numbers in a text.

    >>> digits_of("V 18-T 20-valve")
    ['18', '20']
    """
    return re.findall(r"\d+", text)


def engine_types(db: Session) -> EngineNames:
    """Index of the engine types' names."""
    return _unless_old(db, EngineType.__tablename__, _read_engine_types)


def customers(db: Session) -> CustomerNames:
    """Index of the customers' names."""
    return _unless_old(db, Customer.__tablename__, _read_customers)


_STAMP = select(NameStamp.stamp).where(NameStamp.of == bindparam("of"))
_kept: dict[tuple[str, str], Any] = {}
_keeping = Lock()


def _unless_old(db: Session, of: str, read: Callable[[Session], Kept]) -> Kept:
    """Cached index, where no name has changed since; without a stamp it is read each time.

    The stamp is read first, so that the index is never older than its stamp says.
    """
    stamp = db.scalar(_STAMP, {"of": of})
    index: Kept | None = _kept.get((of, stamp or ""))
    if index is None:
        index = read(db)
        if stamp is not None:
            with _keeping:
                _kept[of, stamp] = index
                while len(_kept) > MOST_KEPT:
                    del _kept[next(iter(_kept))]
    return index


def _read_engine_types(db: Session) -> EngineNames:
    columns = EngineType.__table__.c
    other: dict[int, list[str]] = {}
    for key, name in db.execute(
        select(EngineAlias.engine_type_id, EngineAlias.name).order_by(EngineAlias.name)
    ):
        other.setdefault(key, []).append(name)
    types = db.execute(
        select(
            columns.id, columns.builder, columns.family, columns.cylinders,
            columns.valves_per_cylinder,
            columns.displacement_typed, columns.displacement_si,
        ).order_by(columns.builder, columns.family)
    )  # fmt: skip
    return EngineNames(
        tuple(
            Called(
                key, builder, family, cylinders, valves, size or "", si, tuple(other.get(key, ()))
            )
            for key, builder, family, cylinders, valves, size, si in types
        )
    )


def _read_customers(db: Session) -> CustomerNames:
    rows = db.execute(select(Customer.id, Customer.name))
    return CustomerNames(tuple((key, name) for key, name in rows))


def _long_words(name: str) -> list[str]:
    return [word for word in name.split() if len(word) >= LONG_WORD]


def _first(name: str, words: int) -> str:
    return " ".join(name.split()[:words])
