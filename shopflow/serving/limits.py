"""Limits of the front door, each of one process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Allowance:
    """The body that a request may bring."""

    body: int
    """Bytes at most."""

    seconds: float
    """Time until all of it must have arrived, since the request began."""

    stranger: bool = True
    """True for whoever is not signed in."""


Judge = Callable[[str, str, str, str], Allowance]
"""Allowance of a request by its method, its path as WSGI has it, and its headers Cookie and
Authorization."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits of one process."""

    small: Allowance = Allowance(256 * 1024, 30)
    """Of every request, whoever sends it: it stays in memory."""

    per_address: int = 64
    """Connections from one address (IPv6: one network of 64 bits). A browser opens about six."""

    in_all: int = 400
    """Connections from all addresses; a new one takes the place of the one idle longest."""

    large_bodies: int = 8
    """Larger bodies of strangers that come in at the same time."""

    header_seconds: float = 10
    """Time until the headers must have arrived, since their first byte."""

    idle_seconds: float = 75
    """Time that a connection may lie idle between requests."""

    stalled_seconds: float = 60
    """Time that a client may take none of an answer."""

    answer_seconds: float = 900
    """Time until an answer must have been taken, since it was made."""

    linger_seconds: float = 10
    """Time for which what arrives of a refused body is thrown away."""
