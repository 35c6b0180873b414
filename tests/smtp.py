"""A real mail server for tests: takes messages in, or answers as it is told to."""

from __future__ import annotations

import socket
import ssl
import threading
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, LoginPassword
from aiosmtpd.smtp import Envelope as SmtpEnvelope

OK = "250 OK"


@dataclass
class Postbox:
    """Messages a server took, and the answer it will give next."""

    taken: list[tuple[str, EmailMessage]] = field(default_factory=list)
    """Recipient and message, in the order they came."""

    to_recipients: deque[str] = field(default_factory=deque)
    """Answers to the next RCPT commands; then 250."""

    to_messages: deque[str] = field(default_factory=deque)
    """Answers to the next messages; then 250. Those not 250 are not taken."""

    users: dict[str, str] = field(default_factory=dict)
    port: int = 0

    async def handle_RCPT(  # noqa: N802
        self, server: Any, session: Any, envelope: SmtpEnvelope, address: str, options: Any
    ) -> str:
        """Answer a RCPT command."""
        answer = self.to_recipients.popleft() if self.to_recipients else OK
        if answer.startswith("2"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, server: Any, session: Any, envelope: SmtpEnvelope) -> str:  # noqa: N802
        """Answer a message."""
        answer = self.to_messages.popleft() if self.to_messages else OK
        if answer.startswith("2"):
            content = envelope.content
            assert isinstance(content, bytes)
            message = message_from_bytes(content, policy=default)
            self.taken += [(to, message) for to in envelope.rcpt_tos]
        return answer

    def authenticate(
        self, server: Any, session: Any, envelope: Any, mechanism: str, data: Any
    ) -> AuthResult:
        """True where the user and password are accepted."""
        assert isinstance(data, LoginPassword)
        recorded = self.users.get(data.login.decode()) == data.password.decode()
        return AuthResult(success=recorded, handled=False)


@contextmanager
def mail_server(tls: ssl.SSLContext | None = None, **options: Any) -> Iterator[Postbox]:
    """A mail server on a free port while the block lasts; `tls` is offered by STARTTLS."""
    postbox = Postbox()
    if tls is not None:
        options |= {"tls_context": tls, "require_starttls": True}
    controller = Controller(
        postbox,
        hostname="127.0.0.1",
        port=free_port(),
        authenticator=postbox.authenticate,
        auth_require_tls=False,
        **options,
    )
    controller.start()
    postbox.port = controller.port
    try:
        yield postbox
    finally:
        controller.stop()


def free_port() -> int:
    """A port nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        return int(listening.getsockname()[1])


@contextmanager
def server_that_hangs_up(after: bytes) -> Iterator[int]:
    """The port of a server that answers as one should and hangs up without an answer once it has
    got a line that ends with `after`: b".\\r\\n" is the end of a message (RFC 5321, 4.1.1.4).
    """
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve() -> None:
            connection, _ = listening.accept()
            with connection, connection.makefile("rb") as lines:
                connection.sendall(b"220 ready\r\n")
                in_data = False
                for line in lines:
                    if line.upper().endswith(after):
                        return
                    if in_data:
                        continue
                    in_data = line.upper().startswith(b"DATA")
                    connection.sendall(b"354 go on\r\n" if in_data else b"250 fine\r\n")

        thread = threading.Thread(target=serve, daemon=True)
        thread.start()
        yield int(listening.getsockname()[1])
        thread.join(timeout=5)
