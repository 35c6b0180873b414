"""Signing what is issued, and stating the key on it."""

from __future__ import annotations

from typing import Protocol

from sqlalchemy.orm import Session

from shopflow.documents import SigningKey
from shopflow.services.shop.settings import get_shop
from shopflow.texts import spoken


class Sign(Protocol):
    """Puts the shop's signature on a PDF."""

    @property
    def key(self) -> str:
        """Fingerprint of its key, as it is printed."""

    def __call__(self, pdf: bytes) -> bytes:
        """The PDF, signed."""


def signing_key(db: Session, sign: Sign | None) -> SigningKey | None:
    """The key as a document states it; None for one that is not signed."""
    if sign is None:
        return None
    web = get_shop(db).web_address
    return SigningKey(sign.key, f"{web}/verify" if web else "")


def signed(pdf: bytes, language: str, sign: Sign | None) -> bytes:
    """A PDF with the shop's signature, where it signs; its reason is in the document's language."""
    if sign is None:
        return pdf
    with spoken(language):
        return sign(pdf)
