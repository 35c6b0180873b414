"""The mail server the shop sends through."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.mail.message import address, addresses
from shopflow.mail.sealing import Seal
from shopflow.mail.server import Security, Server
from shopflow.models import MailServer
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext

LARGEST_PORT = 65535


def _port(value: Any) -> int:
    port: int = fields.count(least=1, required=True)(value)
    if port > LARGEST_PORT:
        raise ValueError(
            gettext("enter a whole number from 1 to {largest_port}", largest_port=LARGEST_PORT)
        )
    return port


def _optional_address(value: Any) -> str:
    typed = str(fields.text()(value))
    return address(typed) if typed else ""


def _host(value: Any) -> str:
    host = str(fields.text(required=True)(value))
    if not host.isprintable() or any(sign in host for sign in " /:@"):
        raise ValueError(gettext("enter a server name without a port, like mail.example.com"))
    return host


def one_address(value: Any) -> str:
    """Reader of one e-mail address that must be given."""
    return address(str(fields.text(required=True)(value)))


def several_addresses(value: Any) -> str:
    """Reader of e-mail addresses, as many as there are; one to a line."""
    return "\n".join(addresses(str(fields.words()(value))))


SPECIFICATION: fields.Specification = {
    "host": _host,
    "port": _port,
    "security": fields.one_of(Security),
    "login": fields.text(),
    "sender": one_address,
    "reply_to": _optional_address,
    "log_head_to": _optional_address,
}


def the_mailbox(db: Session) -> MailServer | None:
    """SMTP settings; None before they have been set up."""
    return db.get(MailServer, 1)


def get_shop(db: Session) -> MailServer:
    """The mail server, where it must have been set up; RuleError otherwise."""
    settings = the_mailbox(db)
    if settings is None:
        raise RuleError(
            gettext("no mail server is set up yet: ask the owner to set it up under Mail server")
        )
    return settings


def save(
    db: Session, by: Actor, seal: Seal, values: Mapping[str, Any], password: str | None
) -> MailServer:
    """Set the mail server up, or change it; a password of none keeps the one on record.

    Raises ValidationError, also where a password would cross the wire in the clear.
    """
    clean = fields.require(SPECIFICATION, values, "host", "port", "security", "sender")
    row = the_mailbox(db)
    sealed = seal.shut(password) if password else (row.password_sealed if row else "")
    if not clean.get("login"):
        sealed = ""
    if sealed and clean["security"] is Security.NONE:
        message = gettext("a password must not be sent unencrypted: choose STARTTLS or TLS")
        raise ValidationError([FieldError("security", message)])
    if row is None:
        row = MailServer(id=1, **clean, password_sealed=sealed)
        db.add(row)
        audit_log.record(db, by, row, "set up")
    else:
        audit_log.change(db, by, row, {**clean, "password_sealed": sealed})
    return row


def server(row: MailServer, seal: Seal) -> Server:
    """The server as one connects to it. Raises SealError where its password does not open."""
    return Server(row.host, row.port, row.security, row.login, seal.open(row.password_sealed))
