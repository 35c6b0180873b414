"""Reading what hangs on records in one statement each, put together once.

A `selectinload` does as much, and puts its statement together again at every page with all the
options of the whole: three times the work.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Generic, TypeVar

from sqlalchemy import BooleanClauseList, ColumnElement, bindparam, exists, select
from sqlalchemy.orm import InstrumentedAttribute, Session
from sqlalchemy.orm.attributes import set_committed_value
from sqlalchemy.orm.interfaces import ORMOption
from sqlalchemy.sql.visitors import iterate

from shopflow.models import Base

T = TypeVar("T", bound=Base)


class Filling(Generic[T]):
    """Loader of one relation for many records, in the relation's order and with these options."""

    def __init__(self, relation: InstrumentedAttribute[list[T]], *options: ORMOption) -> None:
        relationship: Any = relation.property
        ((owns, refers),) = relationship.local_remote_pairs
        self.name = relationship.key
        self.owner = relationship.mapper.get_property_by_column(refers).key
        self.clauses = (
            refers.in_(bindparam("owners", expanding=True)),
            *_criteria(relationship.primaryjoin, owns),
        )
        self.query = (
            select(relationship.mapper.class_)
            .where(*self.clauses)
            .order_by(*relationship.order_by or ())
            .options(*options)
        )

    def fill(self, db: Session, owners: Sequence[Any]) -> list[T]:
        """Load the relation of all these records by their `id`; return the rows loaded, for
        relations of theirs. Without records no query is made."""
        if not owners:
            return []
        rows = list(db.scalars(self.query, {"owners": [owner.id for owner in owners]}))
        by_owner: dict[int, list[T]] = defaultdict(list)
        for row in rows:
            by_owner[getattr(row, self.owner)].append(row)
        for owner in owners:
            set_committed_value(owner, self.name, by_owner[owner.id])
        return rows


class Seldom:
    """Loader of relations that hold nothing of most records: one statement tells which do."""

    def __init__(self, *fillings: Filling[Any]) -> None:
        self.fillings = fillings
        self.query = select(*(exists().where(*filling.clauses) for filling in fillings))

    def fill(self, db: Session, owners: Sequence[Any]) -> None:
        """Load the relations of all these records; those that hold nothing are set empty."""
        if not owners:
            return
        row = db.execute(self.query, {"owners": [owner.id for owner in owners]}).one()
        for filling, is_held in zip(self.fillings, row, strict=True):
            if is_held:
                filling.fill(db, owners)
                continue
            for owner in owners:
                set_committed_value(owner, filling.name, [])


def _criteria(join: ColumnElement[bool], owns: Any) -> list[ColumnElement[bool]]:
    """Criteria of a relation beside its keys, as that a test counts."""
    clauses = join.clauses if isinstance(join, BooleanClauseList) else [join]
    return [clause for clause in clauses if not any(map(owns.compare, iterate(clause)))]
