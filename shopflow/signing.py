"""The shop's own signature on its certificates: ECDSA over P-256, by a self-signed certificate.

The key lies in the shop's folder and nowhere else. Signing needs the extra `sign`; a shop without
a key issues certificates unsigned.
"""

from __future__ import annotations

import io
import logging
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shopflow.errors import RuleError
from shopflow.signature_field import with_field
from shopflow.texts import gettext, lazy

if TYPE_CHECKING:
    from cryptography.x509 import Certificate, Name
    from pyhanko.sign.signers import SimpleSigner

KEY_FILE = "signing.pem"
"""Private key and certificate, readable by the shop's account alone."""

LASTS = timedelta(days=365 * 25)
FIELD = "ShopSignature"
MISSING = lazy(
    "this installation cannot sign: install 'shopflow[sign]', or move the signing key ({file}) out "
    "of the shop's folder to issue unsigned",
    file=KEY_FILE,
)


# What the library logs of a broken signature is said in words by `check`.
for _library in ("pyhanko", "pyhanko_certvalidator"):
    logging.getLogger(_library).addHandler(logging.NullHandler())


@dataclass(frozen=True)
class Checked:
    """Result of the check of a PDF's signature."""

    sound: bool
    words: str


def has_key(folder: Path) -> bool:
    """True where the shop signs its certificates."""
    return (folder / KEY_FILE).exists()


def make_key(folder: Path, shop_name: str, at: datetime) -> str:
    """Make the shop's key and its certificate; the certificate's SHA-256 is returned.

    Raises RuleError where there is one already, it cannot be written, or the extra is missing.
    """
    try:
        content, digest = _new_key(shop_name, at)
    except ImportError:
        raise RuleError(str(MISSING)) from None
    path = folder / KEY_FILE
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise RuleError(
            gettext(
                "the shop has a signing key already ({path}); move it away first to make another",
                path=path,
            )
        ) from None
    except OSError as error:
        raise RuleError(
            gettext("cannot write {path}: {strerror}", path=path, strerror=error.strerror)
        ) from None
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
    return digest


def signer(folder: Path) -> Callable[[bytes], bytes] | None:
    """Function that signs the shop's PDFs; None where the shop has no key."""
    return partial(sign, folder) if has_key(folder) else None


def sign(folder: Path, pdf: bytes) -> bytes:
    """Certify the PDF with the shop's key, so that no later change is allowed.

    Raises RuleError saying why where it cannot be signed.
    """
    try:
        from pyhanko.sign import PdfSignatureMetadata, PdfSigner
        from pyhanko.sign.fields import MDPPerm
    except ImportError:
        raise RuleError(str(MISSING)) from None
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
        signer = PdfSigner(settings, _load(folder))
        signed = _apart(partial(signer.sign_pdf, writer, output=io.BytesIO()))
    except Exception as error:
        # Whatever the library meets: the certificate is not issued, and why is said.
        raise RuleError(
            gettext("the certificate could not be signed: {why}", why=_why(error))
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
    if not has_key(folder):
        return Checked(False, gettext("signed, but this shop has no key to check it by"))
    try:
        return _check(folder, pdf)
    except ImportError:
        return Checked(False, gettext("signed, but not checked: {missing}", missing=MISSING))
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
                "there are {signatures} signatures; a certificate has one",
                signatures=len(signatures),
            ),
        )
    (signature,) = signatures
    own = Asn1Certificate.load(_certificate(folder).public_bytes(Encoding.DER))
    if signature.signer_cert.sha256 != own.sha256:
        return Checked(False, gettext("it is not by this shop's key"))
    moment = signature.self_reported_timestamp
    context = ValidationContext(trust_roots=[own], allow_fetching=False, moment=moment)
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


def _new_key(shop_name: str, at: datetime) -> tuple[bytes, str]:
    """A private key with its certificate as PEM, and the certificate's SHA-256."""
    import pyhanko  # noqa: F401  A key that nothing can sign with is of no use.
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    certificate = _self_signed(key, shop_name, at)
    content = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    ) + certificate.public_bytes(serialization.Encoding.PEM)
    return content, certificate.fingerprint(hashes.SHA256()).hex()


def _self_signed(key: Any, shop_name: str, at: datetime) -> Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    name = _name(shop_name)
    usage = dict.fromkeys(
        (
            "key_encipherment",
            "data_encipherment",
            "key_agreement",
            "key_cert_sign",
            "crl_sign",
            "encipher_only",
            "decipher_only",
        ),
        False,
    )
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - timedelta(minutes=5))
        .not_valid_after(at + LASTS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(
            x509.KeyUsage(digital_signature=True, content_commitment=True, **usage), critical=True
        )
        .sign(key, hashes.SHA256())
    )


def _name(shop_name: str) -> Name:
    from cryptography import x509

    # X.520 allows 64 letters in a common name.
    return x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, shop_name[:64])])


def _load(folder: Path) -> SimpleSigner:
    from asn1crypto.keys import PrivateKeyInfo
    from asn1crypto.x509 import Certificate as Asn1Certificate
    from cryptography.hazmat.primitives import serialization
    from pyhanko.sign import SimpleSigner
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    key = serialization.load_pem_private_key((folder / KEY_FILE).read_bytes(), password=None)
    private = key.private_bytes(
        serialization.Encoding.DER,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    certificate = _certificate(folder).public_bytes(serialization.Encoding.DER)
    return SimpleSigner(
        signing_cert=Asn1Certificate.load(certificate),
        signing_key=PrivateKeyInfo.load(private),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
    )


def _certificate(folder: Path) -> Certificate:
    from cryptography import x509

    return x509.load_pem_x509_certificate((folder / KEY_FILE).read_bytes())


def _why(error: Exception) -> str:
    return str(error) or type(error).__name__
