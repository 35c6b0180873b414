"""The server of one process: waitress's, with limits of connections and of time."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from waitress.adjustments import Adjustments
from waitress.server import MultiSocketServer, TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from shopflow.network import network_of
from shopflow.serving.connection import Connection
from shopflow.serving.limits import Judge, Limits

CHECKED_EVERY = 1
"""Seconds between looks for what is overdue."""

REFUSAL = b"Too many connections at once. Close some and try again.\n"


@dataclass(slots=True)
class Door:
    """Limits of one process and its connections."""

    judge: Judge
    limits: Limits = field(default_factory=Limits)
    proxy: str = ""
    """Address of the proxy in front, which brings everybody and has limits of its own."""

    connections: set[Connection] = field(default_factory=set)
    next_check: float = 0.0

    def large_bodies(self) -> int:
        """Number of strangers' larger bodies that come in at the moment."""
        return sum(connection.brings_large_body for connection in list(self.connections))

    def lets_in(self, host: str) -> bool:
        """True where one connection more from a host may be opened; an idle one may end for it."""
        if host != self.proxy:
            same = sum(connection.host == host for connection in self.connections)
            if same >= self.limits.per_address:
                return False
        if len(self.connections) < self.limits.in_all:
            return True
        waiting = [connection for connection in self.connections if connection.is_waiting]
        if not waiting:
            return False
        min(waiting, key=lambda connection: float(connection.last_activity)).handle_close()
        return True

    def check(self) -> None:
        """Look for connections that are overdue, once in a while."""
        now = time.monotonic()
        if now >= self.next_check:
            self.next_check = now + CHECKED_EVERY
            for connection in list(self.connections):
                connection.check()


class DoorServer(TcpWSGIServer):
    """waitress's server on one listening socket."""

    def __init__(self, app: Any, door: Door, *arguments: Any, **options: Any) -> None:
        self.door = door
        super().__init__(app, *arguments, **options)

    def channel_class(
        self, server: Any, conn: socket.socket, addr: Any, adj: Any, map: Any
    ) -> None:
        """Open a connection, or refuse it: waitress calls its class of channels so."""
        host = addr[0] if addr[0] == self.door.proxy else network_of(addr[0])
        if self.door.lets_in(host):
            Connection(self, conn, addr, adj, map=map, host=host)
            return
        with suppress(OSError):
            conn.setblocking(False)
            conn.send(
                b"HTTP/1.1 429 Too Many Requests\r\nConnection: close\r\nRetry-After: 10\r\n"
                b"Content-Type: text/plain; charset=utf-8\r\n"
                b"Content-Length: %d\r\n\r\n%s" % (len(REFUSAL), REFUSAL)
            )
        conn.close()

    def maintenance(self, now: float) -> None:
        """Close what is overdue."""
        self.door.check()


def open_door(
    app: Callable[..., Any],
    sockets: Sequence[socket.socket],
    door: Door,
    *,
    threads: int = 4,
    map: dict[int, Any] | None = None,
) -> MultiSocketServer:
    """A server on sockets that listen; `run` serves until SystemExit.

    The client's address is the proxy's word where there is a proxy, else the connection's. Without
    that, every visitor behind a proxy would count as the proxy, and wait for the others' failures.
    """
    trusted = {
        "trusted_proxy": door.proxy,
        "trusted_proxy_count": 1,
        "trusted_proxy_headers": {"x-forwarded-for"},
    }
    adjustments = Adjustments(
        sockets=list(sockets),
        threads=threads,
        ident=None,
        clear_untrusted_proxy_headers=True,
        log_socket_errors=False,
        # The door counts itself; waitress would stop to listen.
        connection_limit=2**20,
        cleanup_interval=CHECKED_EVERY,
        asyncore_loop_timeout=CHECKED_EVERY,
        asyncore_use_poll=True,
        max_request_header_size=32 * 1024,
        **(trusted if door.proxy else {}),
    )
    shared: dict[int, Any] = {} if map is None else map
    dispatcher = ThreadedTaskDispatcher()
    dispatcher.set_thread_count(threads)
    listening = []
    for sock in sockets:
        info = (sock.family, sock.type, sock.proto, sock.getsockname())
        server = DoorServer(
            app, door, shared, True, sock,
            dispatcher=dispatcher, adj=adjustments, sockinfo=info, bind_socket=False,
        )  # fmt: skip
        listening.append((server.effective_host, server.effective_port))
    return MultiSocketServer(shared, adjustments, listening, dispatcher)
