"""Bands behind the curves, and scatters of points, on screen and on paper."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import pikepdf
import pytest
from reportlab.platypus import SimpleDocTemplate

from shopflow.charts import Axis, Band, Chart, Series, layout, svg
from shopflow.charts.marks import Area, Sign, Stroke, Words
from shopflow.charts.paper import ChartFlowable
from tests.unit.charts.test_layout import SHEETS, assert_clear, curve

XS = [1.0, 2.0, 3.0, 4.0]
PAST = Band(
    "middle half of 7 past tests, the line in it their median",
    XS, [30, 60, 80, 90], [34, 66, 88, 99], [38, 72, 96, 108], [20, 40, 60, 70], [50, 95, 120, 131],
)  # fmt: skip


def banded(*series: Series) -> Chart:
    return Chart("Flow", Axis("Lift", "mm"), Axis("Flow", "cfm"), series, bands=(PAST,))


@pytest.mark.parametrize("sheet", SHEETS)
@pytest.mark.parametrize("series", [(), (curve("ported", 8),)], ids=["alone", "behind a curve"])
def test_a_band_is_filled_lined_named_and_on_the_sheet(
    sheet: tuple[float, float, float], series: tuple[Series, ...]
) -> None:
    drawing = layout(banded(*series), *sheet)
    assert_clear(drawing)
    area, sample = (mark for mark in drawing.marks if isinstance(mark, Area))
    assert len(area.corners) == 2 * len(XS)
    assert len(sample.corners) == 4
    lines = [m for m in drawing.marks if isinstance(m, Stroke) and m.part == "extreme"]
    assert len(lines) == 6
    # Told apart without colour: the median is dashed, the extremes are thin.
    assert [bool(line.dash) for line in lines] == [False, False, True] * 2
    heights = [y for line in lines[:3] for _, y in line.points] + [y for _, y in area.corners]
    assert min(heights) >= 0
    assert max(heights) <= drawing.height
    words = " ".join(mark.text for mark in drawing.marks if isinstance(mark, Words))
    assert "middle half" in words
    assert "No readings yet" not in words


def test_a_band_lies_behind_everything_and_is_told_in_words() -> None:
    chart = banded(curve("ported", 8))
    drawing = layout(chart)
    assert isinstance(drawing.marks[0], Area)
    assert "90.0 to 108.0 cfm about 99.0 at 4 mm" in drawing.description
    root = ET.fromstring(svg.render(drawing, "flow"))
    assert len(root.findall(".//{http://www.w3.org/2000/svg}polygon[@class='band']")) == 2


def scattered() -> Chart:
    points = Series("tests", [0.86, 0.88, 0.91], [0.5, 0.55, 0.6], joined=False, labels="123")
    return Chart("Cd", Axis("Throat ratio"), Axis("Cd"), [points], places=3, x_from_zero=False)


def test_a_scatter_has_points_with_labels_and_no_line() -> None:
    drawing = layout(scattered())
    assert_clear(drawing)
    assert not [m for m in drawing.marks if isinstance(m, Stroke) and m.part == "curve"]
    assert not [m for m in drawing.marks if isinstance(m, Stroke) and m.part == "leader"]
    points = [mark for mark in drawing.marks if isinstance(mark, Sign) and mark.reading]
    assert [mark.reading.x for mark in points if mark.reading] == [0.86, 0.88, 0.91]
    texts = [mark.text for mark in drawing.marks if isinstance(mark, Words)]
    assert {"1", "2", "3"} <= set(texts)
    # The axis begins near the points, not at zero.
    assert "0.00" not in texts


def test_paper_takes_the_same_drawing() -> None:
    file = io.BytesIO()
    drawings = [layout(of, 400, 200, 9) for of in (banded(), scattered())]
    SimpleDocTemplate(file).build([ChartFlowable(drawing) for drawing in drawings])
    with pikepdf.open(file) as pdf:
        operators = [str(step.operator) for step in pikepdf.parse_content_stream(pdf.pages[0])]
    # Two areas are filled without an outline: the band and its sample.
    assert operators.count("f*") == 2
    # Every line of text is there; the page itself begins with an empty one.
    words = [mark for drawing in drawings for mark in drawing.marks if isinstance(mark, Words)]
    assert operators.count("BT") == len(words) + 1
