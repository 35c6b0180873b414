"""A column, a kind of measurement, a page, a field of the API, added as DEVELOPERS.md says."""

from __future__ import annotations

import re
import shutil
import sqlite3
import sys
from pathlib import Path

import pytest

from tests.recipes.conftest import ROOT, Tree

pytestmark = pytest.mark.slow

BIN = Path(sys.executable).parent
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MODEL = "shopflow/models/customer.py"
SHOP = """
from pathlib import Path
from shopflow.config import Settings
from shopflow.web.app import create
app = create(Settings(Path("data"), "sqlite:///shop.db", secret_key="x" * 32))
"""


def commands(database: Path) -> str:
    """The commands of the recipe of a column, for a database of the test's own."""
    block: str
    (block,) = re.findall(r"- \*\*A column\*\*:.*?```sh\n(.*?)```", DEVELOPERS, re.DOTALL)
    assert "/tmp/at-head.db" in block
    return block.replace("/tmp/at-head.db", str(database)).replace(".venv/bin/", f"{BIN}/")


def add_fax(tree: Tree, declaration: str) -> None:
    tree.edit(
        "shopflow/services/export/columns.py", "is_firm email phone", "is_firm email phone fax"
    )
    tree.edit(
        MODEL, "    address: Mapped[Words]\n", f"    {declaration}\n    address: Mapped[Words]\n"
    )
    tree.edit(
        "shopflow/services/registry/customers.py",
        '    "address": fields.words(),\n',
        '    "fax": fields.text(),\n    "address": fields.words(),\n',
    )


def last_revision(tree: Tree) -> int:
    return max(int(path.name[:4]) for path in (tree.root / "migrations/versions").glob("0*.py"))


def migrate(tree: Tree, database: Path, *command: str) -> None:
    url = f"SHOPFLOW_DATABASE_URL=sqlite:///{database}"
    done = tree.run("env", url, sys.executable, "-m", "alembic", *command)
    assert done.returncode == 0, done.stderr


def faxes(database: Path) -> list[tuple[object, ...]]:
    with sqlite3.connect(database) as connection:
        return connection.execute("SELECT name, fax FROM customer").fetchall()


@pytest.fixture
def database(migrated_file: Path, tmp_path: Path) -> Path:
    """A database at the last revision, which takes long to make from nothing."""
    path = tmp_path / "at-head.db"
    shutil.copyfile(migrated_file, path)
    return path


@pytest.fixture
def shop(database: Path, tree: Tree) -> Path:
    """The database of a shop in the copy."""
    path = tree.root / "shop.db"
    shutil.copyfile(database, path)
    return path


def test_a_column_is_added_by_the_commands_of_the_recipe(
    tree: Tree, shop: Path, database: Path
) -> None:
    before = last_revision(tree)
    with sqlite3.connect(shop) as connection:
        connection.execute(
            "INSERT INTO customer (name, is_firm, email, phone, address, tax_exemption, notes, "
            "created_at, version) VALUES ('Tarn Marine', 0, '', '', '', '', '', '2026-03-05', 1)"
        )
    add_fax(tree, 'fax: Mapped[Line] = mapped_column(server_default="")')

    done = tree.run("bash", "-euc", commands(database))

    assert done.returncode == 0, done.stderr
    assert last_revision(tree) == before + 1
    (path,) = (tree.root / "migrations/versions").glob(f"{before + 1:04d}_*.py")
    text = path.read_text()
    assert f'down_revision = "{before:04d}"' in text
    assert "with altered(" in text
    assert "###" not in text
    for check in (("format", "--check"), ("check",)):
        done = tree.run(sys.executable, "-m", "ruff", *check, path)
        assert done.returncode == 0, done.stdout
    migrate(tree, shop, "upgrade", "head")
    assert faxes(shop) == [("Tarn Marine", "")]
    migrate(tree, shop, "check")
    migrate(tree, shop, "downgrade", "-1")
    with pytest.raises(sqlite3.OperationalError, match="no such column: fax"):
        faxes(shop)
    migrate(tree, shop, "upgrade", "head")
    assert faxes(shop) == [("Tarn Marine", "")]
    import_with_fax(tree, shop)
    assert ("Orla Finch", "555 0199") in faxes(shop)
    assert re.search('"fax": ?"555 0199"', export(tree, shop))


def import_with_fax(tree: Tree, shop: Path) -> None:
    """Add the column to those a file of customers may have, and import such a file."""
    module = "shopflow/services/imports/customers.py"
    tree.edit(
        module, '    Column("email", ""),\n', '    Column("email", ""),\n    Column("fax", ""),\n'
    )
    tree.edit(module, '    "email": "email",\n', '    "email": "email",\n    "fax": "fax",\n')
    tree.write("customers.csv", "name,fax\nOrla Finch,555 0199\n")
    tree.python(
        "import sys\n"
        "from shopflow.cli import main\n"
        "words = ['import', 'customers', 'customers.csv', '--data', 'data', '--database-url']\n"
        f"sys.exit(main([*words, 'sqlite:///{shop}']))\n"
    )


def export(tree: Tree, shop: Path) -> str:
    """Everything on record, as JSON."""
    return tree.python(
        "from datetime import UTC, datetime\n"
        "from shopflow.database import open_engine, session_factory\n"
        "from shopflow.services.export import shop_json\n"
        f"with session_factory(open_engine('sqlite:///{shop}')).begin() as db:\n"
        "    print(b''.join(shop_json.chunks(db, datetime.now(UTC))).decode())\n"
    )


def test_a_column_that_rows_would_stop_is_refused_in_words(tree: Tree, database: Path) -> None:
    before = last_revision(tree)
    add_fax(tree, "fax: Mapped[Line]")
    done = tree.run("bash", "-euc", commands(database))
    assert done.returncode != 0
    assert "customer.fax is NOT NULL" in done.stdout + done.stderr
    assert "server_default" in done.stdout + done.stderr
    assert last_revision(tree) == before


@pytest.mark.usefixtures("shop")
def test_a_kind_of_measurement_is_a_row(tree: Tree) -> None:
    tree.edit(
        "shopflow/services/shop/measurement_catalogue.py",
        "KINDS = (\n",
        'KINDS = (\n    Kind("spigot", "Spigot height", _HEAD, "0 mm", "40 mm"),\n',
    )
    shown = tree.python(
        f"{SHOP}"
        "from shopflow.services.shop import built_in_kinds\n"
        "with app.extensions['shopflow.writing'].begin() as db:\n"
        "    built_in_kinds.ensure(db)\n"
        "    print(built_in_kinds.figures_by_code(db)['spigot'].name)\n"
    )
    assert shown == "Spigot height\n"


PAGE = '''"""Notices to everybody in the shop."""

from __future__ import annotations

from flask import Blueprint, render_template

blueprint = Blueprint("notices", __name__, url_prefix="/notices")


@blueprint.get("")
def index() -> str:
    """Every notice."""
    return render_template("notices/index.html")
'''
TEMPLATE = """{% extends "base.html" %}
{% block title %}Notices{% endblock %}
{% block content %}<h1>Notices</h1>{% endblock %}
"""
VISIT = f"""{SHOP}
from shopflow.models import Role, User
from shopflow.services.accounts import login_sessions
from shopflow.services.actor import Actor
with app.extensions["shopflow.writing"].begin() as db:
    now = Actor.now(None).at
    user = User(name="Ruth", login="ruth", password_hash="", role=Role.COUNTER, created_at=now)
    db.add(user)
    db.flush()
    _, secret = login_sessions.begin(db, user, now, "127.0.0.1", "a test")
client = app.test_client()
print(client.get("/notices").status_code)
with client.session_transaction() as session:
    session["login"] = secret
page = client.get("/notices")
print(page.status_code, "<h1>Notices</h1>" in page.text)
"""


def test_a_page_is_closed_until_it_has_a_row_of_permissions(
    tree: Tree, shop: Path, database: Path
) -> None:
    tree.write("shopflow/web/shop/notices/__init__.py", '"""Notices."""\n')
    tree.write("shopflow/web/shop/notices/routes.py", PAGE)
    tree.write("shopflow/web/templates/notices/index.html", TEMPLATE)
    tree.edit("shopflow/web/app.py", "NOUNS = (\n", 'NOUNS = (\n    "shop.notices",\n')
    assert tree.python(VISIT).split("\n")[1].startswith("403")
    shutil.copyfile(database, shop)
    tree.edit(
        "shopflow/web/rights.py",
        "RIGHTS: dict[str, frozenset[Role]] = {\n",
        'RIGHTS: dict[str, frozenset[Role]] = {\n    "notices.index": ALL,\n',
    )
    assert tree.python(VISIT) == "302\n200 True\n"


@pytest.mark.usefixtures("shop")
def test_a_field_of_the_api_stands_in_its_description(tree: Tree) -> None:
    shape = "shopflow/web/api/shapes/customer.py"
    tree.edit(shape, "    address: str\n", "    address: str\n    tax_exemption: str\n")
    tree.edit(
        shape,
        "            address=row.address,\n",
        "            address=row.address,\n            tax_exemption=row.tax_exemption,\n",
    )
    shown = tree.python(
        f"{SHOP}\n"
        "shapes = app.test_client().get('/api/1/openapi.json').json['components']['schemas']\n"
        "print(shapes['Customer']['properties']['tax_exemption'])\n"
    )
    assert shown == "{'type': 'string'}\n"
