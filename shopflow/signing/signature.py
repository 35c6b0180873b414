"""Putting the shop's signature on PDFs, and checking it."""

from __future__ import annotations

import io
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from shopflow.errors import RuleError
from shopflow.signing import keys
from shopflow.signing.field import with_field
from shopflow.texts import gettext

FIELD = "ShopSignature"

# What the library logs of a broken signature is said in words by `check`.
for _library in ("pyhanko", "pyhanko_certvalidator"):
    logging.getLogger(_library).addHandler(logging.NullHandler())


@dataclass(frozen=True)
class Checked:
    """Result of the check of a PDF's signature."""

    sound: bool
    words: str


@dataclass(frozen=True)
class Signer:
    """Signs the shop's PDFs."""

    folder: Path
    key: str
    """Fingerprint of the key, as documents print it."""

    def __call__(self, pdf: bytes) -> bytes:
        """The PDF, signed. Raises as `sign`."""
        return sign(self.folder, pdf)


def signer(folder: Path) -> Signer | None:
    """Signer of the shop's PDFs; None where the shop has no key.

    Raises RuleError where the key cannot be read.
    """
    if not keys.has_key(folder):
        return None
    return Signer(folder, keys.public_keys(folder)[0].printed)


def sign(folder: Path, pdf: bytes) -> bytes:
    """Certify the PDF with the shop's key, so that no later change is allowed.

    Raises RuleError saying why where it cannot be signed.
    """
    try:
        from pyhanko.sign import PdfSignatureMetadata, PdfSigner
        from pyhanko.sign.fields import MDPPerm
    except ImportError:
        raise RuleError(str(keys.MISSING)) from None
    settings = PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        certify=True,
        docmdp_permissions=MDPPerm.NO_CHANGES,
        reason=gettext("Issued by the shop"),
    )
    try:
        prepared = with_field(pdf, FIELD, gettext("Signature of the shop"))
        writer = _writer(prepared)
        signer = PdfSigner(settings, keys.load(folder))
        signed = _apart(partial(signer.sign_pdf, writer, output=io.BytesIO()))
    except Exception as error:
        # Whatever the library meets: the document is not issued, and why is said.
        raise RuleError(
            gettext("the document could not be signed: {why}", why=_why(error))
        ) from error
    return bytes(signed.getvalue())


def _writer(pdf: bytes) -> Any:
    """A writer that leaves the file's description of itself alone: as the library writes it, it
    would no longer say which standards the file follows."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    class Writer(IncrementalPdfFileWriter):
        def _update_meta(self) -> None:
            pass

    return Writer(io.BytesIO(pdf), strict=False)


def check(folder: Path, pdf: bytes) -> Checked | None:
    """Check the signature in a PDF with the shop's key; None where it is unsigned.

    It must be the shop's own, certify the whole file, and allow no change.
    """
    if b"/ByteRange" not in pdf:
        return None
    if not keys.has_key(folder):
        return Checked(False, gettext("signed, but this shop has no key to check it by"))
    try:
        return _check(folder, pdf)
    except ImportError:
        return Checked(False, gettext("signed, but not checked: {missing}", missing=keys.MISSING))
    except Exception as error:
        # A damaged file breaks the library in as many ways as there are bytes.
        return Checked(False, gettext("it cannot be read: {error}", error=_why(error)))


def _apart(work: Callable[[], Any]) -> Any:
    """Run work in its own thread: the library starts an event loop, and a thread can have only
    one."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(work).result()


def _check(folder: Path, pdf: bytes) -> Checked:
    from asn1crypto.x509 import Certificate as Asn1Certificate
    from cryptography.hazmat.primitives.serialization import Encoding
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.fields import MDPPerm
    from pyhanko.sign.validation import SignatureCoverageLevel, validate_pdf_signature
    from pyhanko_certvalidator import ValidationContext

    signatures = PdfFileReader(io.BytesIO(pdf)).embedded_signatures
    if len(signatures) != 1:
        return Checked(
            False,
            gettext(
                "there are {signatures} signatures; a document has one",
                signatures=len(signatures),
            ),
        )
    (signature,) = signatures
    own = [
        Asn1Certificate.load(item.public_bytes(Encoding.DER)) for item in keys.certificates(folder)
    ]
    if signature.signer_cert.sha256 not in {item.sha256 for item in own}:
        return Checked(False, gettext("it is not by this shop's key"))
    moment = signature.self_reported_timestamp
    context = ValidationContext(trust_roots=own, allow_fetching=False, moment=moment)
    status = _apart(partial(validate_pdf_signature, signature, context))
    if not status.bottom_line:
        return Checked(False, gettext("it does not hold: the file was changed after it was signed"))
    if status.coverage is not SignatureCoverageLevel.ENTIRE_FILE:
        return Checked(False, gettext("something was added to the file after it was signed"))
    if signature.docmdp_level is not MDPPerm.NO_CHANGES:
        return Checked(False, gettext("it does not certify that nothing may change"))
    return Checked(
        True,
        gettext("by this shop's key, whole and unchanged since {moment:%Y-%m-%d}", moment=moment),
    )


def _why(error: Exception) -> str:
    return str(error) or type(error).__name__
