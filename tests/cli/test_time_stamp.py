"""Time stamps of the record log by a local authority: openssl's, made here."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from shopflow.config import DATABASE_FILE, Settings
from shopflow.time_stamps import ROOTS_FILE
from tests import factories
from tests.cli.conftest import Run
from tests.programs import need

CONFIGURATION = """
[ tsa ]
serial = {folder}/serial
crypto_device = builtin
signer_digest = sha256
default_policy = 1.2.3.4.1
digests = sha256, sha384, sha512
clock_precision_digits = 0
accuracy = secs:1
ordering = no
tsa_name = no
ess_cert_id_chain = no
[ root ]
basicConstraints = critical, CA:TRUE
keyUsage = critical, keyCertSign
[ stamping ]
basicConstraints = critical, CA:FALSE
keyUsage = critical, digitalSignature
extendedKeyUsage = critical, timeStamping
"""


class Authority:
    """A time stamp authority with a root of its own, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        (folder / "serial").write_text("01\n")
        (folder / "openssl.cnf").write_text(CONFIGURATION.format(folder=folder))
        curve = ("-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes")
        config = ("-config", "openssl.cnf", "-extensions")
        self.run(
            *("req", "-x509", *curve, *config, "root", "-subj", "/CN=Root", "-days", "30"),
            *("-keyout", "root.key", "-out", "root.pem"),
        )
        self.run(
            *("req", "-x509", *curve, *config, "stamping", "-subj", "/CN=Stamps", "-days", "30"),
            *("-CA", "root.pem", "-CAkey", "root.key", "-keyout", "tsa.key", "-out", "tsa.pem"),
        )

    def run(self, *arguments: str) -> None:
        """Run openssl in the folder."""
        subprocess.run(
            ["openssl", *arguments], cwd=self.folder, check=True, capture_output=True, timeout=60
        )

    def reply(self, query: bytes) -> bytes:
        """A signed reply to a query."""
        (self.folder / "query").write_bytes(query)
        self.run(
            *("ts", "-reply", "-config", "openssl.cnf", "-section", "tsa", "-queryfile", "query"),
            *("-signer", "tsa.pem", "-inkey", "tsa.key", "-out", "reply"),
        )
        return (self.folder / "reply").read_bytes()


@pytest.fixture
def authority(tmp_path: Path) -> Authority:
    need("openssl")
    return Authority(tmp_path / "authority")


@pytest.fixture
def address(authority: Authority) -> Iterator[str]:
    """Address at which the authority answers."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            query = self.rfile.read(int(self.headers["Content-Length"]))
            content = authority.reply(query)
            self.send_response(200)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, format: str, *arguments: object) -> None:
            """Say nothing."""

    server = HTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_address[1]}/"
    server.shutdown()
    server.server_close()


@pytest.mark.slow
def test_an_authority_stamps_the_log_and_the_check_verifies_it(
    tmp_path: Path, authority: Authority, address: str, run: Run
) -> None:
    settings = Settings.for_folder(tmp_path / "shop")
    factories.a_new_shop(settings.data / DATABASE_FILE)
    where = ("--data", settings.data)
    refused = run("time-stamp", address, *where)
    assert refused.returncode == 1
    assert "put the root certificate of the time stamp authority into" in refused.stderr
    roots = settings.data / ROOTS_FILE
    roots.write_bytes((authority.folder / "root.pem").read_bytes())
    done = run("time-stamp", address, *where)
    assert done.returncode == 0, done.stderr
    assert "entries of the record log are stamped as of" in done.stdout
    checked = run("check", *where)
    assert "time stamps are the authority's: 1 looked at" in checked.stdout
    assert checked.returncode == 0, checked.stdout
    # Another authority of the same name is none that the shop trusts.
    roots.write_bytes((Authority(tmp_path / "other").folder / "root.pem").read_bytes())
    checked = run("check", *where)
    assert "the time stamp proves nothing" in checked.stdout
    assert checked.returncode == 1
    assert "did not answer" in run("time-stamp", "http://127.0.0.1:9/", *where).stderr
    assert "is not an http or https address" in run("time-stamp", "file:///x", *where).stderr
