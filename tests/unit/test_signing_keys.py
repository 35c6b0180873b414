"""The shop's keys: replaced without loss of what they signed."""

from __future__ import annotations

import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from shopflow import papers, signing
from shopflow.errors import RuleError
from tests.pdf import samples

NOW = datetime.now(UTC)


def test_a_replaced_key_still_verifies_and_no_longer_signs(tmp_path: Path) -> None:
    digest = signing.make_key(tmp_path, "Halvane Cylinder Heads", NOW)
    before = signing.sign(tmp_path, papers.quote(samples.quote()))
    again = signing.replace_key(tmp_path, "Halvane Cylinder Heads", NOW)
    assert [key.fingerprint for key in signing.public_keys(tmp_path)] == [again, digest]
    after = signing.sign(tmp_path, papers.quote(samples.quote()))
    for signed in (before, after):
        answer = signing.check(tmp_path, signed)
        assert answer is not None
        assert answer.sound, answer.words
    for name in (signing.KEY_FILE, signing.EARLIER_FILE):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600
    assert b"PRIVATE" not in (tmp_path / signing.EARLIER_FILE).read_bytes()
    assert not list(tmp_path.glob("*.new"))


def test_the_public_key_is_that_of_the_certificate(tmp_path: Path) -> None:
    signing.make_key(tmp_path, "Halvane Cylinder Heads", NOW)
    (key,) = signing.public_keys(tmp_path)
    certificate = x509.load_pem_x509_certificate((tmp_path / signing.KEY_FILE).read_bytes())
    assert key.fingerprint == certificate.fingerprint(hashes.SHA256()).hex()
    # SEC 1, 2.3.3: an uncompressed point is 04, x and y.
    public = certificate.public_key()
    assert isinstance(public, ec.EllipticCurvePublicKey)
    point = public.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    assert point.hex() == f"04{key.x}{key.y}"


def test_a_replacement_cut_short_lists_no_key_twice(tmp_path: Path) -> None:
    signing.make_key(tmp_path, "Halvane Cylinder Heads", NOW)
    content = (tmp_path / signing.KEY_FILE).read_bytes()
    certificate = content[content.index(b"-----BEGIN CERTIFICATE") :]
    (tmp_path / signing.EARLIER_FILE).write_bytes(certificate)
    assert len(signing.public_keys(tmp_path)) == 1


def test_there_must_be_a_key_to_replace_and_it_must_be_readable(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="no signing key to replace"):
        signing.replace_key(tmp_path, "Halvane", NOW)
    (tmp_path / signing.KEY_FILE).write_text("not a key")
    with pytest.raises(RuleError, match="cannot write"):
        signing.replace_key(tmp_path, "Halvane", NOW)
    with pytest.raises(RuleError, match="cannot be read"):
        signing.public_keys(tmp_path)
    assert (tmp_path / signing.KEY_FILE).read_text() == "not a key"
