"""A connection: closed once it is overdue, and after a refusal only when the answer is through."""

from __future__ import annotations

import socket
import time
from functools import partial
from typing import TYPE_CHECKING, Any

from waitress.channel import HTTPChannel

from shopflow.serving.request import ArrivingRequest, RequestTimeoutError

if TYPE_CHECKING:
    from shopflow.serving.door import Door, DoorServer

DISCARDED = 64 * 1024
"""Bytes of a refused body read at a time, and thrown away."""


class Connection(HTTPChannel):
    """waitress's channel, known to the door."""

    request: Any

    def __init__(
        self, server: DoorServer, sock: socket.socket, addr: Any, adj: Any, *, map: Any, host: str
    ) -> None:
        self.door: Door = server.door
        self.host = host
        """Address that its connections are counted by."""

        self.parser_class = partial(ArrivingRequest, door=self.door)
        self.answering_since: float | None = None
        self.lingering_since: float | None = None
        super().__init__(server, sock, addr, adj, map=map)

    def add_channel(self, map: Any = None) -> None:
        """Open; the door counts it."""
        super().add_channel(map)
        self.door.connections.add(self)

    def del_channel(self, map: Any = None) -> None:
        """Closed; the door counts it no more."""
        super().del_channel(map)
        self.door.connections.discard(self)

    @property
    def is_waiting(self) -> bool:
        """True where no request of it is being answered."""
        return not self.requests and not self.total_outbufs_len

    @property
    def brings_large_body(self) -> bool:
        """True while a stranger's body comes in that is larger than usual."""
        return self.request is not None and self.request.is_large

    def check(self) -> None:
        """Give up what is overdue."""
        now, limits = time.monotonic(), self.door.limits
        quiet = time.time() - self.last_activity
        if self.lingering_since is not None:
            if now > self.lingering_since + limits.linger_seconds:
                self.handle_close()
        elif self.total_outbufs_len:
            self.answering_since = self.answering_since or now
            if quiet > limits.stalled_seconds or now > self.answering_since + limits.answer_seconds:
                self.will_close = True
        elif self.requests:
            self.answering_since = None
        elif self.request is not None:
            self.answering_since = None
            if self.request.is_overdue:
                self._give_up()
        elif quiet > limits.idle_seconds:
            self.will_close = True

    def _give_up(self) -> None:
        with self.requests_lock:
            request, self.request = self.request, None
            request.error = RequestTimeoutError("The request took too long to arrive. Try again.")
            request.completed = True
            self.requests.append(request)
            self.server.add_task(self)

    def readable(self) -> bool:
        """True where something may be read; also what nobody wants any more."""
        return self.lingering_since is not None or bool(super().readable())

    def writable(self) -> bool:
        """True where something may be sent, or the connection is to be closed."""
        return self.lingering_since is None and bool(super().writable())

    def handle_read(self) -> None:
        """Read a request, or throw away what follows a refused one."""
        if self.lingering_since is None:
            super().handle_read()
            return
        try:
            data = self.socket.recv(DISCARDED)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:
            self.handle_close()

    def handle_write(self) -> None:
        """Send some of an answer. Where it ends the connection, let the client read it first.

        A socket closed with something unread in it resets the line, and the answer is lost.
        """
        if not self.close_when_flushed or self.will_close:
            super().handle_write()
            return
        self._flush_exception(self._flush_some)
        if self.will_close:
            self.handle_close()
        elif not self.total_outbufs_len:
            try:
                self.socket.shutdown(socket.SHUT_WR)
            except OSError:
                self.handle_close()
            else:
                self.lingering_since = time.monotonic()
