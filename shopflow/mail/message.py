"""Building an e-mail, as RFC 5322 and MIME have it, with the standard library's own package."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime, make_msgid

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

SEVEN_BITS = SMTP.clone(cte_type="7bit")
"""Every mail server passes ASCII on; not every one offers more (RFC 6152)."""


class UnfitLetterError(ShopflowError):
    """A letter cannot be made into a message."""


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file attached to a message."""

    name: str
    content: bytes
    media_type: str = "application/pdf"


@dataclass(frozen=True, slots=True)
class Letter:
    """An e-mail as the shop wrote it."""

    message_id: str
    written_at: datetime
    to: str
    to_name: str
    sender: str
    sender_name: str
    subject: str
    body: str
    reply_to: str = ""
    also_to: tuple[str, ...] = ()
    cc: tuple[str, ...] = ()
    attachment: Attachment | None = None


MOST_ADDRESSES = 20
"""Recipients of one list; a customer's people, not a circular."""


def addresses(text: str) -> tuple[str, ...]:
    """Split text into addresses at commas, semicolons, spaces or line breaks; each once.

    Raises ValueError that names the one that is no address.
    """
    by_name: dict[str, str] = {}
    for part in re.split(r"[,;\s]+", text.strip(",; \t\r\n")):
        try:
            checked = address(part)
        except ValueError:
            if not part:
                continue
            raise ValueError(
                gettext(
                    "'{part}' is not an e-mail address: enter it like name@place.example", part=part
                )
            ) from None
        by_name.setdefault(checked.casefold(), checked)
    if len(by_name) > MOST_ADDRESSES:
        raise ValueError(
            gettext(
                "at most {most_addresses} addresses; these are {count}",
                most_addresses=MOST_ADDRESSES,
                count=len(by_name),
            )
        )
    return tuple(by_name.values())


def address(text: str) -> str:
    """Check an address for use in a header and by any mail server: "name@place.example".

    A place in other letters is put into ASCII. Raises ValueError, in words, for anything else.
    """
    trimmed = text.strip()
    local, at, domain = trimmed.rpartition("@")
    if not at or not local or "." not in domain or any(sign in trimmed for sign in ' ,;<>"()'):
        raise ValueError(gettext("enter one e-mail address, like name@place.example"))
    try:
        ascii_address = Address(
            addr_spec=f"{local}@{domain.encode('idna').decode('ascii')}"
        ).addr_spec
    except (MessageError, ValueError, IndexError):
        raise ValueError(gettext("enter one e-mail address, like name@place.example")) from None
    if not ascii_address.isascii() or not ascii_address.isprintable() or len(ascii_address) > 200:
        raise ValueError(gettext("use plain letters before the @, and at most 200 characters"))
    return ascii_address


def new_message_id(sender: str) -> str:
    """A Message-ID that no other message has, at the sender's own place."""
    return make_msgid(domain=sender.rpartition("@")[2])


def build(letter: Letter) -> EmailMessage:
    """The message to send; the same letter gives the same headers every time.

    Raises UnfitLetterError where it cannot be built, whatever the reason: a header that would hold
    a line break, an address that is none, a character that no encoding has.
    """
    try:
        message = _message(letter)
        message.as_bytes()
    # The email package raises errors of many kinds, some of them by its own faults.
    except Exception as error:
        raise UnfitLetterError(
            gettext("the message cannot be put together: {error}", error=error)
        ) from error
    return message


def _message(letter: Letter) -> EmailMessage:
    message = EmailMessage(policy=SEVEN_BITS)
    _address(message, letter)
    message.set_content(letter.body)
    if letter.attachment is not None:
        maintype, _, subtype = letter.attachment.media_type.partition("/")
        message.add_attachment(
            letter.attachment.content,
            maintype=maintype,
            subtype=subtype,
            filename=letter.attachment.name,
        )
    return message


def _address(message: EmailMessage, letter: Letter) -> None:
    message["From"] = _mailbox(letter.sender_name, letter.sender)
    copies = [_mailbox("", each) for each in letter.also_to]
    message["To"] = [_mailbox(letter.to_name, letter.to), *copies]
    if letter.cc:
        message["Cc"] = [_mailbox("", each) for each in letter.cc]
    if letter.reply_to:
        message["Reply-To"] = _mailbox("", letter.reply_to)
    message["Subject"] = letter.subject
    message["Date"] = format_datetime(letter.written_at)
    message["Message-ID"] = letter.message_id


def _mailbox(name: str, address: str) -> Address:
    # A name is words for the reader: line breaks in one become spaces.
    return Address(display_name=" ".join(name.split()), addr_spec=address)
