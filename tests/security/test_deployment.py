"""The files that `shopflow deployment` writes, tried with the real nginx and systemd's own checker.

The test's copy of nginx.conf has other ports, paths and certificates, and takes a client's address
from a header, so that one machine can be many.
"""

from __future__ import annotations

import re
import shutil
import socket
import ssl
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from sqlalchemy import select

from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory
from shopflow.models import LoginSession
from shopflow.web.limits import DOCUMENT, STRANGERS, USUAL
from tests import factories
from tests.cli.test_shop import refusal
from tests.patience import PATIENCE
from tests.programs import need
from tests.reliability.serving import run, serving
from tests.smtp import free_port

NAME = "heads.example"
MAIN = """
user root;
pid {folder}/nginx.pid;
error_log {folder}/main-error.log;
events {{ worker_connections 1024; }}
http {{
    {temporary}
    set_real_ip_from 127.0.0.1;
    real_ip_header X-Test-Address;
    include {folder}/site.conf;
}}
"""
TEMPORARY = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")


@pytest.fixture
def written(tmp_path: Path) -> Path:
    """The files, as the command writes them."""
    folder = tmp_path / "deployment"
    done = run("deployment", folder, "--name", NAME)
    assert done.returncode == 0, done.stderr
    return folder


def test_systemd_takes_the_units_and_finds_them_shut_in(written: Path):
    """Exposure is systemd's own: 0 is none, 10 all; 2 and less it calls OK."""
    need("systemd-analyze")
    units = sorted(written.glob("shopflow*"))
    assert len(units) == 3
    for unit in units:
        # The account and the command's folder are of the machine it is for.
        text = unit.read_text().replace("User=shopflow", "User=root")
        unit.write_text(text.replace("Group=shopflow", "Group=root"))
    checked = subprocess.run(
        ["systemd-analyze", "verify", *units], capture_output=True, text=True, check=False
    )
    assert (checked.returncode, checked.stderr) == (0, "")
    for unit in written.glob("*.service"):
        command = ["systemd-analyze", "security", "--offline=true", "--threshold=20", str(unit)]
        checked = subprocess.run(command, capture_output=True, text=True, check=False)
        assert checked.returncode == 0, checked.stdout
        for line in ("UMask=0077", "NoNewPrivileges=yes", "ProtectSystem=strict", "PrivateTmp=yes"):
            assert line in unit.read_text()
        assert "MemoryMax=" in unit.read_text()


def test_nothing_is_overwritten_and_no_directive_can_be_slipped_in(written: Path, tmp_path: Path):
    assert "File exists" in refusal(run("deployment", written, "--name", NAME))
    for option, value in (("--name", "a; evil on"), ("--user", "a\nb"), ("--data", "/srv/a b")):
        given = {"--name": NAME, option: value}
        options = [text for pair in given.items() for text in pair]
        done = run("deployment", tmp_path / "other", *options)
        assert done.returncode == 2
        assert option in done.stderr
    assert not (tmp_path / "other").exists()


def self_signed(folder: Path) -> None:
    """A certificate of the server's name, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, NAME)])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name).issuer_name(name).public_key(key.public_key())
        .serial_number(1).not_valid_before(now - timedelta(1)).not_valid_after(now + timedelta(9))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(NAME)]), critical=False)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    (folder / "fullchain.pem").write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    (folder / "privkey.pem").write_bytes(
        key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )


class Front:
    """nginx with the site as written, and visitors from any address."""

    def __init__(self, written: Path, folder: Path, upstream: int) -> None:
        self.folder, self.plain, self.port = folder, free_port(), free_port()
        self_signed(folder)
        site = (written / "nginx.conf").read_text()
        for old, new in (
            ("listen [::]:80;", ""),
            ("listen [::]:443 ssl http2;", ""),
            ("listen 80;", f"listen 127.0.0.1:{self.plain};"),
            ("listen 443 ssl", f"listen 127.0.0.1:{self.port} ssl"),
            ("127.0.0.1:8460;", f"127.0.0.1:{upstream};"),
            (f"/etc/letsencrypt/live/{NAME}", str(folder)),
            ("/var/log/nginx", str(folder)),
        ):
            assert old in site, old
            site = site.replace(old, new)
        (folder / "site.conf").write_text(site)
        temporary = "\n".join(f"{kind}_temp_path {folder}/{kind};" for kind in TEMPORARY)
        main = folder / "nginx.conf"
        main.write_text(MAIN.format(folder=folder, temporary=temporary))
        self.command = ["nginx", "-c", str(main), "-p", str(folder), "-g", "daemon off;"]
        self.trust = ssl.create_default_context(cafile=folder / "fullchain.pem")

    @contextmanager
    def up(self) -> Iterator[None]:
        """nginx, for as long as the block lasts."""
        with (self.folder / "said.log").open("wb") as output:
            process = subprocess.Popen(self.command, stdout=output, stderr=output)
        try:
            self._wait(process)
            yield
        finally:
            process.terminate()
            process.wait(PATIENCE)

    def _wait(self, process: subprocess.Popen[bytes]) -> None:
        until = time.monotonic() + PATIENCE
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=5).close()
                return
            except OSError:
                assert process.poll() is None, (self.folder / "said.log").read_text()
                assert time.monotonic() < until
                time.sleep(0.05)

    def opened(self, sent: bytes = b"") -> ssl.SSLSocket:
        """A connection over TLS on which something was sent."""
        line = socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE)
        secured = self.trust.wrap_socket(line, server_hostname=NAME)
        secured.sendall(sent)
        return secured

    def ask(self, text: bytes) -> str:
        """All of the answer to one request."""
        with self.opened(text) as line:
            return b"".join(iter(partial(line.recv, 65536), b"")).decode()


def get(path: str, address: str, *headers: str) -> bytes:
    """A request from an address."""
    return request("GET", path, address, *headers)


def request(method: str, path: str, address: str, *headers: str, body: bytes = b"") -> bytes:
    """A request from an address, that ends its connection."""
    lines = [f"{method} {path} HTTP/1.1", f"Host: {NAME}", f"X-Test-Address: {address}"]
    form = "Content-Type: application/x-www-form-urlencoded"
    return "\r\n".join([*lines, "Connection: close", form, *headers, "", ""]).encode() + body


def status(answer: str) -> int:
    """Status of an answer; 0 where there is none."""
    return int(answer.split(" ", 2)[1]) if answer.startswith("HTTP/") else 0


def sign_in(front: Front, address: str) -> tuple[str, list[str]]:
    """Cookie of the owner, signed in from an address, and the answer's headers."""
    page = front.ask(get("/sign-in", address))
    cookie = re.findall(r"Set-Cookie: ([^;]+)", page)[0]
    token = re.findall(r'name="csrf_token" value="([^"]+)"', page)[0]
    body = f"csrf_token={token}&login=owner&password={factories.PASSWORD}".encode()
    referrer = f"Referer: https://{NAME}/sign-in"
    length = f"Content-Length: {len(body)}"
    answer = front.ask(
        request("POST", "/sign-in", address, f"Cookie: {cookie}", referrer, length,
                "X-Forwarded-For: 203.0.113.66", body=body)
    )  # fmt: skip
    assert status(answer) == 302, answer[:2000]
    return re.findall(r"Set-Cookie: ([^;]+)", answer)[0], answer.splitlines()


@pytest.mark.slow
def test_the_shop_behind_nginx(
    written: Path, tmp_path: Path, set_up_file: Path, monkeypatch: pytest.MonkeyPatch
):
    """One walk: TLS and cookies, addresses, sizes, slowness, crowds, and the log."""
    need("nginx")
    monkeypatch.setenv("SHOPFLOW_HTTPS", "1")
    monkeypatch.setenv("SHOPFLOW_PROXY", "127.0.0.1")
    shop, folder = tmp_path / "shop", tmp_path / "nginx"
    shop.mkdir()
    folder.mkdir()
    shutil.copyfile(set_up_file, shop / DATABASE_FILE)
    with serving(shop) as server:
        front = Front(written, folder, server.port)
        with front.up():
            everything_is_over_tls(front)
            cookie = the_visitors_address_is_believed_from_nginx_alone(front, shop)
            sizes_are_bounded_before_anything_is_spooled(front, cookie)
            the_slow_keep_nobody_waiting(front)
            passwords_are_tried_slowly_from_one_network(front)
            private_addresses_are_not_logged(front)
        assert "Traceback" not in server.log.read_text()


def everything_is_over_tls(front: Front) -> None:
    """Plain HTTP leads to HTTPS, whose cookies stay with it."""
    with socket.create_connection(("127.0.0.1", front.plain), timeout=PATIENCE) as line:
        line.sendall(get("/jobs", "198.51.100.1"))
        answer = line.makefile().read()
    assert status(answer) == 301
    assert f"Location: https://{NAME}/jobs" in answer
    answer = front.ask(get("/sign-in", "198.51.100.1"))
    assert status(answer) == 200
    assert "Strict-Transport-Security: max-age=31536000" in answer
    (cookie,) = re.findall("Set-Cookie: (.+)", answer)
    assert cookie.startswith("__Host-shopflow=")
    assert "Secure" in cookie


def the_visitors_address_is_believed_from_nginx_alone(front: Front, shop: Path) -> str:
    """The visitor's own X-Forwarded-For is replaced. Returns the owner's cookie."""
    cookie, _ = sign_in(front, "198.51.100.7")
    engine = open_engine(f"sqlite:///{shop / DATABASE_FILE}")
    with session_factory(engine)() as db:
        assert list(db.scalars(select(LoginSession.address))) == ["198.51.100.7"]
    engine.dispose()
    return cookie


def sizes_are_bounded_before_anything_is_spooled(front: Front, cookie: str) -> None:
    """By nginx by address, and by shopflow by who sends it."""
    visitor = "198.51.100.8"
    post = partial(request, "POST")
    answer = front.ask(post("/sign-in", visitor, f"Content-Length: {300 * 2**20}"))
    assert status(answer) == 413
    for path, size in (("/sign-in", STRANGERS + 1), ("/jobs/new", 200_000_000), ("/", USUAL)):
        answer = front.ask(post(path, visitor, f"Content-Length: {size}", body=b"a=1"))
        assert (status(answer), "Upload too large" in answer) == (413, True), path
    chunk = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
    answer = front.ask(post("/sign-in", visitor, "Transfer-Encoding: chunked", body=chunk * 5))
    assert (status(answer), "Upload too large" in answer) == (413, True)
    # What a user may send is let through to the page, which then misses its token.
    for path, size in (("/jobs/new", 3 * DOCUMENT), ("/customers/new", USUAL)):
        headers = (f"Cookie: {cookie}", f"Content-Length: {size}")
        assert status(front.ask(post(path, "198.51.100.7", *headers, body=b"x" * size))) == 400
    assert not [path for path in (front.folder / "client_body").rglob("*") if path.is_file()]


def the_slow_keep_nobody_waiting(front: Front) -> None:
    """200 slow headers and 60 dripping bodies from one address: that address alone is refused."""
    slow = b"GET / HTTP/1.1\r\nHost: heads.example\r\nX-Test-Address: 192.0.2.1\r\nX-Slow: "
    body = request("POST", "/sign-in", "192.0.2.1", "Content-Length: 900")
    with ExitStack() as stack:
        for _ in range(200):
            stack.enter_context(front.opened(slow))
        dripping = [stack.enter_context(front.opened(body)) for _ in range(60)]
        for line in dripping:
            line.sendall(b"a")
        assert status(front.ask(get("/sign-in", "198.51.100.9"))) == 200
        until = time.monotonic() + PATIENCE
        while status(front.ask(get("/sign-in", "192.0.2.1"))) != 429:
            assert time.monotonic() < until


def passwords_are_tried_slowly_from_one_network(front: Front) -> None:
    """An IPv6 network of 64 bits is one visitor."""

    def tried(address: Callable[[int], str]) -> set[int]:
        posts = (request("POST", "/sign-in", address(n), "Content-Length: 0") for n in range(25))
        return {status(front.ask(post)) for post in posts}

    assert tried("2001:db8:1:2::{:x}".format) == {400, 429}
    assert tried("2001:db8:9:{:x}::1".format) == {400}
    # Looking is never refused so.
    assert status(front.ask(get("/sign-in", "2001:db8:1:2::1"))) == 200


def private_addresses_are_not_logged(front: Front) -> None:
    """Neither of customers nor of calendars."""
    for path in ("/c/sooth-fen-lark", "/calendar/sooth-fen-lark.ics", "/sign-in?next=/jobs"):
        front.ask(get(path, "198.51.100.10"))
    log = (front.folder / "shopflow.log").read_text()
    assert '"GET /c/..." 404' in log
    assert '"GET /calendar/..." 404' in log
    assert '"GET /sign-in?next=/jobs" 200' in log
    for file in front.folder.glob("*.log"):
        assert "sooth-fen" not in file.read_text()
