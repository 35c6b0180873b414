"""Time stamps of the record log's head by an authority outside the shop, RFC 3161.

The authority signs that a hash existed at a time; it learns nothing of the records. What it sent is
verified before it is stored, and again by `shopflow check`, against the authority's root
certificate in the shop's folder. It needs the extra `stamp`.
"""

from __future__ import annotations

import urllib.error
import urllib.request
from datetime import datetime
from pathlib import Path
from typing import Any

from cryptography import x509

from shopflow.errors import ShopflowError
from shopflow.texts import gettext

ROOTS_FILE = "time-stamp-roots.pem"
"""Root certificates of the authorities that the shop trusts, in its folder."""

PATIENCE = 20.0
"""Seconds that an authority is waited for."""

LARGEST = 200_000
"""Bytes of a reply at most; real ones have a few thousand."""


def message(size: int, root: str) -> bytes:
    """The text that is stamped for a head of the log."""
    return f"{size} {root}".encode("ascii")


def stamp(authority: str, content: bytes, folder: Path) -> tuple[bytes, datetime]:
    """A reply of an authority for a text, verified, and the time it states.

    Raises ShopflowError where the authority does not answer, or its reply proves nothing.
    """
    if not authority.startswith(("http://", "https://")):
        raise ShopflowError(
            gettext("'{authority}' is not an http or https address", authority=authority)
        )
    asked = _library().TimestampRequestBuilder().data(content).build()
    request = urllib.request.Request(
        authority,
        data=asked.as_bytes(),
        headers={"Content-Type": "application/timestamp-query"},
    )
    try:
        # Only http and https get here.
        with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
            reply: bytes = answer.read(LARGEST)
    except (OSError, ValueError, urllib.error.URLError) as error:
        raise ShopflowError(
            gettext(
                "the authority at {authority} did not answer: {error}",
                authority=authority,
                error=error,
            )
        ) from None
    return reply, verified(reply, content, folder, nonce=asked.nonce)


def verified(reply: bytes, content: bytes, folder: Path, nonce: int | None = None) -> datetime:
    """The time that a stored reply proves a text for.

    Raises ShopflowError where it proves nothing: another text, another authority, a bad signature.
    """
    library = _library()
    builder = library.VerifierBuilder()
    for certificate in _roots(folder):
        builder = builder.add_root_certificate(certificate)
    if nonce is not None:
        builder = builder.nonce(nonce)
    try:
        response: Any = library.decode_timestamp_response(reply)
        builder.build().verify_message(response, content)
    except (library.VerificationError, ValueError) as error:
        raise ShopflowError(
            gettext("the time stamp proves nothing: {error}", error=error)
        ) from None
    moment: datetime = response.tst_info.gen_time
    return moment


def _roots(folder: Path) -> list[x509.Certificate]:
    file = folder / ROOTS_FILE
    try:
        return x509.load_pem_x509_certificates(file.read_bytes())
    except (OSError, ValueError) as error:
        raise ShopflowError(
            gettext(
                "put the root certificate of the time stamp authority into {file} (PEM): {error}",
                file=file,
                error=error,
            )
        ) from None


def _library() -> Any:
    try:
        import rfc3161_client
    except ImportError:
        raise ShopflowError(
            gettext("time stamps need an extra: install 'shopflow[stamp]'")
        ) from None
    return rfc3161_client
