"""Bar charts: what is drawn lies where its figure says, on the page and on paper."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import pymupdf
import pytest
from reportlab.pdfgen.canvas import Canvas

from shopflow import fonts
from shopflow.charts import Axis, BarChart, Bars, layout_bars, svg
from shopflow.charts.marks import Block, Stroke, Words
from shopflow.charts.paper import ChartFlowable

ROWS = ["Mar 2026", "Apr 2026", "a very long name of a kind of operation that goes on and on"]


def chart(*bars: Bars, **rest) -> BarChart:
    return BarChart("Jobs", ROWS[: len(bars[0].values)], Axis("Jobs", "h"), bars, **rest)


def blocks(drawing):
    """The bars, without the samples beside names."""
    return [mark for mark in drawing.marks if isinstance(mark, Block) and mark.words]


def test_bars_are_as_long_as_their_figures_from_a_common_zero():
    drawing = layout_bars(chart(Bars("in", [2, 4, 1]), Bars("out", [1, -1, None])))
    by_name = {mark.words: mark.box for mark in blocks(drawing)}
    lengths = {words: box[2] - box[0] for words, box in by_name.items()}
    unit = lengths["Mar 2026, out: 1"]
    assert lengths["Mar 2026, in: 2"] == pytest.approx(2 * unit)
    assert lengths["Apr 2026, in: 4"] == pytest.approx(4 * unit)
    zero = by_name["Mar 2026, in: 2"][0]
    assert by_name["Apr 2026, out: −1"][2] == pytest.approx(zero)
    assert lengths["Apr 2026, out: −1"] == pytest.approx(unit)
    # What is not there is not drawn as nothing.
    assert len(by_name) == 5


def test_bars_end_to_end_add_up_and_the_line_across_stands_at_its_figure():
    level = Bars("open", [8, 2])
    drawing = layout_bars(chart(Bars("seat", [3, 1]), Bars("port", [2, 0]), end_to_end=True,
                                level=level))  # fmt: skip
    first, second, third = (mark.box for mark in blocks(drawing))
    assert first[2] == pytest.approx(second[0])
    unit = (first[2] - first[0]) / 3
    assert second[2] - first[0] == pytest.approx(5 * unit)
    assert third[2] - third[0] == pytest.approx(unit)
    across = [mark.points[0][0] for mark in drawing.marks
              if isinstance(mark, Stroke) and mark.part == "level"]  # fmt: skip
    assert [x - first[0] for x in across[1:]] == pytest.approx([8 * unit, 2 * unit])
    letters = [mark.text for mark in drawing.marks if isinstance(mark, Words)]
    assert letters.count("A") == 3  # its sample and two bars
    assert letters.count("B") == 2


def test_an_uncertainty_is_as_long_as_its_figure():
    drawing = layout_bars(chart(Bars("gain", [6, 4], [1.5, None]), places=1))
    bar = blocks(drawing)[0].box
    unit = (bar[2] - bar[0]) / 6
    (whisker,) = [mark for mark in drawing.marks if isinstance(mark, Stroke)
                  and mark.part == "bar" and mark.points[0][1] == mark.points[1][1]]  # fmt: skip
    (left, _), (right, _) = whisker.points
    assert (left - bar[0], right - bar[0]) == pytest.approx((4.5 * unit, 7.5 * unit))


@pytest.mark.parametrize("end_to_end", [True, False])
@pytest.mark.parametrize("values", [[0, 0, 0], [0.001, 12345.6, None], [-5, -3, 2], [1, 1, 1]])
def test_nothing_is_drawn_off_the_sheet(values, end_to_end):
    some = [abs(value or 0) for value in values] if end_to_end else values
    drawing = layout_bars(chart(Bars("in", some), Bars("out", some), places=2,
                                end_to_end=end_to_end), width=400)  # fmt: skip
    for mark in blocks(drawing):
        left, top, right, bottom = mark.box
        assert 0 <= left <= right <= drawing.width
        assert 0 <= top <= bottom <= drawing.height
    for mark in drawing.marks:
        if isinstance(mark, Words) and mark.anchor == "start":
            assert mark.at[0] + fonts.width(mark.text, mark.size) <= drawing.width + 0.5
        if isinstance(mark, Words) and mark.anchor == "end":
            assert mark.at[0] - fonts.width(mark.text, mark.size) >= -0.5


def test_kinds_are_told_apart_by_form_and_no_more_than_can_be():
    drawing = layout_bars(chart(*(Bars(name, [2, 2]) for name in ("in", "out", "cancelled"))))
    first = blocks(drawing)[:3]
    heights = [round(mark.box[3] - mark.box[1], 3) for mark in first]
    assert [mark.filled for mark in first] == [True, False, True]
    assert heights[2] < heights[0] == heights[1]
    with pytest.raises(ValueError, match="3 kinds"):
        layout_bars(chart(*(Bars(str(number), [1]) for number in range(4))))
    with pytest.raises(ValueError, match="8 kinds"):
        layout_bars(chart(*(Bars(str(number), [1]) for number in range(9)), end_to_end=True))


def test_it_is_drawn_as_svg_without_style_and_told_in_words():
    hostile = 'a "quoted" <b>&amp; name'
    drawn = svg.render(layout_bars(chart(Bars(hostile, [2, 3]), Bars("b", [1, None]))), "jobs")
    root = ET.fromstring(drawn)
    assert not [element for element in root.iter() if "style" in element.attrib]
    described = root.find("{http://www.w3.org/2000/svg}desc")
    assert described is not None
    assert described.text == f"Jobs, h. Mar 2026: {hostile} 2, b 1; Apr 2026: {hostile} 3, b none."


def test_an_empty_chart_says_so():
    drawing = layout_bars(BarChart("Jobs", [], Axis("Jobs"), [Bars("in", [])]))
    assert "Nothing to show yet" in [mark.text for mark in drawing.marks if isinstance(mark, Words)]


def test_it_is_drawn_on_paper():
    drawing = layout_bars(chart(Bars("in", [2, 4]), Bars("out", [1, 3])), width=400)
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(420, drawing.height + 20))
    ChartFlowable(drawing).drawOn(canvas, 10, 10)
    canvas.save()
    page = pymupdf.open(stream=file.getvalue())[0]
    rectangles = [item["rect"] for item in page.get_drawings() if item["type"] == "fs"]
    wanted = sorted(mark.box[2] - mark.box[0] for mark in blocks(drawing))
    answer = sorted(rect.width for rect in rectangles)[-len(wanted) :]
    assert answer == pytest.approx(wanted, abs=0.5)
    assert "Mar 2026" in page.get_text()


def test_names_above_the_bars_leave_them_the_width():
    drawing = layout_bars(
        chart(Bars("in", [2, 4, 1]), Bars("out", [1, 1, 1])), 310.0, names_above=True
    )
    names = [mark for mark in drawing.marks if isinstance(mark, Words) and mark.text[:3] in
             {row[:3] for row in ROWS}]  # fmt: skip
    tops = [min(b.box[1] for b in blocks(drawing) if b.words.startswith(row)) for row in ROWS]
    assert len(names) == 3
    for name, top in zip(names, tops, strict=True):
        assert name.at[1] < top
        assert name.at[0] + fonts.width(name.text, name.size) <= 310.0
    assert max(b.box[2] - b.box[0] for b in blocks(drawing)) > 0.75 * 310.0
