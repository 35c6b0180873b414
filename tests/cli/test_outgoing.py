"""Sending from the command line: by `send`, by `send --watch`, and by `serve` itself."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from shopflow.cli import main
from shopflow.config import DATABASE_FILE, Settings
from shopflow.database import open_engine, session_factory
from shopflow.files import FileStore
from tests import factories
from tests.patience import PATIENCE
from tests.smtp import Postbox, free_port, mail_server

COMMAND = "from shopflow.cli import main; raise SystemExit(main())"


@pytest.fixture
def folder(tmp_path: Path, migrated_file: Path) -> Path:
    settings = Settings.for_folder(tmp_path / "shop")
    (settings.data / DATABASE_FILE).write_bytes(migrated_file.read_bytes())
    return settings.data


def queue(folder: Path, port: int) -> None:
    """One message in the outbox."""
    engine = open_engine(f"sqlite:///{folder / DATABASE_FILE}")
    with session_factory(engine).begin() as db:
        factories.create_mailbox(db, port)
        factories.queue_mail(db, FileStore(folder / "files"))
    engine.dispose()


def taken_while_running(arguments: Sequence[str], postbox: Postbox) -> int:
    """Run a command until the postbox has a message, stop it as a service is; its status."""
    process = subprocess.Popen(
        [sys.executable, "-c", COMMAND, *arguments], stdout=subprocess.DEVNULL
    )
    try:
        deadline = time.monotonic() + PATIENCE
        while not postbox.taken and time.monotonic() < deadline:
            time.sleep(0.1)
        # The message must be noted as sent too; the end waits for that.
        process.send_signal(signal.SIGTERM)
        return process.wait(timeout=PATIENCE)
    finally:
        process.kill()


def test_send_sends_what_is_due_and_ends(folder, capsys):
    with mail_server() as postbox:
        queue(folder, postbox.port)
        assert main(["send", "--data", str(folder)]) == 0
        assert capsys.readouterr().out == "1 sent.\n"
        assert main(["send", "--data", str(folder)]) == 0
        assert capsys.readouterr().out == "0 sent.\n"
        assert len(postbox.taken) == 1


def test_send_without_a_shop_says_so(tmp_path, capsys):
    assert main(["send", "--data", str(tmp_path)]) == 1
    assert "there is no shop" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.parametrize("command", ["send --watch", "serve"])
def test_a_watch_and_the_server_send_until_stopped(folder, command, capsys):
    arguments = [*command.split(), "--data", str(folder)]
    if command == "serve":
        arguments += ["--port", str(free_port())]
    with mail_server() as postbox:
        queue(folder, postbox.port)
        assert taken_while_running(arguments, postbox) == 0
        assert len(postbox.taken) == 1
        main(["send", "--data", str(folder)])
        assert capsys.readouterr().out == "0 sent.\n"
        assert len(postbox.taken) == 1
