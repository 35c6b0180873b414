"""Sessions typed from published tables and curves, run from the file to the certificate."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow.cli import main
from shopflow.models import Role
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.testfile import read
from tests import factories
from tests.printed import states

DATA = Path(__file__).parents[1] / "data"
FIGURES = tomllib.loads((DATA / "expected.toml").read_text())["figure"]
FILES = sorted({figure["file"] for figure in FIGURES})


def of_file(name: str) -> list[dict[str, Any]]:
    """Checks that a source's file states."""
    return [figure for figure in FIGURES if figure["file"] == name]


def test_every_session_file_has_its_figures_and_its_source() -> None:
    sessions_kept = {path.name for path in DATA.glob("*.toml")} - {"expected.toml"}
    assert sessions_kept == set(FILES)
    sources = (DATA / "README.md").read_text()
    assert all(f"| {name} |" in sources for name in FILES)


@pytest.mark.source("tests/data/README.md names each file's source")
@pytest.mark.parametrize("name", FILES)
def test_the_command_line_finds_the_published_figures(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["reduce", str(DATA / name), "--json"]) == 0
    points = json.loads(capsys.readouterr().out)["points"]
    for figure in of_file(name):
        point = points[figure["row"] - 1][figure["name"]]
        assert point == pytest.approx(figure["value"], abs=figure["within"])


@pytest.fixture
def owner(db: Session) -> Actor:
    """The owner of a shop that reads its figures in SI."""
    factories.create_shop(db, unit_system="si", paper_size="A4")
    return Actor(factories.create_person(db, Role.OWNER), factories.NOW)


@pytest.mark.parametrize("name", FILES)
def test_the_certificate_states_the_published_figures(db: Session, owner: Actor, name: str) -> None:
    visit = factories.create_visit(db)
    stored = sessions.store(db, owner, visit, read(DATA / name))
    certificate = factories.issue_certificate(db, owner, [stored])
    with pymupdf.open(stream=certificate.pdf) as pdf:
        lines = "\n".join(page.get_text() for page in pdf).splitlines()
    for figure in of_file(name):
        assert states(lines, figure["printed"]), figure
