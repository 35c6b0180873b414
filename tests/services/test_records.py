"""Storage of every record: times in UTC, exact money, one writer at a time, a way in."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from sqlalchemy import Engine, insert, text, update
from sqlalchemy.exc import StatementError
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from shopflow.database import open_engine, session_factory
from shopflow.errors import ShopflowError
from shopflow.models import Customer, Payment
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.billing import payments
from shopflow.services.jobs import jobs
from shopflow.services.registry import customers
from tests import factories
from tests.patience import PATIENCE


def test_a_moment_is_stored_in_utc_whatever_zone_it_comes_in(db: Session):
    chicago = datetime(2026, 3, 5, 9, 30, tzinfo=timezone(timedelta(hours=-6)))
    customer = customers.create(db, Actor(None, chicago), {"name": "Ostrava"})
    db.flush()
    db.expire(customer)
    assert customer.created_at == chicago
    assert customer.created_at.utcoffset() == timedelta(0)
    raw = db.scalar(text("SELECT CAST(created_at AS VARCHAR) FROM customer"))
    if db.get_bind().dialect.name == "sqlite":
        assert str(raw).startswith("2026-03-05 15:30:00")


def test_a_time_without_a_zone_or_money_past_the_cent_is_refused(db: Session):
    naive = datetime(2026, 3, 5, 15, 30)  # noqa: DTZ001
    with pytest.raises(StatementError, match="needs its zone"):
        db.execute(insert(Customer).values(name="Ostrava", created_at=naive))
    with pytest.raises(StatementError, match="more than two decimals"):
        db.execute(update(Payment).values(amount=Decimal("1.005")))


@pytest.mark.parametrize("amount", ["0.01", "0.10", "99999999.99", "1e2", "19.9"])
def test_money_comes_back_to_the_cent(db: Session, amount: str):
    typed = {"amount": amount, "method": "cash", "overpayment_meant": True}
    row = payments.record(db, factories.BY, factories.create_job(db), typed)
    db.flush()
    db.expire(row)
    assert isinstance(row.amount, Decimal)
    assert row.amount == Decimal(amount)
    assert str(row.amount) == f"{Decimal(amount):.2f}"
    hundredths = db.scalar(text("SELECT amount FROM payment"))
    assert hundredths == int(Decimal(amount) * 100)


def test_the_second_of_two_writers_of_a_record_is_refused(engine: Engine, by: Actor):
    with session_factory(engine).begin() as db:
        key = factories.create_customer(db, phone="555 0100").id
    make = session_factory(engine)
    with make() as first, make() as second:
        mine = customers.get(first, key)
        first.commit()
        theirs = customers.get(second, key)
        second.commit()
        customers.change(first, by, mine, {"phone": "555 0111"})
        first.commit()
        with pytest.raises(StaleDataError):
            customers.change(second, by, theirs, {"phone": "555 0122"})
        second.rollback()
        second.expire_all()
        assert customers.get(second, key).phone == "555 0111"


def test_a_jobs_log_is_told_latest_first_with_who_did_it(db: Session, by: Actor):
    clerk = factories.someone(db, "Ines Okoye")
    job = factories.create_job(db)
    later = Actor(clerk.person, by.at + timedelta(hours=1))
    jobs.change(db, later, job, {"fuel": "gasoline"})
    answer = audit_log.of_job(db, job)
    assert (answer[0].verb, answer[0].at, answer[0].person) == ("changed", later.at, clerk.person)
    assert answer[0].at.tzinfo == UTC
    assert [entry.at for entry in answer] == sorted((e.at for e in answer), reverse=True)
    assert {entry.verb for entry in answer[1:]} == {"booked in", "taken in", "added"}


@pytest.mark.parametrize(
    ("url", "words"),
    [("", "not a database URL"), ("mysql://host/shop", "'mysql' is not supported")],
)
def test_another_kind_of_database_is_refused(url: str, words: str):
    with pytest.raises(ShopflowError, match=words):
        open_engine(url)


def test_without_its_driver_postgresql_says_what_to_install():
    program = (
        "import sys; sys.modules['psycopg'] = None\n"
        "from shopflow.cli import main\n"
        "sys.exit(main(['find', 'x', '--database-url', 'postgresql://host/shop']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr == "shopflow: PostgreSQL needs its driver: install 'shopflow[pg]'\n"
