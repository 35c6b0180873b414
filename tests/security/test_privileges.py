"""An account of PostgreSQL that serves and no more: the statements of the guide, on a real server.

Guard: the database itself. What the account that owns the tables could do, this one cannot.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ProgrammingError

from shopflow import create_app
from shopflow.config import Settings
from shopflow.database import downgrade, open_engine, session_factory
from shopflow.errors import ShopflowError
from tests import factories
from tests.optional import present
from tests.reliability.serving import typed_in

GUIDE = Path(__file__).parents[2] / "shopflow" / "guide" / "running-the-server.md"


@pytest.fixture
def serving_url(postgresql_url: str) -> Iterator[str]:
    """Address of a shop's database, for the account that serves."""
    owner = open_engine(postgresql_url)
    with session_factory(owner).begin() as db:
        factories.create_shop(db)
        factories.create_person(db)
    (block,) = re.findall(r"```sql\n(.*?)```", GUIDE.read_text(encoding="utf-8"), re.DOTALL)
    role = present(re.search(r"CREATE ROLE (\w+)", block))[1]
    with owner.begin() as connection:
        connection.execute(text(block))
    yield make_url(postgresql_url).set(username=role).render_as_string(hide_password=False)
    with owner.begin() as connection:
        connection.execute(text(f"DROP OWNED BY {role}; DROP ROLE {role}"))
    owner.dispose()


def test_the_account_that_serves_does_the_work_and_cannot_change_the_log_or_the_schema(
    serving_url: str, tmp_path: Path
):
    """ASVS 13.2.2, 16.4.2."""
    app = create_app(Settings.for_folder(tmp_path, serving_url))
    client = app.test_client()

    def post(address: str, **values: str) -> None:
        form = typed_in(client.get(address).text, address)
        assert client.post(address, data=form | values).status_code == 302

    post("/sign-in", login="owner", password=factories.PASSWORD)
    post("/customers/new", name="Orla Finch")
    post("/customers/1/change", name="Orla Finch", phone="555 0100")
    engine = app.extensions["shopflow.engine"]
    with engine.connect() as connection:
        logged = connection.scalar(text("SELECT count(*) FROM event WHERE subject = 'customer'"))
    assert logged == 2
    for statement in (
        "UPDATE event SET verb = 'x'", "DELETE FROM event", "TRUNCATE event",
        "ALTER TABLE event ADD COLUMN x int", "DROP TABLE event", "CREATE TABLE x (y int)",
        "ALTER TABLE certificate DISABLE TRIGGER ALL", "UPDATE alembic_version SET version_num = 1",
    ):  # fmt: skip
        with engine.connect() as connection, pytest.raises(ProgrammingError) as refused:
            connection.execute(text(statement))
        cause = refused.value.orig
        assert isinstance(cause, psycopg.Error)
        assert cause.sqlstate == "42501", statement
    engine.dispose()


def test_the_account_that_serves_says_that_another_must_bring_the_schema_up(
    serving_url: str, postgresql_url: str, tmp_path: Path
):
    owner = create_engine(postgresql_url)
    downgrade(owner, "-1")
    owner.dispose()
    with pytest.raises(ShopflowError, match="may not change its tables"):
        create_app(Settings.for_folder(tmp_path, serving_url))
