"""Search without its index, where PostgreSQL refuses the extension to the shop's account."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from sqlalchemy import Engine, inspect, make_url, text

from shopflow.database import downgrade, session_factory, upgrade
from shopflow.models.lookup_text import TRIGRAMS
from shopflow.services.search import past_jobs
from tests import factories
from tests.migrations.test_earlier_releases import opened
from tests.postgres import Server

GUIDE = Path(__file__).parents[2] / "shopflow" / "guide" / "running-the-server.md"


def has_index(engine: Engine) -> bool:
    """True where the search has its index."""
    return TRIGRAMS in {item["name"] for item in inspect(engine).get_indexes("lookup_text")}


def tell(engine: Engine, *statements: str) -> None:
    """Run statements and commit them."""
    with engine.begin() as connection:
        for statement in statements:
            connection.execute(text(statement))


@pytest.mark.slow
def test_an_account_that_may_not_make_the_extension_looks_up_without(postgres: Server):
    (later,) = re.findall(rf"`(CREATE INDEX {TRIGRAMS} [^`]*)`", GUIDE.read_text())
    with postgres.database("template0") as url, opened(url) as owner:
        tell(owner, "CREATE ROLE tenant LOGIN", "GRANT CREATE ON SCHEMA public TO tenant")
        tenant = make_url(url).set(username="tenant").render_as_string(hide_password=False)
        with opened(tenant) as engine:
            upgrade(engine)
            assert not has_index(engine)
            with session_factory(engine).begin() as db:
                tag = factories.create_visit(db).tag
                assert [past.tag for past in past_jobs.past_jobs(db, tag[2:])] == [tag]
            tell(owner, "CREATE EXTENSION pg_trgm")
            tell(engine, later)
            downgrade(engine, "0016")
            upgrade(engine)
            assert has_index(engine)
        tell(owner, "DROP OWNED BY tenant", "DROP ROLE tenant")
