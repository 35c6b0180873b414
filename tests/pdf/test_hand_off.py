"""Required contents of a hand-off sheet for the assembler."""

from __future__ import annotations

from typing import Any

import pymupdf

from shopflow import documents
from shopflow.documents import cautions
from shopflow.papers import hand_off
from tests.pdf import samples as s


def words(**overrides: Any) -> str:
    """A sheet's words, on one line."""
    with pymupdf.open(stream=hand_off(s.hand_off(**overrides))) as pdf:
        return " ".join(" ".join(page.get_text() for page in pdf).split())


def test_it_is_addressed_and_says_which_head_it_is_about() -> None:
    text = words()
    for part in ("Hand-off of head J-2026-0041-A", "Deep Fjord Engines", "Mara Oslund",
                 "casting TM-4417-C, serial G 3186", "20 psi boost"):  # fmt: skip
        assert part in text, part


def test_every_figure_stands_with_how_it_was_come_by() -> None:
    text = words()
    assert "137.1 lbf 90 lbf + 47.1 lbf" in text
    assert "20 psi on the whole face of a 1.73 in head" in text
    assert "Compression ratio 8.92 from the volumes measured" in text


def test_both_sides_stand_beside_each_other_and_what_one_lacks_is_a_dash() -> None:
    intake = documents.ValveFigures(
        "intake", (documents.Figure("Added for boost", "47.1 lbf", "20 psi"),)
    )
    exhaust = documents.ValveFigures("exhaust", (documents.Figure("Spring rate", "340 lbf/in"),))
    text = words(valves=(intake, exhaust))
    assert "Value Intake Exhaust" in text
    assert "Added for boost 47.1 lbf 20 psi –" in text
    assert "Spring rate – 340 lbf/in" in text


def test_the_deciding_figure_is_set_apart_by_weight() -> None:
    figures = (
        documents.Figure("Base", "90 lbf"),
        documents.Figure("To set", "137 lbf", decisive=True),
    )
    content = hand_off(s.hand_off(valves=(documents.ValveFigures("intake", figures),)))
    with pymupdf.open(stream=content) as pdf:
        fonts = {
            span["text"]: span["font"].split("-")[-1]
            for block in pdf[0].get_text("dict", flags=pymupdf.TEXTFLAGS_TEXT)["blocks"]
            for line in block["lines"]
            for span in line["spans"]
        }
    assert fonts["90 lbf"] == "Regular"
    assert fonts["137 lbf"] == "Semibold"


def test_it_cautions_and_defers_whatever_the_shop_wrote() -> None:
    for text in (words(), words(cautions=(), to_check=(), notes="")):
        for caution in (*cautions.ASSEMBLY, cautions.BY_HAZARD["springs"], cautions.DEFERRAL):
            assert str(caution) in text
        assert "The engine builder has the last word" in text
        assert "Local codes" in text
        assert "licensed practice" in text
        assert "Valve to piston clearance" in text


def test_an_unsigned_sheet_says_so() -> None:
    assert "Not signed yet by the shop." in words(signed_by="", signed_at=None)
    signed = words()
    assert "Not signed yet" not in signed
    assert "Ruth Halvane" in signed


def test_boost_is_cautioned_of_for_boosted_engines_alone() -> None:
    assert str(cautions.BOOSTED) in words(boosted=True)
    assert "Boosted engines" not in words(boosted=False)


def test_remaining_work_is_said_in_title_and_first_line() -> None:
    text = words(remaining=("Port intake", "Resurface"))
    assert "Hand-off of part-finished head J-2026-0041-A" in text
    assert "Part-finished: see Remaining work. To whoever assembles" in text
    assert "Remaining work, not done by this shop yet • Port intake • Resurface" in text
    assert "part-finished" not in words().lower()


def test_each_valve_is_listed_as_measured() -> None:
    each = (
        documents.EachValve(
            "cylinder 1 intake", "1.655 in", room_to_coil_bind="0.105 in", seat_load="148 lbf",
            verdict="no limit given",
        ),
        documents.EachValve(
            "cylinder 2 intake", "1.640 in", room_to_coil_bind="0.040 in",
            verdict="room to coil bind 0.040 in, wanted 0.050 in", is_out=True,
        ),
        documents.EachValve("cylinder 3 intake", verdict="no limit given"),
    )  # fmt: skip
    worst = ("Least room to coil bind: cylinder 2 intake, 0.040 in",)
    side = documents.SpringSide("intake", "", (), each, worst, to_pick="2 × 0.030 in")
    text = words(springs=(side,))
    assert "Each intake valve" in text
    assert "cylinder 1 intake 1.655 in 148 lbf 0.105 in no limit given" in text
    assert "cylinder 2 intake 1.640 in – 0.040 in room to coil bind 0.040 in, wanted" in text
    assert "cylinder 3 intake" not in text
    assert "Least room to coil bind: cylinder 2 intake, 0.040 in." in text
    assert "Shims to pick: 2 × 0.030 in." in text
    assert "Out of square" not in text


def test_chambers_are_listed_and_the_assembler_grinds_none() -> None:
    each = (
        documents.ChamberOf("cylinder 1", "53.8 cm³", "0.4 cm³", "9.91 : 1"),
        documents.ChamberOf("cylinder 2", "54.2 cm³", "", "9.85 : 1"),
    )
    state, to_grind = "Largest 54.2 cm³, cylinder 2.", "Grind cylinder 1 0.4 cm³ larger."
    chambers = documents.Chambers(each, state, "0.4 cm³", "after", to_grind, (), "9.85 : 1", "0.06")
    text = words(chambers=chambers)
    assert state in text
    assert "Grind" not in text
    assert "cylinder 1 53.8 cm³ 9.91 : 1" in text
    assert "cylinder 2 54.2 cm³ 9.85 : 1" in text
    assert "differ by 0.06; with equal chambers every cylinder has 9.85 : 1." in text


def test_signatures_never_stand_alone_on_a_page() -> None:
    for rows in range(0, 40, 2):
        figures = tuple(documents.Figure(f"Figure {row}", "1 mm") for row in range(rows))
        with pymupdf.open(stream=hand_off(s.hand_off(figures=figures))) as pdf:
            last = pdf[-1].get_text()
        assert "Received by" in last
        assert "Take care" in last, rows
