"""Shaded areas behind the curves, and curves that are known between their marks."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import pytest
from reportlab.platypus import SimpleDocTemplate

from shopflow.charts import Axis, Chart, Series, Shade, layout, svg
from shopflow.charts.marks import Area, Sign, Stroke, Words
from shopflow.charts.paper import ChartFlowable
from tests.unit.charts.test_layout import SHEETS, assert_clear

PATH = [(-100.0, 0.0), (-60.0, 6.0), (-50.0, 6.5), (-40.0, 6.0), (0.0, 0.0)]
CURVE = Series("intake", [-100.0, -40.0, 0.0], [0.0, 6.0, 0.0], path=PATH)
OVERLAP = Shade("overlap", [-20.0, -10.0, 0.0], [0.0, 1.0, 0.0])
BLOWDOWN = Shade("blow-down", [-100.0, -80.0], [0.0, 2.0])


def shaded() -> Chart:
    x, y = Axis("Crank angle", "°"), Axis("Area", "mm²")
    return Chart("Area", x, y, [CURVE], x_from_zero=False, shades=[OVERLAP, BLOWDOWN])


@pytest.mark.parametrize("sheet", SHEETS)
def test_each_shade_is_filled_down_to_zero_named_and_on_the_sheet(
    sheet: tuple[float, float, float],
) -> None:
    drawing = layout(shaded(), *sheet)
    assert_clear(drawing)
    areas = [mark for mark in drawing.marks if isinstance(mark, Area)]
    assert len(areas) == 4
    assert drawing.marks[:2] == tuple(areas[:2])
    assert len({area.colour for area in areas}) == 2
    assert [area.colour for area in areas[:2]].count(areas[2].colour) == 1
    base = max(y for area in areas[:2] for _, y in area.corners)
    for area in areas[:2]:
        assert [area.corners[0][1], area.corners[-1][1]] == [base, base]
    texts = [mark.text for mark in drawing.marks if isinstance(mark, Words)]
    assert {"overlap", "blow-down", "intake"} <= set(texts)


def test_a_curve_runs_through_its_path_with_marks_at_its_points_alone() -> None:
    drawing = layout(shaded())
    lines = [mark for mark in drawing.marks if isinstance(mark, Stroke) and mark.part == "curve"]
    # The curve and the sample beside its name.
    assert [len(line.points) for line in lines] == [5, 2]
    points = [mark for mark in drawing.marks if isinstance(mark, Sign) and mark.reading]
    assert [mark.reading.x for mark in points if mark.reading] == [-100.0, -40.0, 0.0]
    # Its name stands by its top, and no leader crosses the plot to get there.
    assert not [m for m in drawing.marks if isinstance(m, Stroke) and m.part == "leader"]
    top = min(y for _, y in lines[0].points)
    (name,) = (m for m in drawing.marks if isinstance(m, Words) and m.text == "intake")
    assert abs(name.at[1] - top) < 12.0


def test_shades_are_told_in_words() -> None:
    description = shaded().description
    assert "overlap: shaded from -20 to 0 °" in description
    assert "blow-down: shaded from -100 to -80 °" in description


def test_page_and_paper_take_the_same_drawing() -> None:
    drawing = layout(shaded(), 400, 200, 9)
    root = ET.fromstring(svg.render(drawing, "cam"))
    assert len(root.findall(".//{http://www.w3.org/2000/svg}polygon[@class='band']")) == 4
    file = io.BytesIO()
    SimpleDocTemplate(file).build([ChartFlowable(drawing)])
    assert file.getvalue().startswith(b"%PDF")
