"""A request as it arrives: what it may bring is decided by its headers."""

from __future__ import annotations

import copy
import time
from typing import TYPE_CHECKING, Any

from waitress.parser import HTTPRequestParser
from waitress.utilities import Error, RequestEntityTooLarge

if TYPE_CHECKING:
    from shopflow.serving.door import Door


class RequestTimeoutError(Error):
    """Headers or body took too long to arrive (RFC 9110, 15.5.9)."""

    code, reason = 408, "Request Timeout"


class BusyError(Error):
    """Too much arrives at once (RFC 9110, 15.6.4)."""

    code, reason = 503, "Service Unavailable"


class ArrivingRequest(HTTPRequestParser):
    """waitress's parser, with a cap and a deadline for each request."""

    error: Any
    adj: Any

    def __init__(self, adj: Any, door: Door) -> None:
        super().__init__(adj)
        self._usual = adj
        self.door = door
        self.began = time.monotonic()
        self.allowance = door.limits.small

    @property
    def is_large(self) -> bool:
        """True where a stranger's body was let in that does not stay in memory."""
        return self.allowance.stranger and self.allowance.body > self.door.limits.small.body

    @property
    def is_overdue(self) -> bool:
        """True where its headers or its body should have arrived by now."""
        limit = self.door.limits.header_seconds
        if self.headers_finished:
            limit = self.allowance.seconds
        return time.monotonic() > self.began + limit

    def parse_header(self, header_plus: bytes) -> None:
        """Read the headers, and take from them what body may follow."""
        super().parse_header(header_plus)
        if self.chunked or self.content_length > self.allowance.body:
            cookie, token = (self.headers.get(name, "") for name in ("COOKIE", "AUTHORIZATION"))
            self.allowance = self.door.judge(self.command, self.path, cookie, token)
        self.adj = copy.copy(self.adj)
        # waitress refuses what reaches its limit.
        self.adj.max_request_body_size = self.allowance.body + 1

    def received(self, data: bytes) -> int:
        """Take in what arrived; return how much of it belongs to this request."""
        had_headers = self.headers_finished
        consumed: int = super().received(data)
        if isinstance(self.error, RequestEntityTooLarge):
            self._refuse()
            # No part of a refused body is ever taken for another request.
            return len(data)
        if self.headers_finished and not had_headers and self.is_large and not self.completed:
            self._wait_for_others()
        return consumed

    def _refuse(self) -> None:
        """Let the app answer that the body is too large, without the body."""
        self.headers["CONTENT_LENGTH"] = str(max(self.content_length, self.body_bytes_received))
        self.headers["CONNECTION"] = "close"
        self.expect_continue, self.error = False, None
        self.close()
        self.body_rcv = None

    def _wait_for_others(self) -> None:
        if self.door.large_bodies() > self.door.limits.large_bodies:
            self.error = BusyError("Many files are arriving at once. Try again in a minute.")
            self.completed, self.expect_continue = True, False
