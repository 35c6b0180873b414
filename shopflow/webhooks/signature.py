"""Signatures of posts, as Standard Webhooks 1.0.0 has them."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from collections.abc import Sequence

PREFIX = "whsec_"
SECRET_BYTES = 32
"""The specification allows 24 to 64."""


def new_secret() -> str:
    """A secret of random bytes, as owners copy it to the receiver."""
    return PREFIX + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode("ascii")


def new_message_id() -> str:
    """The identity of a message, the same at each try, by which a receiver knows a repeat."""
    return f"msg_{secrets.token_hex(16)}"


def sign(secret: str, message_id: str, timestamp: int, body: str) -> str:
    """Signature of one body under one secret.

    The published example of the specification's own library:

    >>> sign("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "msg_p5jXN8AQM9LWM0D4loKWxJek",
    ...      1614265330, '{"test": 2432232314}')
    'v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE='
    """
    key = base64.b64decode(secret.removeprefix(PREFIX))
    signed = f"{message_id}.{timestamp}.{body}".encode()
    digest = hmac.new(key, signed, hashlib.sha256).digest()
    return f"v1,{base64.b64encode(digest).decode('ascii')}"


def headers(keys: Sequence[str], message_id: str, timestamp: int, body: str) -> dict[str, str]:
    """Headers of a post; signed under each secret, so that one can be changed without a gap."""
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(sign(key, message_id, timestamp, body) for key in keys),
    }
