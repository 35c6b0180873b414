"""A stamp that changes with the names on record, so that a cache of them knows it is old."""

from __future__ import annotations

import secrets
from typing import Any

from sqlalchemy import Connection, String, event, inspect
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Mapped, Session, UOWTransaction, mapped_column

from shopflow.models.base import Base
from shopflow.models.customer import Customer
from shopflow.models.engine_type import EngineAlias, EngineType


class NameStamp(Base):
    """The mark of one kind of names; never the same again once a name has changed."""

    __tablename__ = "name_stamp"

    of: Mapped[str] = mapped_column(String(40), primary_key=True)
    """Table of the records that are called so."""

    stamp: Mapped[str] = mapped_column(String(32))


_OF: dict[type[Base], str] = {
    Customer: Customer.__tablename__,
    EngineType: EngineType.__tablename__,
    EngineAlias: EngineType.__tablename__,
}


@event.listens_for(Session, "after_flush")
def _stamp_what_was_flushed(session: Session, context: UOWTransaction) -> None:
    """Change the mark in the transaction that changes the names."""
    written = [*session.new, *session.deleted, *filter(_is_changed, session.dirty)]
    for name in sorted({_OF[type(row)] for row in written if type(row) in _OF}):
        renew(session.connection(), name)


def renew(connection: Connection, name: str) -> None:
    """Change the mark of this table's names."""
    # In one statement: between two, another's mark could come to stand there.
    on_sqlite = connection.dialect.name == "sqlite"
    insert = sqlite.insert(NameStamp) if on_sqlite else postgresql.insert(NameStamp)
    marked = insert.values(of=name, stamp=secrets.token_hex(16))
    connection.execute(
        marked.on_conflict_do_update(
            index_elements=[NameStamp.of], set_={"stamp": marked.excluded.stamp}
        )
    )


def _is_changed(row: Any) -> bool:
    return type(row) in _OF and any(item.history.has_changes() for item in inspect(row).attrs)
