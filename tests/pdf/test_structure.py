"""Papers follow PDF/A-3A and PDF/UA-1: held by a validator in Rust, and read by their structure.

ISO 19005-3, ISO 14289-1 and ISO 32000-1, 14.7 and 14.8, by page-validation and by `aloud`. The
validator does not see a mark with a wrong parent, and no validator sees cells that are swapped.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path

import outloud
import page
import pikepdf
import pymupdf
import pytest

from shopflow import documents as data
from shopflow import papers, signing
from shopflow.documents.receipt import Receipt
from tests.demo_shop import DemoShop
from tests.pdf import aloud, samples
from tests.pdf.references import SAMPLES
from tests.pdf.test_hard_cases import CASES, LOGO

STANDARDS = (page.ValidationProfile.PDF_UA_1, page.ValidationProfile.PDF_A_3A)
MAY_END_AS_A_LINE = "PDFA3A-STREAM-LENGTH-001"
"""A stream whose last byte is that of a line's end is taken for shorter than it says it is; veraPDF
reads its length."""


def photos() -> bytes:
    photo = data.Photo("Crack beside the third seat", LOGO)
    return papers.work_order(
        samples.work_order([samples.order_page(photos=(photo, data.Photo("", LOGO)))])
    )


def receipt() -> bytes:
    return papers.receipt(
        Receipt(
            shop=samples.shop(), display=samples.SIZES["Letter"], title="Receipt", number="3",
            received_on=date(2026, 3, 5), method="card", note="", customer=samples.CUSTOMER,
            job=samples.job(), heads=("J-2026-0041-A",), recorded_by="Ines Carrow",
            recorded_at=samples.AT, amount=Decimal("75.00"), left=Decimal("120.07"),
        )
    )  # fmt: skip


def draft() -> bytes:
    return papers.flow_certificate(samples.certificate([samples.session()]), draft=True)


PAPERS: dict[str, Callable[[], bytes]] = {
    **SAMPLES,
    "photos": photos,
    "receipt": receipt,
    "draft": draft,
    **{
        name: CASES[name]
        for name in (
            "certificate, forty lifts", "certificate, sixteen ports", "certificate, longest texts",
            "certificate, one lift, nothing optional", "certificate, revised, with a code",
            "certificate, Arabic", "certificate, Hindi", "certificate, Japanese and Korean",
            "work order, nothing known", "work order, longest texts", "hand-off, longest texts",
            "hand-off, two heads", "quote, longest texts", "quote, draft of nothing",
            "invoice, paid too much", "bench card, forty lifts",
            "collection receipt, longest texts",
        )
    },
}  # fmt: skip
each = pytest.mark.parametrize("name", PAPERS)


@cache
def printed(name: str) -> bytes:
    return PAPERS[name]()


def objections(content: bytes) -> list[str]:
    """Everything that the validator objects to, by either standard."""
    reports = [page.validate_pdf_bytes(content, profile=standard) for standard in STANDARDS]
    return [
        str(failure)
        for report in reports
        for failure in report.failures
        if failure.rule_id != MAY_END_AS_A_LINE
    ]


@each
def test_a_paper_follows_both_standards_and_its_structure_is_whole(name: str) -> None:
    assert objections(printed(name)) == []
    paper = aloud.read(printed(name))
    assert aloud.faults(paper) == []
    headings = [item.text for item in paper.document.all("H1", "H2", "H3", "H4")]
    assert paper.bookmarks == [" ".join(text.split()) for text in headings]
    assert said_and_seen(paper, printed(name)) == []


def said_and_seen(paper: aloud.Paper, content: bytes) -> list[str]:
    """Words that are printed and not read out; heads, feet and repeated headings are not."""
    # Names on the axes of a chart follow each other without a space.
    output = paper.text + paper.document.drawn
    with pymupdf.open(stream=content) as pdf:
        pages = [
            [block[4] for block in page.get_text("blocks") if 42 < block[1] < page.rect.height - 40]
            for page in pdf
        ]
    seen = " ".join(text for blocks in pages for text in blocks)
    words = set(re.findall(r"[A-Za-z]{4,}|\d+\.\d+", seen))
    # A draft is named one across the page, and in a box.
    return sorted(word for word in words - {"Draft"} if word not in output)


@pytest.mark.parametrize(
    ("kind", "role"),
    [
        ("flow-certificate", "Table"),
        ("inspection-report", "Table"),
        ("hand-off", "Table"),
        ("work-order", "Table"),
        ("invoice", "Table"),
        ("quote", "Table"),
        ("credit-note", "Table"),
        ("bench-card", "Table"),
        ("tags", "P"),
    ],
)
def test_the_papers_of_the_invented_shop_follow_them_too(
    kind: str, role: str, demo_shop: DemoShop
) -> None:
    paths = sorted((demo_shop.folder / "papers").glob(f"{kind}-*.pdf"))
    for path in paths[-2:]:
        assert objections(path.read_bytes()) == [], path
        paper = aloud.read(path.read_bytes())
        assert aloud.faults(paper) == [], path
        assert list(paper.document.all(role)), path


def test_the_headline_numbers_of_a_certificate_are_read_out_with_their_units() -> None:
    paper = aloud.read(printed("flow-certificate"))
    before, after = samples.session(), samples.session(stage="seats and bowls", gain=1.06)
    gain = samples.gain(before, after)
    assert gain.conclusion.split(":")[-1].strip() in paper.text
    assert "Highest flow as tested, cfm" in paper.text
    assert "25 inH₂O 167.6 2.2 0.450" in paper.text
    assert "185.1 cfm ± 2.4 at 0.45 in" in paper.text, "the chart's last value"
    assert paper.text.index("Halvane Cylinder Heads 12 Weir Lane") == 0, "the letterhead is first"
    order = ["Flow certificate", "Conclusion", "Results in brief", "Test conditions", "Scope"]
    places = [paper.text.index(f" {title} ") for title in order]
    assert places == sorted(places)


def test_each_number_of_a_table_stands_in_the_column_and_row_that_it_belongs_to() -> None:
    """Cells swapped within a row are seen by no validator."""
    paper = aloud.read(printed("flow-certificate"))
    result = samples.result(samples.session())
    tables = [rows(table) for table in paper.document.all("Table")]
    (flows, *_) = [table for table in tables if table[0][:3] == ["Lift, in", "L/D", "Runs"]]
    units = samples.SIZES["Letter"].units
    assert [row[0] for row in flows[1:]] == [units.number(p.lift, "lift") for p in result.points]
    column = flows[0].index("Effective area, in²")
    for row, point in zip(flows[1:], result.points, strict=True):
        assert float(row[1]) == pytest.approx(point.lift_over_diameter, abs=6e-4)
        assert row[2] == str(point.runs)
        area = point.effective_area or 0.0
        assert float(row[column]) == pytest.approx(area / 0.0254**2, rel=2e-3)


def rows(table: aloud.Node) -> list[list[str]]:
    """A table's cells in words."""
    return [
        [" ".join(cell.text.split()) for cell in row.all("TH", "TD")] for row in table.all("TR")
    ]


def test_a_table_over_many_pages_is_one_table() -> None:
    paper = aloud.read(printed("certificate, forty lifts"))
    lifts = [table for table in map(rows, paper.document.all("Table")) if table[0][0] == "Lift, mm"
             or table[0][0] == "Lift, in"]  # fmt: skip
    assert [len(table) for table in lifts] == [41, 41]
    orders = aloud.read(printed("quote, longest texts")).document
    (lines,) = [table for table in map(rows, orders.all("Table")) if table[0][1] == "Head"]
    assert [row[0] for row in lines[1:]] == [str(number) for number in range(1, 91)]


def test_a_draft_and_a_preview_say_so_aloud() -> None:
    assert "Not issued" in aloud.read(printed("draft")).text
    assert "Draft, not given to the customer" in aloud.read(printed("quote, draft of nothing")).text


def test_a_photo_says_its_caption() -> None:
    words = [node.alternative for node in aloud.read(printed("photos")).document.all("Figure")]
    assert "Photo: Crack beside the third seat" in words
    assert "Photo without a caption" in words


def test_words_of_two_lines_are_not_joined() -> None:
    paper = aloud.read(printed("hand-off, longest texts"))
    assert samples.WORDS.strip() in paper.text
    assert paper.text.count("Seat beaten wide, guide worn to the stem, short side") >= 40


def test_letters_from_right_to_left_are_read_as_they_are_written() -> None:
    paper = aloud.read(printed("certificate, Arabic"))
    assert f"Customer {samples.ARABIC} " in paper.text
    assert f"Intake: {samples.ARABIC}, cylinder 1" in paper.bookmarks


def test_the_file_says_its_language_and_colours_and_shows_its_title() -> None:
    british = data.Display("si", "UTC", "A4", language="en_GB")
    for content, language in (
        (printed("invoice"), "en-US"),
        (papers.invoice(samples.invoice(british)), "en-GB"),
    ):
        with pikepdf.open(io.BytesIO(content)) as pdf:
            assert str(pdf.Root.Lang) == language
            assert pdf.Root.ViewerPreferences.DisplayDocTitle
            (intent,) = pdf.Root.OutputIntents
            # ICC.1, 7.2: a profile has its signature at byte 36, and names the colours it is of.
            profile = intent.DestOutputProfile.read_bytes()
            assert profile[36:40] == b"acsp"
            assert profile[16:20] == b"RGB "


KINDS = {
    ".toml": ("/application/toml", pikepdf.Name.Source, "intake"),
    ".csv": ("/text/csv", pikepdf.Name.Data, "intake"),
    ".json": ("/application/json", pikepdf.Name.Data, "results for programs"),
}
"""Of an attached file by its ending: its media type, its relation to the paper, a word of what it
says of itself."""


def test_what_is_attached_says_what_it_is() -> None:
    """ISO 19005-3, annex E: description, relation to the paper, kind and dates."""
    with pikepdf.open(io.BytesIO(printed("flow-certificate"))) as pdf:
        listed = {str(item.UF): item for item in pdf.Root.AF}
        assert set(listed) == set(pdf.attachments)
        for name, item in listed.items():
            kind, relation, words = KINDS[Path(name).suffix]
            assert item.AFRelationship == relation
            assert words in str(item.Desc).lower()
            file = item.EF.F
            assert str(file.Subtype) == kind
            assert str(file.Params.ModDate) == "D:20260305233000Z"
            assert int(file.Params.Size) == len(file.read_bytes())


def test_the_table_beside_a_test_holds_the_results_as_printed() -> None:
    import csv

    with pikepdf.open(io.BytesIO(printed("flow-certificate"))) as pdf:
        text = pdf.attachments["session-1.csv"].get_file().read_bytes().decode()
    head, *lines = csv.reader(io.StringIO(text))
    result = samples.result(samples.session())
    assert [float(line[head.index("Lift, in")]) for line in lines] == pytest.approx(
        [point.lift / 0.0254 for point in result.points]
    )
    flows = [point.flow_as_tested or 0.0 for point in result.points]
    # 1 cfm is 0.028316846592 m3 a minute (NIST SP 811, appendix B.8).
    assert [float(line[head.index("Flow as tested, cfm")]) for line in lines] == pytest.approx(
        [flow / (0.028316846592 / 60) for flow in flows], rel=1e-6
    )


def test_a_signed_paper_follows_both_too(tmp_path: Path) -> None:
    signing.make_key(tmp_path, "Halvane Cylinder Heads", datetime.now(UTC))
    signed = signing.sign(tmp_path, printed("invoice"))
    assert objections(signed) == []
    assert aloud.read(signed).faults == []
    checked = signing.check(tmp_path, signed)
    assert checked is not None
    assert checked.sound


def test_a_paper_with_an_empty_box_does_not_claim_what_it_is_not() -> None:
    content = CASES["certificate, no glyphs for the name"]()
    assert objections(content) != []
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert b"pdfaid" not in pdf.Root.Metadata.read_bytes()
        assert b"pdfuaid" not in pdf.Root.Metadata.read_bytes()


def without_an_alternative(pdf: pikepdf.Pdf) -> None:
    for element in pdf.objects:
        if isinstance(element, pikepdf.Dictionary) and "/Alt" in element:
            del element["/Alt"]


def parents_swapped(pdf: pikepdf.Pdf) -> None:
    parents = pdf.Root.StructTreeRoot.ParentTree.Nums[1]
    parents[0], parents[-1] = parents[-1], parents[0]


def a_cell_taken_out(pdf: pikepdf.Pdf) -> None:
    for element in pdf.objects:
        if isinstance(element, pikepdf.Dictionary) and element.get("/S") == pikepdf.Name.TR:
            del element.K[-1]
            return


def marks_taken_out(pdf: pikepdf.Pdf) -> None:
    stream = pdf.pages[0].obj.Contents
    stream.write(re.sub(rb"/P <</MCID 3>> BDC|(?<=\n)EMC", b"", stream.read_bytes(), count=2))


def a_heading_lowered(pdf: pikepdf.Pdf) -> None:
    for element in pdf.objects:
        if isinstance(element, pikepdf.Dictionary) and element.get("/S") == pikepdf.Name.H2:
            element.S = pikepdf.Name.H4
            return


@pytest.mark.parametrize(
    "damage",
    [without_an_alternative, parents_swapped, a_cell_taken_out, marks_taken_out, a_heading_lowered],
)
def test_a_damaged_structure_is_seen(damage: Callable[[pikepdf.Pdf], None]) -> None:
    with pikepdf.open(io.BytesIO(printed("flow-certificate"))) as pdf:
        damage(pdf)
        out = io.BytesIO()
        pdf.save(out)
    assert aloud.faults(aloud.read(out.getvalue())) != []


GUESSES = ("TAG-002", "TBL-010")
"""Rules that take headings repeated over a table for text left out, and a table of one row for one
whose headings fell apart."""


@pytest.mark.parametrize("name", ["flow-certificate", "work-order", "invoice", "tags", "receipt"])
def test_another_reader_of_structures_has_nothing_against_it(name: str, tmp_path: Path) -> None:
    path = tmp_path / "paper.pdf"
    path.write_bytes(printed(name))
    findings = outloud.check(str(path), skip=set(GUESSES)).findings
    assert [item for item in findings if item.severity == "error"] == []
