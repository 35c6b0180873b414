"""Writes down what a new PostgreSQL shop's triggers are: `python -m tests.migrations.guards`."""

from __future__ import annotations

import json

from shopflow.backup.guards import GUARDS, guards
from shopflow.database import open_engine
from tests.postgres import running


def main() -> None:
    """Write shopflow/backup/postgresql_guards.json anew."""
    with running() as server, server.database() as url:
        engine = open_engine(url)
        with engine.connect() as connection:
            there = guards(connection)
        engine.dispose()
    GUARDS.write_text(json.dumps(dict(sorted(there.items())), indent=1) + "\n", encoding="ascii")


if __name__ == "__main__":
    main()
