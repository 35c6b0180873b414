"""Secrets: made at set-up for one account alone, in no repository, no log, no Referer, no event."""

from __future__ import annotations

import logging
import re
import stat
import subprocess
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy.orm import Session

from shopflow import signing
from shopflow.config import SECRET_FILE, Settings
from shopflow.errors import ShopflowError
from shopflow.web.logs import Plain, init_app
from tests.demo_shop import DemoShop
from tests.factories import NOW
from tests.reliability.serving import run
from tests.security.one_of_everything import OneOfEverything
from tests.web.client import Client

ROOT = Path(__file__).parents[2]
PATTERNS = {
    "private key": r"-----BEGIN [A-Z ]*PRIVATE KEY-----",
    "stored hash": r"scrypt:\d+:\d+:\d+\$[A-Za-z0-9]{8,}\$",
    "long hexadecimal secret": r"(?i)(secret|token|api)[a-z_]*\s*[=:]\s*[\"'][0-9a-f]{32,}[\"']",
    "token in an address": r"https?://[^\s/@:]+:[^\s/@]{8,}@",
}


def test_no_secret_is_in_the_repository():
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    names = [name for name in listed.stdout.split("\0") if name]
    assert len(names) > 300
    assert not [name for name in names if name.endswith((".key", ".pem", ".db", ".env", ".p12"))]
    for name in names:
        content = (ROOT / name).read_bytes()
        if b"\0" in content[:1000] or name == "tests/security/test_secrets.py":
            continue
        for kind, pattern in PATTERNS.items():
            assert not re.search(pattern, content.decode("utf-8", "replace")), (kind, name)


def test_what_git_ignores_covers_what_a_shop_makes():
    ignored = subprocess.run(
        ["git", "check-ignore", "shopflow-data/secret.key", "x/secret.key", "x/signing.pem"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert len(ignored.stdout.split()) == 3


def test_the_shops_keys_are_for_its_account_alone(tmp_path: Path):
    """Guard: O_CREAT | O_EXCL with mode 0600 in `config._secret_key` and `signing.make_key`."""
    Settings.for_folder(tmp_path / "shop")
    pytest.importorskip("pyhanko")
    signing.make_key(tmp_path / "shop", "Falling Water Heads", NOW)
    for name in (SECRET_FILE, signing.KEY_FILE):
        path = tmp_path / "shop" / name
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, name


def test_all_that_a_shop_writes_is_for_its_account_alone(demo_shop: DemoShop, tmp_path: Path):
    """Guard: `cli.main`'s umask; photos, documents, originals and backups (ASVS 13.4.6)."""
    assert run("backup", tmp_path / "backups", "--data", demo_shop.folder).returncode == 0
    for folder in (demo_shop.folder, tmp_path / "backups"):
        paths = [folder, *folder.rglob("*")]
        assert len(paths) > 1
        assert not [path for path in paths if path.stat().st_mode & 0o077]


def test_a_shops_folder_that_others_could_read_is_shut(tmp_path: Path):
    """Guard: `config._make_private`; a folder of something else is left as it is."""
    shop = tmp_path / "shop"
    Settings.for_folder(shop)
    (shop / "shopflow.db").touch()
    for path in (shop, shop / "shopflow.db", shop / SECRET_FILE):
        path.chmod(0o755)
    Settings.for_folder(shop)
    assert stat.S_IMODE(shop.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in shop.iterdir()} == {0o600}
    other = tmp_path / "other"
    other.mkdir()
    (other / "notes.txt").touch()
    other.chmod(0o755)
    Settings.for_folder(other)
    assert stat.S_IMODE(other.stat().st_mode) == 0o755


@pytest.mark.parametrize("key", ["", "shopflow", "x" * 64, "changeme" * 8, "0123456789" * 3])
def test_a_key_that_could_be_guessed_is_refused(
    key: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """Guard: `config._strong`; an empty setting means a key that was forgotten, not none."""
    monkeypatch.setenv("SHOPFLOW_SECRET_KEY", key)
    with pytest.raises(ShopflowError, match="SHOPFLOW_SECRET_KEY is empty or easy to guess"):
        Settings.for_folder(tmp_path)
    monkeypatch.delenv("SHOPFLOW_SECRET_KEY")
    (tmp_path / SECRET_FILE).write_text(key)
    with pytest.raises(ShopflowError, match=r"secret\.key is empty or easy to guess"):
        Settings.for_folder(tmp_path)


def test_a_calendars_address_is_in_no_log():
    """Guard: `logs.Plain`, for the server's own words too: its logger has the same."""
    init_app(Flask("shopflow"))
    (handler,) = logging.getLogger("waitress").handlers
    record = logging.LogRecord(
        "waitress", logging.ERROR, "", 0, "Exception while serving %s", ("/calendar/abc.ics",), None
    )
    assert "serving /calendar/…" in handler.format(record)
    assert "abc" not in handler.format(record)


def test_each_shop_has_its_own_key_and_keeps_it(tmp_path: Path):
    first = Settings.for_folder(tmp_path / "a").secret_key
    assert re.fullmatch(r"[0-9a-f]{64}", first)
    assert Settings.for_folder(tmp_path / "a").secret_key == first
    assert Settings.for_folder(tmp_path / "b").secret_key != first


def test_a_private_links_secret_is_in_no_log(
    web_app: Flask,
    stranger: Client,
    everything: OneOfEverything,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
):
    """Guard: `logs.Plain`. Flask's own words for a page that broke name its whole path."""

    def breaks(*_: object, **__: object) -> None:
        raise RuntimeError(f"broken at {everything.link}")

    monkeypatch.setattr("shopflow.services.counter.customer_view.of", breaks)
    monkeypatch.setattr(web_app, "testing", False)
    monkeypatch.setitem(web_app.config, "PROPAGATE_EXCEPTIONS", False)
    handler = logging.StreamHandler()
    handler.setFormatter(Plain())
    web_app.logger.addHandler(handler)
    try:
        assert stranger.get(everything.link).status_code == 500
    finally:
        web_app.logger.removeHandler(handler)
    written = capfd.readouterr().err
    assert "Exception on /c/… [GET]" in written
    assert everything.link.rpartition("/")[2] not in written


def test_a_page_that_broke_shows_nothing_of_the_inside(
    web_app: Flask, client: Client, monkeypatch: pytest.MonkeyPatch
):
    """Guard: `errors._broken` (ASVS 16.5.1)."""

    def breaks(*_: object, **__: object) -> None:
        raise RuntimeError("the inside, SELECT * FROM person")

    monkeypatch.setattr("shopflow.services.registry.customers.list_all", breaks)
    monkeypatch.setattr(web_app, "testing", False)
    monkeypatch.setitem(web_app.config, "PROPAGATE_EXCEPTIONS", False)
    answer = client.get("/customers?q=x")
    assert answer.status_code == 500
    for words in ("the inside", "SELECT", "Traceback", "RuntimeError", "shopflow/"):
        assert words not in answer.text


def test_no_line_of_the_log_can_be_forged():
    """Guard: `logs.Plain.formatMessage` (ASVS 16.4.1); moments are in UTC (16.2.2)."""
    record = logging.LogRecord(
        "shopflow",
        logging.WARNING,
        "",
        0,
        "asked for %s",
        ("/x\n2026 INFO in\r\x1b[2J",),
        None,
    )
    line = Plain().format(record)
    assert len(line.splitlines()) == 1
    assert "\x1b" not in line
    assert re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00 WARNING ", line)


def test_refusals_are_written_down(
    client: Client, stranger: Client, signed_in, everything: OneOfEverything, caplog
):
    """ASVS 16.3.1 to 16.3.3."""
    from shopflow.models import Role

    with caplog.at_level(logging.INFO):
        signed_in(Role.READER).get("/people")
        client.post("/customers/new")
        stranger.submit("/sign-in", {"login": "owner", "password": "wrong word"}, status=422)
    text = caplog.text
    assert re.search(r"refused person \d+ at users.index", text)
    assert "refused a forged or expired post to customers.create" in text
    assert "refused a password from 127.0.0.1" in text
    assert "wrong word" not in text


def test_statements_in_errors_hide_what_they_were_given(db: Session):
    """Guard: hide_parameters in `database.open_engine`."""
    from sqlalchemy import text
    from sqlalchemy.exc import DBAPIError

    with pytest.raises(DBAPIError) as refused:
        db.execute(text("SELECT * FROM nothing WHERE a = :a"), {"a": "a secret"})
    assert "a secret" not in str(refused.value)
    db.rollback()


def test_a_secret_typed_into_a_form_never_comes_back(client: Client, everything: OneOfEverything):
    """Guard: PasswordField hides its value; the mailbox shows none of its password."""
    page = client.page("/e-mail")
    fields = dict(page.form().form_values())
    names = [name for name in fields if "password" in name]
    assert names
    for name in names:
        typed = {**fields, name: "the secret word", "port": "wrong"}
        answer = client.post("/e-mail", data=typed)
        assert answer.status_code == 422
        assert "the secret word" not in answer.text
