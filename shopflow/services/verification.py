"""Whether a paper is one this shop issued, and whether it still stands.

What is told is told to anyone: nothing but the standing of the paper they hold.
"""

from __future__ import annotations

import hashlib
import hmac
import re
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import Certificate
from shopflow.services import certificates


class Standing(StrEnum):
    """What a paper is worth."""

    CURRENT = "as issued, current"
    REPLACED = "as issued, but replaced"
    WITHDRAWN = "withdrawn"
    UNKNOWN = "not a paper of this shop"


@dataclass(frozen=True)
class Answer:
    """What whoever holds a paper is told of it."""

    standing: Standing
    title: str = ""
    replaced_by: str = ""
    """Title of the revision that holds now."""

    replacement_withdrawn: bool = False
    withdrawn_at: datetime | None = None
    withdrawn_by: str = ""
    withdrawal_reason: str = ""


UNKNOWN = Answer(Standing.UNKNOWN)
_NO_CODE = "0000-0000-0000-0000"
_NOT_OF_A_CODE = re.compile(r"[^0-9A-F]")


def of_pdf(db: Session, content: bytes) -> Answer:
    """The standing of a PDF, byte for byte."""
    found = certificate_of(db, content)
    return UNKNOWN if found is None else _answer(db, found)


def of_code(db: Session, number: str, code: str) -> Answer:
    """The standing of the certificate with this number and code, however they are spaced.

    An unknown number and a wrong code are answered alike: both are compared with as many codes.
    """
    number = number.replace("\x00", "").strip().upper()[:20]
    query = select(Certificate.id, Certificate.code).where(Certificate.number == number)
    stored = [(row.id, row.code) for row in db.execute(query)] or [(None, _NO_CODE)]
    given = _plain(code)
    # Every one is compared, whether an earlier one went or not.
    matching = [key for key, known in stored if hmac.compare_digest(_plain(known), given) and key]
    found = db.get(Certificate, matching[0]) if matching else None
    return UNKNOWN if found is None else _answer(db, found)


def certificate_of(db: Session, content: bytes) -> Certificate | None:
    """The certificate whose PDF has exactly these bytes."""
    digest = hashlib.sha256(content).hexdigest()
    return db.scalars(select(Certificate).where(Certificate.sha256 == digest)).first()


def _answer(db: Session, found: Certificate) -> Answer:
    newest = certificates.newest(db, found)
    replaced = newest is not found
    standing = Standing.REPLACED if replaced else Standing.CURRENT
    if found.withdrawn_at is not None:
        standing = Standing.WITHDRAWN
    return Answer(
        standing=standing,
        title=found.title,
        replaced_by=newest.title if replaced else "",
        replacement_withdrawn=replaced and newest.withdrawn_at is not None,
        withdrawn_at=found.withdrawn_at,
        withdrawn_by=found.withdrawn_by.name if found.withdrawn_by else "",
        withdrawal_reason=found.withdrawal_reason,
    )


def _plain(code: str) -> bytes:
    """The digits of a code, without the marks between them."""
    return _NOT_OF_A_CODE.sub("", code.upper()[:60]).encode("ascii")
