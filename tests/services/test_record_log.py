"""The record log: every committed row is in it, on either database, and what it shows later."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import Engine, delete, func, insert, select, text, update
from sqlalchemy.orm import Session

from shopflow.database import downgrade, session_factory, upgrade
from shopflow.errors import ValidationError
from shopflow.files import FileStore
from shopflow.models import (
    AnchorKind,
    Base,
    BenchSession,
    Contact,
    Customer,
    Event,
    OutgoingMail,
    RecordLogAnchor,
    RecordLogEntry,
    SessionLift,
)
from shopflow.sender import Sender
from shopflow.services.actor import Actor
from shopflow.services.integrity import record_log
from shopflow.services.messaging import log_heads
from shopflow.tamper_evidence import checking, log
from shopflow.tamper_evidence.tables import EXEMPT, UNPROVED
from tests import factories
from tests.smtp import mail_server

NOW = factories.NOW


def faults(db: Session) -> list[str]:
    """Everything wrong with the log or with rows, in words."""
    connection = db.connection()
    rows = filter(None, checking.row_faults(connection))
    of_log = filter(None, checking.log_faults(connection, checking.anchored(connection)))
    return [*of_log, *(f"{row.table} {row.key}: {row.words}" for row in rows)]


def outside(engine: Engine, *statements: str) -> None:
    """Write past the program."""
    with engine.begin() as connection:
        for statement in statements:
            connection.execute(text(statement))


@pytest.fixture
def visit_id(engine: Engine) -> int:
    """A head of a job with a flow test, committed."""
    with session_factory(engine).begin() as db:
        visit = factories.create_visit(db)
        factories.create_session(db, visit=visit)
        return visit.id


def test_every_table_is_proved_or_left_out_for_a_reason() -> None:
    assert EXEMPT.keys() <= Base.metadata.tables.keys()
    assert all(EXEMPT.values())
    for name, columns in UNPROVED.items():
        assert columns <= set(Base.metadata.tables[name].c.keys())


def test_whatever_a_service_writes_is_in_the_log(engine: Engine, visit_id: int, by: Actor) -> None:
    with session_factory(engine)() as db:
        assert faults(db) == []
        before = log.head(db.connection())
        customer = db.scalars(select(Customer)).first()
        assert customer is not None
        # Changed, added, an orphan of its parent, deleted, and by statements.
        customer.notes = "calls on Fridays"
        contacts = [Contact(name=name, customer_id=customer.id) for name in ("Ola", "Ines")]
        db.add_all(contacts)
        lift = db.scalars(select(SessionLift).order_by(SessionLift.id.desc())).first()
        assert lift is not None
        lift.session.lifts.remove(lift)
        db.flush()
        db.delete(contacts[0])
        db.execute(update(Contact).where(Contact.name == "Ines").values(name="Inés"))
        db.execute(delete(Event).where(Event.id == 1))
        with db.begin_nested() as part:
            db.add(Customer(name="Nobody", created_at=NOW))
            db.flush()
            part.rollback()
        db.commit()
        assert faults(db) == []
        after = log.head(db.connection())
        assert after.size > before.size
        deleted = select(RecordLogEntry.subject).where(RecordLogEntry.digest.is_(None))
        assert set(db.scalars(deleted)) == {"session_lift", "reading", "event"}
        # What is calculated from the readings, and counted of strangers, is left out.
        db.execute(update(BenchSession).values(mean_area=0.1))
        db.commit()
        assert log.head(db.connection()) == after
        customer.notes = "never"
        db.flush()
        db.rollback()
        db.commit()
        assert log.head(db.connection()) == after
        with pytest.raises(TypeError, match="inserted by the ORM"):
            db.execute(insert(Contact), [{"customer_id": customer.id, "name": "Past it"}])


def test_what_was_written_outside_shows_even_where_it_was_saved_again(
    engine: Engine, visit_id: int, by: Actor
) -> None:
    outside(
        engine,
        "UPDATE customer SET name = 'Someone else'",
        "UPDATE reading SET flow_si = flow_si * 1.01 WHERE id = 2",
        "DELETE FROM reading WHERE id = 3",
        "INSERT INTO contact (id, customer_id, name, role, phone, email) "
        "SELECT 77, id, 'Stranger', '', '', '' FROM customer",
    )
    changed = [
        "customer 1: it was changed outside shopflow",
        "contact 77: it was added outside shopflow",
        "reading 2: it was changed outside shopflow",
        "reading 3: it was deleted outside shopflow",
    ]
    with session_factory(engine)() as db:
        assert sorted(faults(db)) == sorted(changed)
        customer = db.scalars(select(Customer)).one()
        customer.notes = "saved again"
        db.commit()
        again = "customer 1: it was changed outside shopflow, and then saved again in shopflow"
        assert again in faults(db)
        with pytest.raises(ValidationError):
            record_log.accept(db, by, " ")
        assert record_log.accept(db, by, "the disk of March, compared with the bench sheets") == 3
        db.commit()
        assert faults(db) == []
        event = db.scalars(select(Event).where(Event.verb == "records accepted")).one()
        assert event.note == "3 rows: the disk of March, compared with the bench sheets"


def test_a_log_written_anew_shows_by_the_heads_that_left_the_shop(
    engine: Engine, visit_id: int, by: Actor
) -> None:
    with session_factory(engine).begin() as db:
        factories.create_mailbox(db, log_head_to="proof@elsewhere.example")
    with session_factory(engine)() as db:
        assert log_heads.is_due(db, NOW)
        head = log.head(db.connection())
        mail = log_heads.queue(db, NOW)
        db.commit()
        assert mail is not None
        assert f"{head.size} entries, {head.root}" in mail.body
        assert log_heads.queue(db, NOW + timedelta(hours=23)) is None
        assert log_heads.is_due(db, NOW + timedelta(hours=25))
        assert db.scalar(select(func.count()).select_from(OutgoingMail)) == 1
        assert faults(db) == []
    guards = (
        ["DROP TRIGGER record_log_not_changed", "DROP TRIGGER record_log_not_deleted"]
        if engine.dialect.name == "sqlite"
        else ["ALTER TABLE record_log DISABLE TRIGGER USER"]
    )
    outside(
        engine,
        *guards,
        "UPDATE customer SET name = 'Someone else'",
        "DELETE FROM record_log",
        "DELETE FROM record_log_head",
    )
    with session_factory(engine)() as db:
        assert any("its end is missing" in fault for fault in faults(db))
        # Whoever runs the program's own code can take everything in anew, but for the anchors.
        record_log.accept(db, by, "nothing happened here")
        db.commit()
        (fault,) = faults(db)
        assert "are not those of mail of" in fault or "its end is missing" in fault
        db.execute(delete(RecordLogAnchor))
        db.commit()
        # The one that was mailed tells still.
        stated = checking.StatedHead(head.size, head.root, "the message of 5 March")
        told = list(checking.log_faults(db.connection(), [stated]))
        assert any(told)


def test_guards_refuse_to_change_the_log(engine: Engine, visit_id: int) -> None:
    for statement in ("UPDATE record_log SET subject = ''", "DELETE FROM record_log"):
        with pytest.raises(Exception, match="only appended to"):
            outside(engine, statement)


def test_a_shop_of_before_is_taken_in_as_it_stands_and_a_migration_whitewashes_nothing(
    engine: Engine, visit_id: int
) -> None:
    downgrade(engine, "0055")
    outside(engine, "UPDATE customer SET name = 'As it stood'")
    upgrade(engine)
    with session_factory(engine)() as db:
        assert faults(db) == []
        start = db.scalars(select(RecordLogAnchor)).one()
        assert (start.kind, start.size) == (AnchorKind.START, log.head(db.connection()).size)
        since = checking.beginning(db.connection())
        assert since is not None
        assert since.at.startswith(f"{start.at:%Y-%m-%d}")


def test_a_sender_mails_the_head_of_the_day_once(
    engine: Engine, visit_id: int, tmp_path: Path
) -> None:
    with mail_server() as postbox:
        with session_factory(engine).begin() as db:
            factories.create_mailbox(db, postbox.port, log_head_to="proof@elsewhere.example")
        with session_factory(engine)() as db:
            head = log.head(db.connection())
        sender = Sender(engine, FileStore(tmp_path), factories.SEAL)
        assert (sender.send_due(), sender.send_due()) == (1, 0)
        ((recipient, message),) = postbox.taken
        assert recipient == "proof@elsewhere.example"
        assert head.root in message.get_content()
    with session_factory(engine)() as db:
        assert faults(db) == []
