"""Handing a message to the shop's own mail server, and what came of it."""

from __future__ import annotations

import smtplib
import ssl
from collections.abc import Callable
from email.message import EmailMessage

from shopflow.errors import ShopflowError
from shopflow.mail.server import Security, Server
from shopflow.texts import gettext

PATIENCE = 60.0
"""Seconds a server may take over one answer."""


class DeliveryError(ShopflowError):
    """The message was not taken; the words say what the server said."""


class RefusedError(DeliveryError):
    """The server refused this message for good: trying again will not help."""


class LaterError(DeliveryError):
    """Not this time: the server is away, busy, or its settings here are wrong."""


class UnsureError(DeliveryError):
    """The line broke after the message was handed over, before the server's answer came."""


def deliver(
    server: Server,
    message: EmailMessage,
    *,
    before_handing_over: Callable[[], None] = lambda: None,
    patience: float = PATIENCE,
) -> tuple[str, ...]:
    """Hand one message over. Returns only when the server has said that it took it.

    Returns the server's answer for each recipient it refused for good while it took others. One
    that it does not take for the time being puts the whole message off: nothing is sent yet.

    `before_handing_over` is called when the server is ready for the content and nothing of it has
    been sent; what it raises stops the delivery. Raises RefusedError, LaterError, UnsureError.
    """
    client = _opened(server, patience)
    try:
        refused = _name_the_parties(client, message)
        before_handing_over()
        _hand_over(client, message)
    finally:
        _leave(client)
    return refused


def _opened(server: Server, patience: float) -> smtplib.SMTP:
    """A line to the server, private and signed in as the settings say. Raises LaterError."""
    client: smtplib.SMTP | None = None
    try:
        context = ssl.create_default_context()
        if server.security is Security.TLS:
            client = smtplib.SMTP_SSL(server.host, server.port, timeout=patience, context=context)
        else:
            client = smtplib.SMTP(server.host, server.port, timeout=patience)
        if server.security is Security.STARTTLS:
            client.starttls(context=context)
        if server.login:
            client.login(server.login, server.password)
        client.ehlo_or_helo_if_needed()
    except (OSError, smtplib.SMTPException, UnicodeError) as error:
        if client is not None:
            client.close()
        raise LaterError(_why_not_opened(server, error)) from None
    return client


def _name_the_parties(client: smtplib.SMTP, message: EmailMessage) -> tuple[str, ...]:
    """Send the sender and the recipients; return the refusals where at least one is accepted."""
    sender = message["From"].addresses[0].addr_spec
    recipients = [
        address.addr_spec
        for name in ("To", "Cc")
        for header in message.get_all(name, [])
        for address in header.addresses
    ]
    refused = []
    try:
        code, answer = client.mail(sender)
        if code >= 400:
            raise _refusal(gettext("the mail server does not take the sender"), code, answer)
        for recipient in recipients:
            code, answer = client.rcpt(recipient)
            if code >= 400:
                refused.append(
                    _refusal(
                        gettext(
                            "the mail server does not take the address {recipient}",
                            recipient=recipient,
                        ),
                        code,
                        answer,
                    )
                )
    except (OSError, smtplib.SMTPException) as error:
        raise LaterError(gettext("the mail server hung up: {error}", error=error)) from None
    later = [error for error in refused if isinstance(error, LaterError)]
    if later or len(refused) == len(recipients):
        kind = LaterError if later else RefusedError
        raise kind("; ".join(str(error) for error in later or refused))
    return tuple(str(error) for error in refused)


def _hand_over(client: smtplib.SMTP, message: EmailMessage) -> None:
    try:
        code, answer = client.data(message.as_bytes())
    except smtplib.SMTPDataError as error:
        # Answered before any of the content was sent.
        raise _refusal(
            gettext("the mail server refuses"), error.smtp_code, error.smtp_error
        ) from None
    except (OSError, smtplib.SMTPException) as error:
        raise UnsureError(
            gettext(
                "the line broke while the message was handed over ({error}): it may have been sent",
                error=error,
            )
        ) from None
    if code >= 400:
        raise _refusal(gettext("the mail server refuses the message"), code, answer)


def _refusal(refusal: str, code: int, answer: bytes | str) -> DeliveryError:
    """4xx may pass another time, 5xx never will: RFC 5321, 4.2.1."""
    words = answer.decode("utf-8", "replace") if isinstance(answer, bytes) else answer
    kind = RefusedError if code >= 500 else LaterError
    return kind(f"{refusal}: {code} {' '.join(words.split())[:300]}")


def _leave(client: smtplib.SMTP) -> None:
    """Say goodbye; what came of the message is settled by now, whatever becomes of the line."""
    try:
        client.quit()
    except (OSError, smtplib.SMTPException):
        client.close()


def _why_not_opened(server: Server, error: Exception) -> str:
    where = gettext("{host} port {port}", host=server.host, port=server.port)
    match error:
        case smtplib.SMTPAuthenticationError():
            return gettext(
                "the mail server at {where} does not take the user and password", where=where
            )
        case smtplib.SMTPNotSupportedError():
            return gettext(
                "the mail server at {where} does not offer what is set: {error}",
                where=where,
                error=error,
            )
        case ssl.SSLCertVerificationError():
            return gettext(
                "the mail server at {where} has a certificate that cannot be trusted: {error}",
                where=where,
                error=error,
            )
        case ssl.SSLError():
            return gettext(
                "no private line to {where}: check port and security ({reason})",
                where=where,
                reason=error.reason,
            )
        case TimeoutError() | smtplib.SMTPServerDisconnected():
            return gettext("the mail server at {where} does not answer, or hangs up", where=where)
        case smtplib.SMTPException():
            return gettext(
                "the mail server at {where} cannot be used: {error}", where=where, error=error
            )
    return gettext(
        "the mail server at {where} cannot be reached: {error}", where=where, error=error
    )
