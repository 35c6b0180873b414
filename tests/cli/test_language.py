"""Commands in the language that the shop chose."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from shopflow import texts
from shopflow.cli.records import records
from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory
from tests import factories


@pytest.mark.parametrize(("language", "bar"), [("en_US", "Bar color"), ("en_GB", "Bar colour")])
def test_a_command_has_texts_in_the_shops_language(
    tmp_path: Path, migrated_file: Path, language: str, bar: str
):
    (tmp_path / DATABASE_FILE).write_bytes(migrated_file.read_bytes())
    engine = open_engine(f"sqlite:///{tmp_path / DATABASE_FILE}")
    with session_factory(engine).begin() as db:
        factories.create_shop(db, language=language)
    engine.dispose()
    with records(argparse.Namespace(data=tmp_path, database_url=None)):
        assert texts.gettext("Bar color") == bar
    assert texts.language() == texts.SOURCE
