"""Filters of the heads on the floor, as an address states them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

from shopflow.models import JobState
from shopflow.texts import lazy, translated
from shopflow.web.planning.floor.moves import Standing

STANDINGS = {"late": lazy("Late"), "risk": lazy("At risk"), "waiting": lazy("Waiting")}


@dataclass(frozen=True)
class Wanted:
    """Filter of heads; an empty field matches every head."""

    move: str = ""
    state: str = ""
    person: str = ""
    standing: str = ""
    engine: str = ""
    customer: str = ""

    @classmethod
    def from_query(cls, arguments: Mapping[str, str]) -> Wanted:
        """Read the filter from an address."""
        return cls(**{item.name: arguments.get(item.name, "") for item in fields(cls)})

    def of(self, rows: Iterable[Standing]) -> list[Standing]:
        """The heads that match."""
        fields_set = self.as_query.items()
        return [
            item for item in rows if all(word in _read_off(item)[name] for name, word in fields_set)
        ]

    @property
    def as_query(self) -> dict[str, str]:
        """Fields of the filter that are not empty, as an address has them."""
        values = {item.name: getattr(self, item.name) for item in fields(self)}
        return {name: value for name, value in values.items() if value}

    def but(self, **changes: str) -> dict[str, str]:
        """The same with something changed, as an address has it."""
        return replace(self, **changes).as_query


def choices(rows: Sequence[Standing]) -> dict[str, dict[str, str]]:
    """Choices of each filter: the values that occur on the floor, by their labels."""
    heads = [item.row.head for item in rows]
    states = {head.state for head in heads}
    people = {name for item in rows for name in item.people}
    return {
        "state": {state.value: translated(state) for state in JobState if state in states},
        "person": {name: name for name in sorted(people)},
        "engine": _by_name({head.engine_type_id: head.engine_type for head in heads}),
        "customer": _by_name({head.customer_id: head.customer for head in heads}),
    }


def counts(rows: Sequence[Standing]) -> Counter[str]:
    """Number of heads by the party to act next, and by each standing."""
    by_word = Counter(item.move.value for item in rows)
    by_word.update(word for item in rows for word in _stands(item))
    return by_word


def _read_off(item: Standing) -> dict[str, Collection[str]]:
    """Values of a head by the filter that matches them."""
    head = item.row.head
    return {
        "move": [item.move.value],
        "state": [head.state.value],
        "person": item.people,
        "standing": _stands(item),
        "engine": [str(head.engine_type_id)],
        "customer": [str(head.customer_id)],
    }


def _stands(item: Standing) -> list[str]:
    """In which of the STANDINGS a head stands."""
    row = item.row
    standing = (("late", row.is_late), ("risk", row.at_risk), ("waiting", bool(row.waits)))
    return [word for word, so in standing if so]


def _by_name(names: Mapping[int, str]) -> dict[str, str]:
    in_order = sorted(names.items(), key=lambda item: item[1].casefold())
    return {str(key): name for key, name in in_order}
