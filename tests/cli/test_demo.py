"""`shopflow demo`: the invented shop in a new folder, its papers made."""

from __future__ import annotations

import re
from pathlib import Path

import pikepdf
import pytest
from sqlalchemy import select

from shopflow.database import open_engine, session_factory
from shopflow.demo import set_up
from shopflow.demo.seed import Seed
from shopflow.models import Certificate, User
from shopflow.resources import SEED_DATA
from shopflow.services.accounts import users
from shopflow.services.accounts.passwords import SHORTEST
from tests.cli.conftest import Run
from tests.demo_shop import DemoShop
from tests.factories import NOW

pytestmark = pytest.mark.slow


def everything_under(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def passwords(text: str) -> dict[str, str]:
    """The accounts told of, by login."""
    return dict(re.findall(r"^  (\w+) +(\S+)$", text, re.MULTILINE))


def test_it_tells_what_it_made_where_and_how_to_look(demo_shop: DemoShop):
    assert str(demo_shop.folder) in demo_shop.said
    counts = {noun: int(n) for n, noun in re.findall(r"(\d+) ([a-z ]+)", demo_shop.said)}
    assert counts["customers"] >= 12
    assert counts["jobs"] >= 20
    assert counts["engine types"] >= 8
    assert counts["flow tests"] >= 40
    assert counts["certificates"] >= 1
    assert f"shopflow serve --data {demo_shop.folder}" in demo_shop.said


def test_it_makes_every_kind_of_paper_and_each_opens(demo_shop: DemoShop):
    written = sorted((demo_shop.folder / "papers").iterdir())
    for kind in ("work-order", "flow-certificate", "hand-off"):
        assert any(path.name.startswith(kind) for path in written)
    for path in written:
        with pikepdf.open(path) as paper:
            assert len(paper.pages) >= 1


def test_the_certificates_on_file_are_the_papers_byte_for_byte(demo_shop: DemoShop):
    engine = open_engine(f"sqlite:///{demo_shop.folder / 'shopflow.db'}")
    with session_factory(engine)() as db:
        issued = {row.number: row.pdf for row in db.scalars(select(Certificate))}
    engine.dispose()
    papers = {
        path.stem.removeprefix("flow-certificate-"): path.read_bytes()
        for path in (demo_shop.folder / "papers").glob("flow-certificate-*.pdf")
    }
    assert papers == issued


def test_its_accounts_sign_in_with_the_passwords_told(demo_shop: DemoShop, tmp_path: Path):
    answer = passwords(demo_shop.said)
    copy = demo_shop.copy_to(tmp_path / "copy")
    engine = open_engine(f"sqlite:///{copy / 'shopflow.db'}")
    with session_factory(engine)() as db:
        assert set(answer) == set(db.scalars(select(User.login)))
        for login, password in answer.items():
            assert users.sign_in(db, login, password, NOW).login == login
    engine.dispose()


def test_passwords_are_never_the_same_twice(demo_shop: DemoShop, sqlite_url: str):
    engine = open_engine(sqlite_url)
    with session_factory(engine)() as db:
        seed = Seed(db, SEED_DATA)
        again = set_up.add_people(seed, seed.actor(None, NOW))
    engine.dispose()
    answer = passwords(demo_shop.said)
    assert set(again) == set(answer)
    assert not set(again.values()) & set(answer.values())
    assert all(len(password) >= SHORTEST for password in answer.values())


def test_it_refuses_a_folder_that_holds_something_and_leaves_it_as_it_was(
    shopflow: Run, demo_shop: DemoShop, tmp_path: Path
):
    (tmp_path / "letter.txt").write_text("dear sir")
    # A copy: other tests read the shop itself, and SQLite leaves files beside it while they do.
    for folder in (tmp_path, demo_shop.copy_to(tmp_path / "shop")):
        before = everything_under(folder)
        done = shopflow("demo", folder)
        assert done.returncode == 1
        assert "holds something already" in done.stderr
        assert done.stdout == ""
        assert everything_under(folder) == before


@pytest.mark.parametrize("below", ["", "inside"])
def test_it_refuses_what_is_no_folder(shopflow: Run, tmp_path: Path, below: str):
    (tmp_path / "file").write_text("a file")
    done = shopflow("demo", tmp_path / "file" / below)
    assert done.returncode == 1
    assert done.stderr.startswith("shopflow: ")
    assert "Traceback" not in done.stderr
    assert (tmp_path / "file").read_text() == "a file"
