"""A chart read out: point by point, as a table, in words; and what a session's chart is made of."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from shopflow.calc.results import VELOCITY, plotted
from shopflow.charts import Axis, Chart, Series, layout
from shopflow.charts.marks import Sign, Words
from shopflow.papers.curves import curves_chart, flow_chart
from shopflow.units import SI, US_CUSTOMARY, parse
from tests.pdf.samples import result, session
from tests.unit.charts.test_layout import chart, curve

RESULT = result(session())


def test_a_point_is_read_with_its_unit_or_the_name_of_a_bare_axis() -> None:
    flow = chart(curve("ported", 1))
    series = flow.series[0]
    assert flow.reading(series, 0.5, 212.44, 2.06) == "ported: 212.4 cfm ± 2.1 at 0.5 mm"
    bare = Chart("Cd", Axis("Lift over valve diameter, L/D"), Axis("Cd"), [series], 3, x_places=3)
    assert bare.reading(series, 0.0577, -0.6, None) == "ported: −0.600 at L/D 0.058"


def test_the_table_has_a_row_for_every_place_and_a_column_for_every_curve() -> None:
    table = chart(
        Series("one", [1.0, 2.0, 3.0], [10.0, None, 30.0], [1.0, 1.0, 0.0]),
        Series("other", [2.0, 2.5], [21.0, 25.0]),
    ).table
    assert table == [
        ("1", ["10.0 ± 1.0", ""]),
        ("2", ["", "21.0"]),
        ("2.5", ["", "25.0"]),
        ("3", ["30.0", ""]),
    ]
    assert chart().table == []


@pytest.mark.parametrize("count", [1, 2, 4, 8])
@pytest.mark.parametrize("points", [1, 6, 12, 30])
def test_marks_give_way_where_there_are_many(count: int, points: int) -> None:
    drawing = layout(chart(*(curve(f"curve {place}", points) for place in range(count))))
    signs = [mark for mark in drawing.marks if isinstance(mark, Sign)]
    sizes = {sign.size for sign in signs if sign.reading}
    (size,) = sizes
    assert 0.18 * 12 <= size <= 0.3 * 12
    assert (size < 0.3 * 12) == (count * points > 60)
    # The samples beside the names stay large.
    assert {sign.size for sign in signs if not sign.reading} == {0.3 * 12}


def test_every_point_says_of_which_curve_it_is_whatever_its_name() -> None:
    drawing = layout(chart(curve("alike", 3), curve("alike", 3)))
    readings = [mark.reading for mark in drawing.marks if isinstance(mark, Sign) and mark.reading]
    assert [reading.curve for reading in readings] == [0, 0, 0, 1, 1, 1]


@pytest.mark.parametrize("against", ["lift", "ld"])
@pytest.mark.parametrize("units", [US_CUSTOMARY, SI], ids=["us", "si"])
@pytest.mark.parametrize("word", plotted())
def test_every_quantity_of_a_session_is_drawn(word: str, units, against: str) -> None:
    quantity = plotted()[word]
    drawn = curves_chart("", [RESULT], units, quantity, against)
    (series,) = drawn.series
    assert len(series.points) == len(RESULT.points)
    assert series.error is not None
    layout(drawn)


@pytest.mark.parametrize(
    ("word", "times"), [("flow", 1), ("head", 1), ("velocity", 1), ("energy", 3)]
)
def test_bars_of_earlier_certificates_go_with_the_power_of_the_flow(word: str, times: int) -> None:
    """JCGM 100:2008, 5.1.6: of a product of powers, relative uncertainties times the powers."""
    points = tuple(
        dataclasses.replace(point, flow_as_tested=None, more=()) for point in RESULT.points
    )
    earlier = dataclasses.replace(RESULT, points=points)
    (series,) = curves_chart("", [earlier], SI, plotted()[word]).series
    for point, (_, y, error) in zip(earlier.points, series.points, strict=True):
        assert error is not None
        assert error / y == pytest.approx(times * point.expanded_uncertainty / point.flow)


def test_curves_of_other_weather_differ_as_their_effective_areas_do() -> None:
    """So a chart shows what the verdict rests on, whatever the air of each test."""
    there = dataclasses.replace(session(gain=1.06), barometer=parse("24.0 inHg", "pressure"))
    results = [result(session()), result(there)]
    drawn = [np.asarray(series.y, dtype=float) for series in flow_chart("", results, SI).series]
    areas = [np.array([point.value("effective_area") for point in item.points]) for item in results]
    np.testing.assert_allclose(drawn[1] / drawn[0], areas[1] / areas[0])
    roots = [one.points[0].flow for one in results]
    assert drawn[1][0] / drawn[0][0] != pytest.approx(roots[1] / roots[0], rel=1e-3)


def test_what_was_not_recorded_is_said_in_the_chart() -> None:
    points = tuple(dataclasses.replace(point, velocity=None) for point in RESULT.points)
    bare = dataclasses.replace(RESULT, points=points)
    drawing = layout(curves_chart("", [bare], SI, VELOCITY))
    assert "No port area recorded" in [m.text for m in drawing.marks if isinstance(m, Words)]
