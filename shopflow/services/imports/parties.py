"""The customers and engine types that a file's rows speak of, on record or to be made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import Customer, EngineType
from shopflow.services.actor import Actor
from shopflow.services.imports.planning import checked
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.matching.fuzzy import bare, plain
from shopflow.services.registry import customers, engine_types
from shopflow.texts import gettext, lazy

ENGINE_COLUMNS = (
    Column("engine type", lazy("Any name on record. For example Ironside 342.")),
    Column("builder", lazy("For a new engine type, with family and engine cylinders.")),
    Column("family", lazy("For a new engine type.")),
    Column("engine cylinders", lazy("For a new engine type.")),
    Column("valves per cylinder", lazy("For a new engine type; empty means 2.")),
)
_NEW_ENGINE = {
    "builder": "builder",
    "family": "family",
    "cylinders": "engine cylinders",
    "valves_per_cylinder": "valves per cylinder",
}


@dataclass(eq=False)
class Party:
    """A customer or an engine type: the row on record, or the values it will be made with."""

    name: str
    row: Any = None
    values: dict[str, Any] = field(default_factory=dict)
    is_told: bool = False
    """True where a row has announced that it will be created."""

    def announced(self) -> str:
        """Its name, with a note that the import creates it for the first row that does."""
        if not self.is_new or self.is_told:
            return self.name
        self.is_told = True
        if "family" in self.values:
            return gettext("{name} (new engine type)", name=self.name)
        return gettext("{name} (new customer)", name=self.name)

    def get(self, name: str) -> Any:
        """A value of the row on record, or of the row to be."""
        return self.values.get(name) if self.is_new else getattr(self.row, name)

    @property
    def is_new(self) -> bool:
        """True where it is not on record yet."""
        return self.row is None


class Parties:
    """Customers and engine types by name, those on record and those the file adds."""

    def __init__(self, db: Session) -> None:
        self.customers: dict[str, list[Party]] = defaultdict(list)
        for customer in customers.list_all(db):
            self.customers[plain(customer.name)].append(Party(customer.name, customer))
        self.engines: dict[str, list[Party]] = defaultdict(list)
        for engine_type in engine_types.list_all(db):
            party = Party(engine_type.title, engine_type)
            for name in {bare(plain(name)) for name in _names(engine_type)}:
                self.engines[name].append(party)

    def customer(self, sheet: Sheet, record: Record, column: str = "customer") -> Party | None:
        """The customer a row names, created where the name is new; None with an error."""
        name = record.get(column)
        if not name:
            return None
        parties = self.customers[plain(name)]
        if len(parties) > 1:
            words = gettext(
                "{count} customers are called {name}: give them different names first",
                count=len(parties),
                name=name,
            )
            sheet.fault(record.row, column, words)
            return None
        if not parties:
            values = checked(sheet, record, customers.SPECIFICATION, {"name": column})
            if not values:
                return None
            parties.append(Party(name, None, values))
        return parties[0]

    def engine(self, sheet: Sheet, record: Record) -> Party | None:
        """The engine type a row names, or a new one; None with an error."""
        builder, family = record.get("builder"), record.get("family")
        name = record.get("engine type") or f"{builder} {family}".strip()
        at = "engine type" if record.get("engine type") else "builder"
        if not name:
            sheet.fault(
                record.row,
                "engine type",
                gettext("no engine type: enter the engine type, or builder and family"),
            )
            return None
        parties = self.engines[bare(plain(name))]
        if len(parties) > 1:
            titles = ", ".join(party.name for party in parties)
            sheet.fault(
                record.row,
                at,
                gettext(
                    "'{name}' may be {titles}: write builder and family", name=name, titles=titles
                ),
            )
            return None
        if not parties:
            created = self._new_engine(sheet, record, name, at)
            return created
        return parties[0]

    def _new_engine(self, sheet: Sheet, record: Record, name: str, at: str) -> Party | None:
        if not (record.get("builder") and record.get("family") and record.get("engine cylinders")):
            words = gettext(
                "no engine type is called '{name}': a new one needs builder, family and engine "
                "cylinders",
                name=name,
            )
            sheet.fault(record.row, at, words)
            return None
        values = checked(sheet, record, engine_types.SPECIFICATION, _NEW_ENGINE)
        if not values:
            return None
        party = Party(f"{values['builder']} {values['family']}", None, values)
        for called in {bare(plain(name)), bare(plain(party.name))}:
            self.engines[called].append(party)
        return party

    def make(self, db: Session, by: Actor, used: Iterable[Party]) -> None:
        """Record what is not on record yet, so that each has its key."""
        for party in dict.fromkeys(used):
            if party.is_new:
                create = engine_types.create if "family" in party.values else customers.create
                party.row = create(db, by, party.values)
        db.flush()


def _names(engine_type: EngineType) -> list[str]:
    aliases = [alias.name for alias in engine_type.aliases]
    return [engine_type.title, engine_type.family, *aliases]


def current_name(customer: Customer | None) -> str:
    """A customer's name, or that there is none."""
    return customer.name if customer else gettext("nobody")
