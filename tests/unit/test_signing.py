"""The shop's signature: put on, held by a general library to be whole, and missed by no change."""

from __future__ import annotations

import io
import random
import stat
import sys
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pymupdf
import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader

from shopflow import papers, signing
from shopflow.errors import RuleError
from shopflow.signing.field import with_field
from tests.pdf import samples

NOW = datetime.now(UTC)
PDF = papers.flow_certificate(samples.certificate([samples.session()]))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop's folder with its key."""
    row = tmp_path_factory.mktemp("shop")
    signing.make_key(row, "Halvane Cylinder Heads", NOW)
    return row


@pytest.fixture(scope="module")
def signed(folder: Path) -> bytes:
    """A certificate with the shop's signature."""
    return signing.sign(folder, PDF)


def test_the_key_is_p256_self_signed_and_the_shops_alone(folder: Path) -> None:
    path = folder / signing.KEY_FILE
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    answer = x509.load_pem_x509_certificate(path.read_bytes())
    key = answer.public_key()
    assert isinstance(key, ec.EllipticCurvePublicKey)
    assert key.curve.name == "secp256r1"
    answer.verify_directly_issued_by(answer)
    assert "Halvane Cylinder Heads" in answer.subject.rfc4514_string()


def test_there_is_one_key_and_it_is_never_overwritten(folder: Path) -> None:
    before = (folder / signing.KEY_FILE).read_bytes()
    with pytest.raises(RuleError, match="has a signing key already"):
        signing.make_key(folder, "Another", NOW)
    assert (folder / signing.KEY_FILE).read_bytes() == before
    with pytest.raises(RuleError, match="cannot write"):
        signing.make_key(folder / "nowhere", "Another", NOW)


def test_a_shop_without_a_key_does_not_sign(tmp_path: Path) -> None:
    assert signing.signer(tmp_path) is None
    assert signing.check(tmp_path, PDF) is None


def test_it_is_certified_whole_with_no_change_allowed(folder: Path, signed: bytes) -> None:
    answer = signing.check(folder, signed)
    assert answer is not None
    assert answer.sound, answer.words
    # ISO 32000-1, 12.8.2.2: a DocMDP signature whose P is 1 allows no change.
    with pikepdf.open(io.BytesIO(signed)) as pdf:
        signature = pdf.Root.Perms.DocMDP
        assert signature.Reference[0].TransformParams.P == 1
        assert set(pdf.attachments) == {
            "session-1.toml",
            "session-1.csv",
            "FC-2026-0007.json",
        }
    assert signed.startswith(with_field(PDF, signing.FIELD, "Signature of the shop"))


def test_a_signed_one_is_a_sound_pdf(signed: bytes) -> None:
    with pikepdf.open(io.BytesIO(signed)) as pdf:
        assert pdf.check_pdf_syntax() == []
    with pymupdf.open(stream=signed, filetype="pdf") as pdf:
        assert not pdf.is_repaired
        assert sum("End of certificate" in page.get_text() for page in pdf) == 1


def test_something_added_later_is_found(folder: Path, signed: bytes) -> None:
    writer = IncrementalPdfFileWriter(io.BytesIO(signed))
    writer.set_info(generic.DictionaryObject({generic.pdf_name("/Title"): generic.pdf_string("x")}))
    titled = io.BytesIO()
    writer.write(titled)
    for changed in (titled.getvalue(), signed + b"\n% more"):
        answer = signing.check(folder, changed)
        assert answer is not None
        assert not answer.sound
        assert "after it was signed" in answer.words


def test_every_byte_the_signature_covers_counts(folder: Path, signed: bytes) -> None:
    # What lies between the two ranges is the signature itself, checked by the file's hash alone.
    _, _, start, _ = (int(part) for part in _byte_range(signed))
    gap = range(signed.rindex(b"/Contents", 0, start), start)
    chosen = random.Random(7178)
    places = [place for place in chosen.sample(range(len(signed)), 30) if place not in gap]
    for place in places:
        changed = bytearray(signed)
        changed[place] ^= 1 << chosen.randrange(8)
        answer = signing.check(folder, bytes(changed))
        assert answer is None or not answer.sound, place


def _byte_range(signed: bytes) -> list[int]:
    (answer,) = PdfFileReader(io.BytesIO(signed)).embedded_signatures
    return [int(part) for part in answer.byte_range]


def test_another_shops_signature_is_not_taken(signed: bytes, tmp_path: Path) -> None:
    without = signing.check(tmp_path, signed)
    assert without is not None
    assert "no key to check it by" in without.words
    signing.make_key(tmp_path, "Halvane Cylinder Heads", NOW)
    answer = signing.check(tmp_path, signed)
    assert answer is not None
    assert answer.words == "it is not by this shop's key"


def test_what_cannot_be_signed_is_said(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="could not be signed"):
        signing.sign(folder, b"%PDF-1.4 no more than that")
    (tmp_path / signing.KEY_FILE).write_text("not a key")
    with pytest.raises(RuleError, match="could not be signed"):
        signing.sign(tmp_path, PDF)


def test_without_the_library_the_shop_is_told_what_to_install(
    folder: Path, signed: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("pyhanko", "pyhanko.sign", "pyhanko.pdf_utils.reader"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(RuleError, match="install 'shopflow"):
        signing.sign(folder, PDF)
    with pytest.raises(RuleError, match="install 'shopflow"):
        signing.make_key(tmp_path, "Halvane Cylinder Heads", NOW)
    assert not signing.has_key(tmp_path)
    answer = signing.check(folder, signed)
    assert answer is not None
    assert not answer.sound
    assert "not checked" in answer.words
