"""Alembic reads the migrations once for all that are run here, not at each command."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory

from shopflow.database import alembic_config


@pytest.fixture(autouse=True, scope="module")
def scripts() -> Iterator[ScriptDirectory]:
    """The migrations' folder, as every command gets it."""
    read = ScriptDirectory.from_config(alembic_config())

    def from_config(_: Config) -> ScriptDirectory:
        return read

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ScriptDirectory, "from_config", from_config)
        yield read
