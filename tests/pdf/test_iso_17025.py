"""ISO/IEC 17025:2017, 7.8, point by point: where a certificate meets each.

The points are in our own words. A point that a certificate of a flow test cannot have, as a date
of sampling in the field, says why. No accreditation is claimed.
"""

from __future__ import annotations

import dataclasses
from typing import NamedTuple

import pymupdf
import pytest

from shopflow import papers
from tests.pdf.test_certificate import CERTIFICATE


class Met(NamedTuple):
    """A point of the standard, the words that meet it, and where they stand."""

    point: str
    words: tuple[str, ...]
    where: str
    """ "page 1", "every page", "evidence" (to the end mark) or "annex"."""


MET = (
    Met("7.8.2.1 a: title", ("Flow certificate",), "page 1"),
    Met("7.8.2.1 b: name and address of the shop", ("Halvane Cylinder Heads", "12 Weir Lane"),
        "page 1"),
    Met("7.8.2.1 c: place of the work", ("Place of work",), "page 1"),
    Met("7.8.2.1 d: unique identification on every page", ("FC-2026-0007 revision 2",),
        "every page"),
    Met("7.8.2.1 d: each page is known as a part of the whole", ("Page ", " of "), "every page"),
    Met("7.8.2.1 d: marked end", ("End of certificate FC-2026-0007 revision 2",), "evidence"),
    Met("7.8.2.1 e: name and contact of the customer", ("Mara Oslund", "4 Quay Street"), "page 1"),
    Met("7.8.2.1 f: method used", ("Steady flow of room air through the port",), "annex"),
    Met("7.8.2.1 g: the item, described and identified",
        ("Trewarrick Gannet Four", "TM-4417-C", "G 3186"), "page 1"),
    Met("7.8.2.1 g: the item's condition", ("Complete, one bent exhaust valve",), "page 1"),
    Met("7.8.2.1 h: date received", ("Received",), "page 1"),
    Met("7.8.2.1 i: dates of the tests", ("Tested", "2026-03-05"), "page 1"),
    Met("7.8.2.1 j: date of issue", ("Issued",), "page 1"),
    Met("7.8.2.1 l: results are of the item tested alone", ("results are of this head alone",),
        "evidence"),
    Met("7.8.2.1 m: results with units", ("Flow as tested at 25 inH₂O, cfm", "Lift, in"),
        "evidence"),
    Met("7.8.2.1 n: changes from the method", ("The bore adapter was 2 mm over.",), "evidence"),
    Met("7.8.2.1 o: who authorized it", ("Authorized by Ruth Halvane",), "page 1"),
    Met("7.8.2.1: to be reproduced in full only", ("Reproduce in full only",), "evidence"),
    Met("7.8.2.2: what the customer supplied is marked", ("Stated by the customer, not verified",),
        "evidence"),
    Met("7.8.3.1 a: test conditions", ("Room air", "29.4 inHg"), "evidence"),
    Met("7.8.3.1 c: uncertainty in the unit of the result", ("± U",), "evidence"),
    Met("7.8.3.1 c: what the uncertainty means", ("expanded for 95 %", "JCGM 100:2008"), "annex"),
    Met("7.8.3.1 d: opinions", ("Opinions of the shop",), "evidence"),
    Met("7.8.3.1 e: further information asked for", ("Discharge coefficient",), "annex"),
    Met("7.8.4.1 c: traceability of the calibration", ("against master plate set P4", "K-2201"),
        "evidence"),
    Met("7.8.5: sampling, here of ports", ("Ports tested", "1 of 4 ports tested"), "page 1"),
    Met("7.8.6.1: decision rule", ("at most once in twenty, over all lifts together",), "annex"),
    Met("7.8.6.2: which results a statement is of", ("in effective area, 0.05 to 0.45 in: a gain",),
        "page 1"),
    Met("7.8.6.2 b: no statement of conformity to a specification",
        ("No statement of conformity is made",), "evidence"),
    Met("7.8.7: opinions marked as such", ("What follows is opinion",), "evidence"),
    Met("7.8.8.1: a change of an issued report says why", ("Serial number mistyped",), "page 1"),
    Met("7.8.8.3: a new report names the one it replaces", ("replaces revision 1",), "page 1"),
)  # fmt: skip

NOT_OF_A_FLOW_TEST = {
    "7.8.2.1 k": "sampling plan: ports are chosen, not drawn; 7.8.5 states which and why",
    "7.8.2.1 p": "results of other providers: a certificate states the shop's own tests only",
    "7.8.3.2": "the laboratory is responsible for sampling: the ports are of the head tested",
    "7.8.4.1 d": "results before and after an adjustment: each test is a result of its own",
    "7.8.4.3": "no interval of recalibration is recommended",
}
"""Points without words of their own on a certificate, and why."""


@pytest.fixture(scope="module")
def parts() -> dict[str, list[str]]:
    """The words of the certificate by where they stand; of every page one by one."""
    sampled = "Intake: 1 of 4 ports tested, cylinder 1, because: the port with the least flow"
    content = papers.flow_certificate(dataclasses.replace(CERTIFICATE, sampling=(sampled,)))
    with pymupdf.open(stream=content) as pdf:
        pages = [" ".join(page.get_text().split()) for page in pdf]
    total = " ".join(pages)
    cut = total.index("Annex to certificate")
    return {
        "page 1": pages[:1], "every page": pages, "evidence": [total[:cut]], "annex": [total[cut:]],
    }  # fmt: skip


@pytest.mark.source("ISO/IEC 17025:2017, 7.8, in our own words (from memory)")
@pytest.mark.parametrize("met", MET, ids=[item.point for item in MET])
def test_a_certificate_meets(met: Met, parts: dict[str, list[str]]) -> None:
    for text in parts[met.where]:
        for words in met.words:
            assert words.lower() in text.lower()


def test_every_point_is_met_once_or_has_a_reason() -> None:
    named = {item.point.split(":")[0] for item in MET} | set(NOT_OF_A_FLOW_TEST)
    letters = {f"7.8.2.1 {letter}" for letter in "abcdefghijklmnop"}
    assert letters <= named
    assert all(NOT_OF_A_FLOW_TEST.values())
