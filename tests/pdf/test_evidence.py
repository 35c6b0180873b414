"""Length and content of certificates: evidence on few pages, digits that agree with each other."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

import pymupdf
import pytest

from shopflow import documents as data
from shopflow import papers
from shopflow.documents.snapshot import to_plain
from shopflow.papers.numbers import changed, to_agree
from shopflow.services.certificates.tested_ports import flow_at, spread
from shopflow.testfile import SessionDocument
from shopflow.units import US_CUSTOMARY
from tests.optional import present
from tests.pdf import samples

SIDES = (("intake", 1.0), ("exhaust", 0.8))


def flow_tests(ports: int, lifts: int, stages: int) -> list[SessionDocument]:
    return [
        samples.session(side, str(port), stage, lifts, scale * gain)
        for side, scale in SIDES
        for port in range(1, ports + 1)
        for stage, gain in (("as received", 1.0), ("after port work", 1.06))[:stages]
    ]


def certified(tests: Sequence[SessionDocument], **overrides: Any) -> bytes:
    pairs = zip(tests[::2], tests[1::2], strict=False)
    gains = tuple(samples.gain(*pair) for pair in pairs if pair[1].stage != pair[0].stage)
    return papers.flow_certificate(samples.certificate(list(tests), gains, **overrides))


def pages_with(content: bytes, words: str) -> list[int]:
    with pymupdf.open(stream=content) as pdf:
        return [page.number + 1 for page in pdf if words in page.get_text()]


@pytest.mark.parametrize("lifts", [10, 12])
def test_the_evidence_of_an_ordinary_certificate_ends_by_page_4(lifts: int) -> None:
    content = certified(flow_tests(1, lifts, 2))
    (end,) = pages_with(content, "End of certificate")
    (authority,) = pages_with(content, "Authorized by")
    assert authority == 1
    assert end <= 4
    assert min(pages_with(content, "Annex to certificate")) >= end


def test_twelve_cylinders_at_forty_lifts_take_no_more_than_forty_pages() -> None:
    with pymupdf.open(stream=certified(flow_tests(12, 40, 1))) as pdf:
        assert pdf.page_count <= 40


@pytest.mark.parametrize("gain", [0.0634, -0.0041, 0.2])
@pytest.mark.parametrize("margin", [0.0111, 0.0052, 0.13, None])
@pytest.mark.parametrize("before", [0.0931, 1.9, 88.04])
def test_a_printed_gain_comes_out_of_the_areas_printed_beside_it(
    gain: float, margin: float | None, before: float
) -> None:
    """To one in its last digit, which the rounding of the gain itself may make."""
    square_inch = 6.4516e-4
    areas = (before * square_inch, before * (1.0 + gain) * square_inch)
    first, last = (float(to_agree(US_CUSTOMARY, area, "port area", margin)) for area in areas)
    printed, _ = changed(gain, margin)
    digits = len(printed.partition(".")[2])
    stated = float(printed.replace("−", "-").replace("+", ""))
    assert 100.0 * (last / first - 1.0) == pytest.approx(stated, abs=0.7 * 10.0**-digits)


def test_the_flow_at_the_engines_lift_is_between_its_neighbours_or_not_reached() -> None:
    test = samples.result(samples.session())
    low, high = test.points[3], test.points[4]
    between, margin = flow_at(test, (low.lift + high.lift) / 2)
    ends = present(low.value("flow_standard")), present(high.value("flow_standard"))
    assert between == pytest.approx(sum(ends) / 2)
    assert margin == max(present(p.margin("flow_standard")) for p in (low, high))
    assert flow_at(test, high.lift) == (ends[1], high.margin("flow_standard"))
    assert flow_at(test, test.points[-1].lift + 1e-4) == (None, None)
    assert flow_at(test, test.points[0].lift / 2) == (None, None)


def test_the_first_page_says_which_ports_were_tested_why_and_how_far_apart_they_are() -> None:
    tests = [samples.session(cylinder=str(port), gain=1.0 + port / 100) for port in (2, 3)]
    results = tuple(samples.result(item) for item in tests)
    (between,) = spread(results)
    areas = [present(item.mean_area) for item in results]
    assert between.relative == pytest.approx(2 * (areas[1] - areas[0]) / sum(areas))
    beyond = data.AtLift("intake", 0.0127, "stated by the customer", "as received", "25 inH₂O",
                         0.01143)  # fmt: skip
    reached = dataclasses.replace(beyond, lift=0.01016, flow=0.09, expanded_uncertainty=0.0011)
    content = certified(
        tests,
        sampling=("Intake: 2 of 4 ports tested, cylinder 2, 3, because: lowest and highest",),
        at_lift=(beyond, reached),
        spread=(between,),
    )
    with pymupdf.open(stream=content) as pdf:
        first = " ".join(pdf[0].get_text().split())
    # 12.7 mm, 11.43 mm and 10.16 mm are 0.500, 0.450 and 0.400 in; 0.09 m3/s is 190.7 cfm and
    # 0.0011 m3/s 2.3 cfm (NIST SP 811).
    for words in (
        "2 of 4 ports tested, cylinder 2, 3, because: lowest and highest",
        "0.500 in (stated by the customer): not reached, tested to 0.450 in",
        "0.400 in (stated by the customer): 190.7 ± 2.3 cfm as tested at 25 inH₂O",
        "valve 1.94 in, seat 45°, 0.065 in wide, throat 1.70 in",
        f"{100 * between.relative:.1f} % of the mean effective area of 2 ports",
    ):
        assert words in first, words


def test_a_certificate_from_before_ports_were_counted_keeps_its_code() -> None:
    plain = to_plain(samples.certificate([samples.session()]))
    assert not {"sampling", "at_lift", "spread"} & set(plain)
