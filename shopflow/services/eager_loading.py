"""Reading what hangs on records in one statement each, put together once.

A `selectinload` does as much, and puts its statement together again at every page with all the
options of the whole: three times the work.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Generic, TypeVar

from sqlalchemy import BooleanClauseList, ColumnElement, bindparam, select
from sqlalchemy.orm import InstrumentedAttribute, Session
from sqlalchemy.orm.attributes import set_committed_value
from sqlalchemy.orm.interfaces import ORMOption
from sqlalchemy.sql.visitors import iterate

from shopflow.models import Base

T = TypeVar("T", bound=Base)


class Filling(Generic[T]):
    """What hangs on records by one relation, in its order, as the options have it loaded."""

    def __init__(self, relation: InstrumentedAttribute[list[T]], *options: ORMOption) -> None:
        kept: Any = relation.property
        ((owns, refers),) = kept.local_remote_pairs
        self.name = kept.key
        self.owner = kept.mapper.get_property_by_column(refers).key
        self.query = (
            select(kept.mapper.class_)
            .where(refers.in_(bindparam("owners", expanding=True)))
            .where(*_criteria(kept.primaryjoin, owns))
            .order_by(*kept.order_by or ())
            .options(*options)
        )

    def fill(self, db: Session, owners: Sequence[Any]) -> list[T]:
        """Read it for all of these records, by their `id`; all that was found, for what hangs on
        that. Where there are no records nothing is asked."""
        if not owners:
            return []
        rows = list(db.scalars(self.query, {"owners": [owner.id for owner in owners]}))
        found: dict[int, list[T]] = defaultdict(list)
        for row in rows:
            found[getattr(row, self.owner)].append(row)
        for owner in owners:
            set_committed_value(owner, self.name, found[owner.id])
        return rows


def _criteria(join: ColumnElement[bool], owns: Any) -> list[ColumnElement[bool]]:
    """What a relation asks for beside the keys, as that a test counts."""
    clauses = join.clauses if isinstance(join, BooleanClauseList) else [join]
    return [clause for clause in clauses if not any(map(owns.compare, iterate(clause)))]
