"""A shop full of work, kept in either database, on disks and servers that really keep it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import Engine, select
from sqlalchemy.engine import make_url

from shopflow.config import database_address
from shopflow.database import open_engine, session_factory
from shopflow.models import Visit
from tests import postgres as embedded
from tests.demo_shop import DemoShop
from tests.postgres import Server as PostgresServer
from tests.reliability.serving import Browser, Server, run

OWNER = "ruth"


@dataclass(frozen=True)
class ShopCopy:
    """A copy of the invented shop whose records lie in one of the databases."""

    folder: Path
    url: str
    """Given to the commands; empty for the folder's own SQLite."""

    password: str

    @property
    def where(self) -> tuple[str, ...]:
        """Options that lead a command to it."""
        there = ("--database-url", self.url) if self.url else ()
        return ("--data", str(self.folder), *there)

    def engine(self) -> Engine:
        """An engine on its records."""
        return open_engine(self.url or database_address(self.folder))

    def tags(self, count: int) -> list[str]:
        """Tags of some heads."""
        engine = self.engine()
        with session_factory(engine)() as db:
            answer = list(db.scalars(select(Visit.tag).order_by(Visit.id).limit(count)))
        engine.dispose()
        return answer

    def someone(self, server: Server) -> Browser:
        """The owner, signed in at a server."""
        browser = Browser(server.address)
        browser.sign_in(OWNER, self.password)
        return browser


@pytest.fixture(scope="session")
def durable_postgres(cluster: Path) -> Iterator[PostgresServer]:
    """A PostgreSQL as a shop runs it: what it acknowledged is on the disk."""
    with embedded.running(options="", cluster=cluster) as server:
        yield server


@pytest.fixture
def empty_postgres(durable_postgres: PostgresServer) -> Iterator[str]:
    """A fresh migrated database in it."""
    with durable_postgres.database() as url:
        yield url


def copied(demo_shop: DemoShop, folder: Path, url: str = "") -> ShopCopy:
    """A copy of the invented shop, whose records lie at an address where one is given."""
    (password,) = re.findall(rf"^  {OWNER} +(\S+)$", demo_shop.said, re.MULTILINE)
    return ShopCopy(demo_shop.copy_to(folder), url, password)


@pytest.fixture(scope="session")
def moved(
    durable_postgres: PostgresServer, demo_shop: DemoShop, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[str]:
    """Name of a database that the shop was moved to by the command for it, to be copied."""
    shop = copied(demo_shop, tmp_path_factory.mktemp("moved") / "shop")
    with durable_postgres.database() as url:
        done = run("move-to", url, *shop.where)
        assert done.returncode == 0, done.stderr
        yield str(make_url(url).database)


@pytest.fixture
def in_sqlite(demo_shop: DemoShop, tmp_path: Path) -> ShopCopy:
    """The shop in a SQLite file."""
    return copied(demo_shop, tmp_path / "shop")


@pytest.fixture
def in_postgres(
    durable_postgres: PostgresServer, moved: str, demo_shop: DemoShop, tmp_path: Path
) -> Iterator[ShopCopy]:
    """The shop in PostgreSQL."""
    with durable_postgres.database(moved) as url:
        yield copied(demo_shop, tmp_path / "shop", url)


@pytest.fixture(params=["sqlite", "postgres"])
def shop_copy(request: pytest.FixtureRequest) -> ShopCopy:
    """The shop in either database; a test that asks for it runs on both."""
    answer: ShopCopy = request.getfixturevalue(f"in_{request.param}")
    return answer
