"""A real HTTP server for tests of what is posted: keeps what came, and answers as it is told to."""

from __future__ import annotations

import socket
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass
class Listener:
    """Posts taken, in their order, and the answers to the next ones."""

    url: str = ""
    port: int = 0
    taken: list[tuple[dict[str, str], str]] = field(default_factory=list)
    """Headers and body of each post."""

    statuses: deque[int] = field(default_factory=deque)
    """Statuses of the next answers; then 204."""

    location: str = ""
    before_answer: Callable[[], None] = lambda: None


@contextmanager
def listening() -> Iterator[Listener]:
    """A server on the loopback network while the block lasts."""
    listener = Listener()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            """Keep the post, and answer."""
            body = self.rfile.read(int(self.headers["Content-Length"])).decode()
            headers = {name.lower(): value for name, value in self.headers.items()}
            listener.taken.append((headers, body))
            listener.before_answer()
            self.send_response(listener.statuses.popleft() if listener.statuses else 204)
            if listener.location:
                self.send_header("Location", listener.location)
            self.end_headers()

        do_GET = do_POST  # noqa: N815

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        listener.port = server.server_address[1]
        listener.url = f"http://127.0.0.1:{listener.port}/hook"
        thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
        thread.start()
        try:
            yield listener
        finally:
            server.shutdown()


@contextmanager
def dripping(seconds: float = 0.2) -> Iterator[str]:
    """The address of a server that sends one byte of an endless header now and then."""
    with socket.create_server(("127.0.0.1", 0)) as server:

        def drip() -> None:
            connection, _ = server.accept()
            with connection:
                connection.sendall(b"HTTP/1.1 200 OK\r\nX-Slow: ")
                try:
                    while True:
                        connection.sendall(b"a")
                        time.sleep(seconds)
                except OSError:
                    return

        threading.Thread(target=drip, daemon=True).start()
        yield f"http://127.0.0.1:{server.getsockname()[1]}/hook"
