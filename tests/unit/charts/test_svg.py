"""A chart as SVG on a page that allows no inline style."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from shopflow.charts import Chart, layout, svg
from tests.unit.charts.test_layout import chart, curve

NAMES = ["plain", 'a "quoted" <b>&amp; name', "Šárka Ωμέγα Тверь 気筒"]
CHARTS = {
    "empty": chart(),
    "one point": chart(curve(NAMES[0], 1)),
    "gaps": chart(curve(NAMES[1], 40, gaps=True, received=True)),
    "eight": chart(*(curve(NAMES[place % 3], 9, 1 + place / 20) for place in range(8))),
}  # fmt: skip
each = pytest.mark.parametrize("of", CHARTS.values(), ids=CHARTS.keys())
SVG = "{http://www.w3.org/2000/svg}"


@each
def test_it_is_well_formed_and_styled_by_attributes_alone(of: Chart) -> None:
    text = svg.render(layout(of), "flow")
    root = ET.fromstring(text)
    assert root.tag == f"{SVG}svg"
    assert not root.findall(f".//{SVG}style")
    assert not root.findall(f".//{SVG}script")
    attributes = {name for element in root.iter() for name in element.attrib}
    assert "style" not in attributes
    assert not {name for name in attributes if name.startswith("on")}


@each
def test_whoever_cannot_see_it_is_told_what_it_shows(of: Chart) -> None:
    root = ET.fromstring(svg.render(layout(of), "flow"))
    named = root.attrib["aria-labelledby"].split()
    ids = {element.attrib["id"]: element for element in root.iter() if "id" in element.attrib}
    assert [ids[name].tag for name in named] == [f"{SVG}title", f"{SVG}desc"]
    assert root.attrib["role"] == "img"
    assert all((ids[name].text or "").strip() for name in named)


def test_ids_of_two_charts_on_a_page_differ() -> None:
    both = "".join(svg.render(layout(CHARTS["eight"]), prefix) for prefix in ("flow", "gain"))
    answer = re.findall(r' id="([^"]+)"', both)
    assert len(answer) == 4
    assert len(set(answer)) == len(answer)


def test_every_point_carries_its_figures_in_full() -> None:
    of = CHARTS["gaps"]
    root = ET.fromstring(svg.render(layout(of), "flow"))
    points = [element for element in root.iter() if element.get("class") == "point"]
    wanted = of.series[0].points
    assert [(float(p.attrib["data-x"]), float(p.attrib["data-y"])) for p in points] == [
        (x, y) for x, y, _ in wanted
    ]
    assert all(point.attrib["data-series"] == NAMES[1] for point in points)
    assert all(point.find(f"{SVG}title") is not None for point in points)


def test_the_same_chart_gives_the_same_text() -> None:
    assert svg.render(layout(CHARTS["eight"]), "a") == svg.render(layout(CHARTS["eight"]), "a")
