"""Which heads of the floor are wanted, as an address asks for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

from shopflow.models import JobState
from shopflow.web.floor.moves import Move, Standing

STANDINGS = {"late": "Late", "risk": "At risk", "waiting": "Waiting"}


@dataclass(frozen=True)
class Wanted:
    """What is asked for; what is empty leaves nothing out."""

    move: str = ""
    state: str = ""
    person: str = ""
    standing: str = ""
    engine: str = ""
    customer: str = ""

    @classmethod
    def asked(cls, arguments: Mapping[str, str]) -> Wanted:
        """As an address asks for it."""
        return cls(**{item.name: arguments.get(item.name, "") for item in fields(cls)})

    def takes(self, item: Standing) -> bool:
        """Whether a head is wanted."""
        found = _read_off(item)
        return all(wanted in found[name] for name, wanted in self.said.items())

    @property
    def said(self) -> dict[str, str]:
        """What was asked for, as an address has it."""
        given = {item.name: getattr(self, item.name) for item in fields(self)}
        return {name: value for name, value in given.items() if value}

    def but(self, **changes: str) -> dict[str, str]:
        """The same with something changed, as an address has it."""
        return replace(self, **changes).said


def choices(rows: Sequence[Standing]) -> dict[str, dict[str, str]]:
    """What each filter offers: what the heads on the floor have of it, by its words."""
    states = {item.row.job.state for item in rows}
    people = {item.person for item in rows} - {""}
    return {
        "state": {state.value: state.value for state in JobState if state in states},
        "person": {name: name for name in sorted(people)},
        "engine": _by_name({item.row.engine_type.id: item.row.engine_type.title for item in rows}),
        "customer": _by_name({item.row.customer.id: item.row.customer.name for item in rows}),
    }


def counts(rows: Sequence[Standing]) -> dict[str, int]:
    """How many heads each party's move is, and how many stand in each way."""
    found = [_read_off(item) for item in rows]
    return {
        **{move.value: sum(move.value in one["move"] for one in found) for move in Move},
        **{word: sum(word in one["standing"] for one in found) for word in STANDINGS},
    }


def _read_off(item: Standing) -> dict[str, set[str]]:
    """What each filter may ask for that goes with a head."""
    row = item.row
    standing = {"late": row.is_late, "risk": row.at_risk, "waiting": bool(row.waits)}
    return {
        "move": {item.move.value},
        "state": {row.job.state.value},
        "person": {item.person},
        "standing": {word for word, so in standing.items() if so},
        "engine": {str(row.engine_type.id)},
        "customer": {str(row.customer.id)},
    }


def _by_name(names: Mapping[int, str]) -> dict[str, str]:
    found = sorted(names.items(), key=lambda item: item[1].casefold())
    return {str(key): name for key, name in found}
