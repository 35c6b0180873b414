"""Handing messages to real servers: taken, refused, put off, broken off."""

from __future__ import annotations

import ipaddress
import socket
import ssl
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from shopflow.mail.delivery import LaterError, RefusedError, UnsureError, deliver
from shopflow.mail.message import build
from shopflow.mail.server import Security, Server
from tests.smtp import free_port, mail_server, server_that_hangs_up
from tests.unit.mail.test_message import a_letter


def plain(port: int, **values: Any) -> Server:
    return Server("127.0.0.1", port, **{"security": Security.NONE, **values})


@pytest.fixture
def tls(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ssl.SSLContext:
    """A server's own certificate for 127.0.0.1, trusted by this test alone."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "mail.heads.example")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), False
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), True)
        .sign(key, hashes.SHA256())
    )
    file = tmp_path / "server.pem"
    file.write_bytes(
        certificate.public_bytes(serialization.Encoding.PEM)
        + key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(file)
    monkeypatch.setenv("SSL_CERT_FILE", str(file))
    monkeypatch.delenv("SSL_CERT_DIR", raising=False)
    return context


def test_a_message_is_taken():
    called = []
    with mail_server() as postbox:
        deliver(
            plain(postbox.port), build(a_letter()), before_handing_over=lambda: called.append(1)
        )
    ((to, message),) = postbox.taken
    assert to == "soren@boats.example"
    assert message["Subject"] == "Größe, 日本 & more"
    assert message.get_content().startswith("Hello Søren,\r\n\r\n.a line")
    assert called == [1]


@pytest.mark.parametrize(
    ("answer", "expected"),
    [
        pytest.param("550 5.1.1 nobody of that name", RefusedError, id="never"),
        pytest.param("451 4.7.1 try again in 5 minutes", LaterError, id="not now"),
    ],
)
@pytest.mark.parametrize("at", ["to_recipients", "to_messages"])
def test_what_the_server_says_tells_never_from_not_now(answer, expected, at):
    """RFC 5321, 4.2.1: 4yz is transient, 5yz permanent."""
    with mail_server() as postbox:
        getattr(postbox, at).append(answer)
        with pytest.raises(expected, match=answer[:20]):
            deliver(plain(postbox.port), build(a_letter()))
        assert postbox.taken == []


def test_nothing_is_sent_where_the_claim_is_lost_at_the_last_moment():
    def lost() -> None:
        raise RuntimeError("not ours")

    with mail_server() as postbox, pytest.raises(RuntimeError):
        deliver(plain(postbox.port), build(a_letter()), before_handing_over=lost)
    assert postbox.taken == []


def test_a_server_that_is_down_is_tried_later():
    with pytest.raises(LaterError, match="cannot be reached"):
        deliver(plain(free_port()), build(a_letter()))


def test_a_line_that_breaks_before_the_message_went_is_tried_later():
    with server_that_hangs_up(after=b"SOREN@BOATS.EXAMPLE>\r\n") as port, pytest.raises(LaterError):
        deliver(plain(port), build(a_letter()))


def test_a_line_that_breaks_before_the_answer_leaves_it_open():
    with (
        server_that_hangs_up(after=b".\r\n") as port,
        pytest.raises(UnsureError, match="may have been sent"),
    ):
        deliver(plain(port), build(a_letter(body="short\n")))


def test_starttls_with_user_and_password(tls):
    with mail_server(tls) as postbox:
        postbox.users["counter"] = "a long enough word"
        server = plain(
            postbox.port, security=Security.STARTTLS, login="counter", password="a long enough word"
        )
        deliver(server, build(a_letter()))
        assert len(postbox.taken) == 1
        wrong = plain(postbox.port, security=Security.STARTTLS, login="counter", password="no")
        with pytest.raises(LaterError, match="does not take the user and password"):
            deliver(wrong, build(a_letter()))


def test_tls_from_the_start(tls):
    with mail_server(ssl_context=tls) as postbox:
        deliver(plain(postbox.port, security=Security.TLS), build(a_letter()))
        assert len(postbox.taken) == 1


def test_a_certificate_nobody_vouches_for_is_not_trusted(tls, monkeypatch):
    monkeypatch.delenv("SSL_CERT_FILE")
    with mail_server(tls) as postbox:
        with pytest.raises(LaterError, match="cannot be trusted"):
            deliver(plain(postbox.port, security=Security.STARTTLS), build(a_letter()))
        assert postbox.taken == []


def test_a_server_without_starttls_gets_nothing_where_it_is_asked_for():
    with mail_server() as postbox:
        with pytest.raises(LaterError, match="does not offer"):
            deliver(plain(postbox.port, security=Security.STARTTLS), build(a_letter()))
        assert postbox.taken == []


def test_a_server_that_says_nothing_is_not_waited_for_for_ever():
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1]
        with pytest.raises(LaterError, match="does not answer"):
            deliver(plain(port), build(a_letter()), patience=0.2)
