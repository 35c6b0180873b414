"""A mail server, and how to reach it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Security(StrEnum):
    """Encryption of the connection to a mail server."""

    STARTTLS = "STARTTLS"
    TLS = "TLS"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Server:
    """A mail server, and how to sign in to it; no login means it asks for none."""

    host: str
    port: int
    security: Security
    login: str = ""
    password: str = ""
