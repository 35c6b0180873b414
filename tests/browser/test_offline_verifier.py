"""The verifiers a stranger gets: forged, flipped, re-saved and swapped documents told apart.

Both run without shopflow: the program in a bare Python, the page from a file in a Chromium whose
network is cut. Genuine signatures are made by pyHanko and cryptography, which know neither.
"""

from __future__ import annotations

import io
import random
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pikepdf
import pytest
from playwright.sync_api import Browser, Page

from shopflow import papers, signing
from shopflow.signing import verifier
from tests.pdf import samples

NOW = datetime.now(UTC)
SHOP = 'Halvane "Cylinder" Heads & <Söhne>'
ANOTHER = "signed by another key"
CHANGED = "changed after the shop signed"


@dataclass(frozen=True)
class Verdict:
    """Answer of a verifier about a file."""

    good: bool
    words: str


Verify = Callable[..., Verdict]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop's folder whose key was replaced once."""
    folder = tmp_path_factory.mktemp("shop")
    signing.make_key(folder, SHOP, NOW)
    (folder / "earlier.pdf").write_bytes(signing.sign(folder, papers.quote(samples.quote())))
    signing.replace_key(folder, SHOP, NOW)
    return folder


@pytest.fixture(scope="module")
def invoice(folder: Path) -> bytes:
    """A signed invoice."""
    return signing.sign(folder, papers.invoice(samples.invoice()))


@pytest.fixture(scope="module", params=["program", "page"])
def verify(request: pytest.FixtureRequest, folder: Path, tmp_path_factory) -> Iterator[Verify]:
    """A verifier of the shop's documents, as a stranger runs it."""
    keys = signing.public_keys(folder)
    place = tmp_path_factory.mktemp("stranger")
    if request.param == "program":
        (place / "verify_document.py").write_text(verifier.program(SHOP, keys), encoding="utf-8")
        yield lambda pdf, number="": _by_program(place, pdf, number)
        return
    (place / "verify.html").write_text(verifier.page(SHOP, keys), encoding="utf-8")
    chromium: Browser = request.getfixturevalue("chromium")
    context = chromium.new_context(offline=True)
    page = context.new_page()
    page.goto((place / "verify.html").as_uri())
    assert SHOP in page.get_by_role("heading", level=1).inner_text()
    assert keys[0].printed in page.inner_text("#keys")
    yield lambda pdf, number="": _by_page(page, pdf, number)
    context.close()


def _by_program(place: Path, pdf: bytes, number: str) -> Verdict:
    (place / "document.pdf").write_bytes(pdf)
    command = [sys.executable, "-I", "-S", "verify_document.py", "document.pdf"]
    asked = [*command, *(["--number", number] if number else [])]
    done = subprocess.run(asked, cwd=place, capture_output=True, text=True, check=False)
    assert not done.stderr
    assert done.returncode in (0, 1)
    return Verdict(done.returncode == 0, done.stdout)


def _by_page(page: Page, pdf: bytes, number: str) -> Verdict:
    page.evaluate("document.getElementById('answer').hidden = true")
    page.fill("#number", number)
    page.set_input_files("#file", [])
    page.set_input_files(
        "#file", {"name": "document.pdf", "mimeType": "application/pdf", "buffer": pdf}
    )
    answer = page.locator("#answer:not([hidden])")
    answer.wait_for()
    return Verdict(answer.get_attribute("data-kind") == "good", answer.inner_text())


def test_a_genuine_document_is_named(verify: Verify, invoice: bytes, folder: Path) -> None:
    answer = verify(invoice, samples.invoice().number)
    assert answer.good, answer.words
    assert f"Invoice {samples.invoice().number}" in answer.words
    assert NOW.strftime("%Y-%m-%d") in answer.words
    assert signing.public_keys(folder)[0].printed in answer.words


def test_what_a_replaced_key_signed_still_holds(verify: Verify, folder: Path) -> None:
    answer = verify((folder / "earlier.pdf").read_bytes())
    assert answer.good, answer.words
    assert signing.public_keys(folder)[1].printed in answer.words


def test_another_document_of_the_shop_is_not_taken_for_the_one_asked_for(
    verify: Verify, invoice: bytes
) -> None:
    answer = verify(invoice, "INV-2026-9999")
    assert not answer.good
    assert "another document" in answer.words.lower()


def test_a_forged_document_is_by_another_key(
    verify: Verify, tmp_path: Path, invoice: bytes
) -> None:
    signing.make_key(tmp_path, SHOP, NOW)
    answer = verify(signing.sign(tmp_path, papers.invoice(samples.invoice())))
    assert not answer.good
    assert ANOTHER in answer.words
    assert "not proven" in answer.words


def test_a_genuine_signature_does_not_hold_for_another_document(
    verify: Verify, invoice: bytes, folder: Path
) -> None:
    _, gap, after, _ = _byte_range(invoice)
    dearer = replace(samples.invoice(), payment_to="IBAN XX00 0000 0000")
    other = signing.sign(folder, papers.invoice(dearer))
    _, begin, end, _ = _byte_range(other)
    moved = invoice[gap + 1 : after - 1].rstrip(b"0").ljust(end - begin - 2, b"0")
    assert CHANGED in verify(other[: begin + 1] + moved + other[end - 1 :]).words


@pytest.mark.slow
def test_any_flipped_bit_is_noticed(verify: Verify, invoice: bytes) -> None:
    _, gap, after, _ = _byte_range(invoice)
    chosen = random.Random(20807)
    places = chosen.sample([*range(gap), *range(after, len(invoice))], 25)
    for place in places:
        changed = bytearray(invoice)
        changed[place] ^= 1 << chosen.randrange(8)
        assert not verify(bytes(changed)).good, place


def test_saved_again_appended_cut_and_unsigned_are_told(verify: Verify, invoice: bytes) -> None:
    again = io.BytesIO()
    with pikepdf.open(io.BytesIO(invoice)) as opened:
        opened.save(again)
    assert not verify(again.getvalue()).good
    assert "added to it" in verify(invoice + b"\n% more").words
    assert not verify(invoice[:-40]).good
    assert "not signed" in verify(papers.invoice(samples.invoice())).words
    for rubbish in (b"", b"%PDF-1.7", b"/ByteRange [0 5 9 1]" + b"<zz>", bytes(range(256)) * 9):
        assert not verify(rubbish).good


@pytest.mark.slow
def test_a_damaged_signature_is_refused_and_breaks_nothing(verify: Verify, invoice: bytes) -> None:
    _, gap, after, _ = _byte_range(invoice)
    digits = invoice[gap + 1 : after - 1].rstrip(b"0").lower()
    chosen = random.Random(5652)
    digest = digits.index(b"2a864886f70d010904") + 18 + 8
    # RFC 5652: the signature's value comes last, two numbers of 32 bytes and their headers.
    counting = [*range(digest, digest + 64), *range(len(digits) - 130, len(digits) - 1)]
    for place in [*chosen.sample(counting, 12), *chosen.sample(range(len(digits)), 12)]:
        changed = bytearray(invoice)
        others = [digit for digit in b"0123456789abcdef" if digit != digits[place]]
        changed[gap + 1 + place] = chosen.choice(others)
        answer = verify(bytes(changed))
        assert answer.words
        # The certificate beside it may differ: the key is the verifier's own.
        assert not (answer.good and place in counting), place


def _byte_range(pdf: bytes) -> tuple[int, int, int, int]:
    pattern = rb"/ByteRange\s*\[\s*(\d+)\s+(\d+)\s+(\d+)\s+(\d+)"
    match = re.search(pattern, pdf)
    assert match
    first, second, third, fourth = map(int, match.groups())
    return first, second, third, fourth
