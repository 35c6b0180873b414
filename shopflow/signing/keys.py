"""The shop's signing keys: the one it signs with, and the public parts of those it replaced."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shopflow.errors import RuleError
from shopflow.texts import gettext, lazy

if TYPE_CHECKING:
    from cryptography.x509 import Certificate, Name
    from pyhanko.sign.signers import SimpleSigner

KEY_FILE = "signing.pem"
"""Private key and certificate, readable by the shop's account alone."""

EARLIER_FILE = "signing-earlier.pem"
"""Certificates of keys that were replaced: what they signed stays verifiable."""

LASTS = timedelta(days=365 * 25)
MISSING = lazy(
    "this installation cannot sign: install 'shopflow[sign]', or move the signing key ({file}) out "
    "of the shop's folder to issue unsigned",
    file=KEY_FILE,
)


@dataclass(frozen=True)
class PublicKey:
    """A key that the shop signs or signed with: a point of P-256."""

    shop: str
    """Name on its certificate."""

    fingerprint: str
    """SHA-256 of its certificate, hexadecimal."""

    x: str
    y: str

    @property
    def printed(self) -> str:
        """First half of the fingerprint in groups, as documents print it to be compared by eye.

        >>> PublicKey("", "0123456789abcdef" * 4, "", "").printed
        '0123-4567-89AB-CDEF-0123-4567-89AB-CDEF'
        """
        half = self.fingerprint[:32].upper()
        return "-".join(half[start : start + 4] for start in range(0, len(half), 4))


def has_key(folder: Path) -> bool:
    """True where the shop signs its documents."""
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
        _write_new(path, content)
    except FileExistsError:
        raise RuleError(
            gettext(
                "the shop has a signing key already ({path}): shopflow key --replace makes another",
                path=path,
            )
        ) from None
    except OSError as error:
        raise RuleError(_cannot_write(path, error)) from None
    return digest


def replace_key(folder: Path, shop_name: str, at: datetime) -> str:
    """Make another key in place of the shop's; the public part of the one before is kept.

    The new certificate's SHA-256 is returned. Raises RuleError where there is none to replace, it
    cannot be read or written, or the extra is missing.
    """
    if not has_key(folder):
        raise RuleError(gettext("the shop has no signing key to replace: make one first"))
    try:
        content, digest = _new_key(shop_name, at)
    except ImportError:
        raise RuleError(str(MISSING)) from None
    path, new = folder / KEY_FILE, folder / f"{KEY_FILE}.new"
    try:
        new.unlink(missing_ok=True)
        _write_new(new, content)
        # Before the old key goes: a crash in between leaves it in both places, which does no harm.
        _append(folder / EARLIER_FILE, _pem(certificate(folder)))
        new.replace(path)
    except (OSError, ValueError) as error:
        raise RuleError(_cannot_write(path, error)) from error
    return digest


def certificate(folder: Path) -> Certificate:
    """Certificate of the key that signs now. Raises OSError or ValueError."""
    from cryptography import x509

    return x509.load_pem_x509_certificate((folder / KEY_FILE).read_bytes())


def certificates(folder: Path) -> list[Certificate]:
    """Certificates of all keys of the shop, the one that signs now first.

    Raises OSError or ValueError where one cannot be read.
    """
    from cryptography import x509

    earlier = folder / EARLIER_FILE
    replaced = x509.load_pem_x509_certificates(earlier.read_bytes()) if earlier.exists() else []
    current = [certificate(folder)] if has_key(folder) else []
    # A replacement cut short leaves one in both files.
    return list(dict.fromkeys([*current, *reversed(replaced)]))


def public_keys(folder: Path) -> list[PublicKey]:
    """Keys that strangers verify the shop's documents by, the one that signs now first.

    Raises RuleError where one cannot be read.
    """
    try:
        return [_public(item) for item in certificates(folder)]
    except (ImportError, OSError, ValueError) as error:
        raise RuleError(
            gettext(
                "the signing key ({file}) cannot be read: restore it from your copy, or move it "
                "out of the shop's folder to issue unsigned",
                file=KEY_FILE,
            )
        ) from error


def load(folder: Path) -> SimpleSigner:
    """Key and certificate, as the signing library takes them. Raises OSError or ValueError."""
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
    public = certificate(folder).public_bytes(serialization.Encoding.DER)
    return SimpleSigner(
        signing_cert=Asn1Certificate.load(public),
        signing_key=PrivateKeyInfo.load(private),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
    )


def _public(item: Certificate) -> PublicKey:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    key: Any = item.public_key()
    point = key.public_numbers()
    (name,) = item.subject.get_attributes_for_oid(x509.NameOID.COMMON_NAME)
    digest = item.fingerprint(hashes.SHA256()).hex()
    return PublicKey(str(name.value), digest, f"{point.x:064x}", f"{point.y:064x}")


def _write_new(path: Path, content: bytes) -> None:
    """Write a file that only the shop's account reads. Raises OSError, also where it exists."""
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)


def _append(path: Path, content: bytes) -> None:
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    with os.fdopen(descriptor, "ab") as file:
        file.write(content)


def _pem(item: Certificate) -> bytes:
    from cryptography.hazmat.primitives import serialization

    return item.public_bytes(serialization.Encoding.PEM)


def _cannot_write(path: Path, error: Exception) -> str:
    why = getattr(error, "strerror", None) or str(error)
    return gettext("cannot write {path}: {strerror}", path=path, strerror=why)


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
