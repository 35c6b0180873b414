"""Required contents of a work order at the bench."""

from __future__ import annotations

from typing import Any

import pymupdf
import segno

from shopflow import documents
from shopflow.documents import cautions
from shopflow.papers import work_order
from tests.pdf import samples as s

URL = "https://shop.test/jobs/J-2026-0041"


def pages(*heads: documents.WorkOrderHead, **overrides: Any) -> list[str]:
    """The words of each page, on one line."""
    content = work_order(s.work_order(list(heads), **overrides))
    with pymupdf.open(stream=content) as pdf:
        return [" ".join(page.get_text().split()) for page in pdf]


def test_the_first_page_says_what_it_is_whose_and_what_for() -> None:
    (first, *_) = pages(s.order_page())
    for words in (
        "Head J-2026-0041-A", "Trewarrick Gannet Four", "casting TM-4417-C", "serial G 3186",
        "Mara Oslund", "555 0177", "street", "turbocharged, 20 psi boost", "2026-04-01",
        "Bowl and seat work, keep the port size.", "Complete, one bent exhaust valve",
    ):  # fmt: skip
        assert words in first, words


def test_it_warns_of_exactly_the_hazards_of_its_steps() -> None:
    text = " ".join(pages(s.order_page(cautions=("hot", "springs", "hot"))))
    shown = [key for key, caution in cautions.BY_HAZARD.items() if str(caution) in text]
    assert shown == ["springs", "hot"]
    assert text.count(str(cautions.BY_HAZARD["hot"])) == 1
    assert str(cautions.DEFERRAL) in text


def test_without_hazards_there_is_no_empty_box() -> None:
    assert "Take care" not in " ".join(pages(s.order_page(cautions=())))


def test_a_caution_of_the_shops_own_is_printed_as_it_is() -> None:
    own = "Laser clad cell: interlock on before the door is opened."
    text = " ".join(pages(s.order_page(cautions=(own, "dust"))))
    assert own in text
    assert str(cautions.BY_HAZARD["dust"]) in text


def test_what_is_not_approved_is_not_to_be_cut() -> None:
    warning = "Not approved yet: cut nothing before it is."
    assert warning in pages(s.order_page(), job=s.job(approval=""))[0]
    assert warning not in pages(s.order_page())[0]


def test_what_the_owner_released_and_what_waits_is_said_at_the_step() -> None:
    released = documents.Step(
        "Seat cut", remarks=("Released before approval by Ines Roe: away",), released=True
    )
    extra = documents.Step("Weld repair", remarks=("Extra work, not approved yet: do not cut.",))
    page = s.order_page(steps=(released, extra), measured=())
    text = " ".join(pages(page, job=s.job(approval="")))
    assert "cut nothing before it is, but the steps released below." in text
    assert "Seat cut Released before approval by Ines Roe: away" in text
    assert "Weld repair Extra work, not approved yet: do not cut." in text


def test_a_decision_stands_beside_its_figure() -> None:
    row = documents.Measured(
        "Seat run-out", "cylinder 3 exhaust", "after", "0.09 mm", "to 0.04 mm", "outside limits",
        "Do it again: pilot on a burr (Ines Roe, Mar 5, 2026)",
    )  # fmt: skip
    text = " ".join(pages(s.order_page(measured=(row,))))
    assert "outside limits Do it again: pilot on a burr (Ines Roe, Mar 5, 2026)" in text


def test_a_step_is_not_torn_apart_at_the_foot_of_a_page() -> None:
    """A row that would fit on a page is on one, whatever stands above it."""
    words = "Ream, then hone to size, two thousandths over the stem and no more than that."
    for above in range(4, 16):
        short = (documents.Step(f"Step {place}") for place in range(above))
        steps = [*short, documents.Step("The long one", instructions=f"{words * 3} The end.")]
        answer = pages(s.order_page(steps=tuple(steps), measured=(), photos=()))
        (page,) = (text for text in answer if "The long one" in text)
        assert "The end." in page, above


def test_signed_steps_name_who_and_when_and_open_ones_leave_boxes() -> None:
    done = documents.Step("Seat cut", state="done", by="Ines Roe", at=s.AT, planned_minutes=45)
    open_step = documents.Step("Port work", blanks=("Port area",))
    page = s.order_page(steps=(done, open_step), measured=(), cautions=())
    content = work_order(s.work_order([page]))
    with pymupdf.open(stream=content) as pdf:
        (only,) = pdf
        words = only.get_text().split("\n")
        boxes = [drawing["rect"] for drawing in only.get_drawings() if drawing["type"] == "s"]
        place = {word: only.search_for(word)[0] for word in ("Ines Roe", "Port work", "Port area")}
    # The shop's zone is six hours behind UTC: 23:30 UTC is the same day there.
    assert words[words.index("Ines Roe") + 1] == "2026-03-05"
    assert words[words.index("Port area") - 1] == "2"
    # Lines stand to the right of what is to be signed or measured, on its height.
    for name in ("Port work", "Port area"):
        beside = [
            box for box in boxes
            if box.height > 15 and box.y0 <= place[name].y0 + 8 <= box.y1
            and box.x0 > place[name].x1
        ]  # fmt: skip
        assert len(beside) >= 3, name


def test_each_head_has_pages_of_its_own() -> None:
    answer = pages(s.order_page(), s.order_page(head=s.head(tag="J-2026-0041-B")))
    starts = [index for index, text in enumerate(answer) if "Asked for" in text]
    assert len(starts) == 2
    assert "Head J-2026-0041-B" in answer[starts[1]]
    assert "Head J-2026-0041-A" not in answer[starts[1]]


def test_a_figure_out_of_its_limits_is_said_in_bold_words() -> None:
    measured = (documents.Measured("Run-out", "cylinder 1", "after", "0.003 in", "to 0.002 in",
                              "outside limits"),)  # fmt: skip
    content = work_order(s.work_order([s.order_page(measured=measured)]))
    with pymupdf.open(stream=content) as pdf:
        spans = [
            span
            for page in pdf
            for block in page.get_text("dict", flags=pymupdf.TEXTFLAGS_TEXT)["blocks"]
            for line in block["lines"]
            for span in line["spans"]
            if span["text"] == "outside limits"
        ]
    assert [span["font"].split("-")[-1] for span in spans] == ["Semibold"]


def test_the_code_on_the_page_is_the_code_of_the_address() -> None:
    """The printed modules against those of the encoder (segno, ISO/IEC 18004)."""
    matrix = segno.make(URL, error="m", micro=False).matrix
    content = work_order(s.work_order([s.order_page(URL)]))
    with pymupdf.open(stream=content) as pdf:
        (code,) = (
            drawing["rect"] for drawing in pdf[0].get_drawings()
            if drawing["fill"] == (0.0, 0.0, 0.0) and drawing["rect"].width > 40
        )  # fmt: skip
        picture = pdf[0].get_pixmap(dpi=600, clip=code, colorspace=pymupdf.csGRAY)
    count = len(matrix)
    step = picture.width / count
    read = [
        [
            picture.pixel(int((column + 0.5) * step), int((row + 0.5) * step))[0] < 128
            for column in range(count)
        ]
        for row in range(count)
    ]
    assert read == [[bool(module) for module in row] for row in matrix]
