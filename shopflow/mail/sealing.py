"""Secrets that must lie in the database, sealed with the app's own key, which does not."""

from __future__ import annotations

import base64
import hashlib

from cryptography.fernet import Fernet, InvalidToken

from shopflow.errors import ShopflowError


class SealError(ShopflowError):
    """A sealed secret does not open with this key."""


class Seal:
    """Seals and opens short secrets: Fernet (AES-128-CBC with HMAC-SHA-256) under one secret key.

    The purpose keeps this key apart from the one that signs cookies.
    """

    def __init__(self, secret_key: str) -> None:
        digest = hashlib.sha256(b"shopflow sealed secrets\0" + secret_key.encode()).digest()
        self._fernet = Fernet(base64.urlsafe_b64encode(digest))

    def shut(self, secret: str) -> str:
        """A secret, sealed; an empty one stays empty."""
        return self._fernet.encrypt(secret.encode()).decode("ascii") if secret else ""

    def open(self, sealed: str) -> str:
        """The secret again. Raises SealError where the app's secret key is another one."""
        if not sealed:
            return ""
        try:
            return self._fernet.decrypt(sealed.encode()).decode()
        except InvalidToken:
            raise SealError(
                "what was sealed does not open: the app's secret key has changed"
            ) from None
