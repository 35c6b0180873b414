"""One layout for screen and paper: nothing overlaps, nothing leaves the sheet."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow import fonts
from shopflow.charts import Axis, Chart, Series, layout, svg
from shopflow.charts.marks import Drawing, Sign, Stroke, Words
from shopflow.charts.ticks import label, ticks

SHEETS = [(560.0, 300.0, 12.0), (505.0, 200.0, 8.2), (505.0, 150.0, 8.2)]
LONG = "as received, with the old seats and the broken guide, cylinder 12"


def curve(
    name: str, points: int, scale: float = 1.0, gaps: bool = False, received: bool = False
) -> Series:
    """A curve that flattens, with bars."""
    xs = [0.5 * (place + 1) for place in range(points)]
    ys: list[float | None] = [scale * 180.0 * math.tanh(x / 4.0) for x in xs]
    if gaps:
        ys = [None if index % 3 == 1 else y for index, y in enumerate(ys)]
    return Series(name, xs, ys, [2.0] * points, received)


def chart(*series: Series, from_zero: bool = True) -> Chart:
    return Chart("Flow", Axis("Lift", "mm"), Axis("Flow", "cfm"), series, from_zero=from_zero)


def box(words: Words) -> tuple[float, float, float, float]:
    """The room a line of text takes: left, top, right, bottom of its letters."""
    wide = fonts.width(words.text, words.size, fonts.BOLD if words.bold else fonts.REGULAR)
    x, y = words.at
    left = {"start": x, "middle": x - wide / 2, "end": x - wide}[words.anchor]
    return left, y - 0.68 * words.size, left + wide, y + 0.2 * words.size


def assert_clear(drawing: Drawing) -> None:
    """No two texts meet, and all that is drawn lies on the sheet."""
    texts = [mark for mark in drawing.marks if isinstance(mark, Words)]
    for item, other in itertools.combinations(texts, 2):
        (l1, t1, r1, b1), (l2, t2, r2, b2) = box(item), box(other)
        apart = r1 <= l2 or r2 <= l1 or b1 <= t2 or b2 <= t1
        assert apart, (item.text, other.text)
    for words in texts:
        left, top, right, bottom = box(words)
        assert left >= -0.1, words.text
        assert top >= -0.1, words.text
        assert right <= drawing.width + 0.1, words.text
        assert bottom <= drawing.height + 0.1, words.text
    for mark in drawing.marks:
        points = mark.points if isinstance(mark, Stroke) else ()
        points = (mark.at,) if isinstance(mark, Sign) else points
        for x, y in points:
            assert -0.1 <= x <= drawing.width + 0.1
            assert -0.1 <= y <= drawing.height + 0.1


@pytest.mark.parametrize("sheet", SHEETS, ids=str)
@pytest.mark.parametrize("points", [1, 2, 7, 40])
@pytest.mark.parametrize("count", [1, 2, 4, 8])
@pytest.mark.parametrize("spread", [0.0, 0.001, 0.2], ids=["alike", "close", "apart"])
def test_names_at_the_ends_never_overlap(
    sheet: tuple[float, float, float], points: int, count: int, spread: float
) -> None:
    series = [curve(f"{LONG} {place}", points, 1 + spread * place) for place in range(count)]
    drawing = layout(chart(*series), *sheet)
    assert_clear(drawing)
    marks = [mark for mark in drawing.marks if isinstance(mark, Sign) and mark.reading is not None]
    assert len(marks) == count * points


@given(
    st.lists(
        st.tuples(st.integers(1, 40), st.floats(0.0, 3.0), st.booleans(), st.text(max_size=30)),
        max_size=8,
    ),
    st.sampled_from(SHEETS),
    st.booleans(),
)
@settings(max_examples=60)
def test_no_chart_overlaps_or_leaves_its_sheet(
    curves: list[tuple[int, float, bool, str]],
    sheet: tuple[float, float, float],
    from_zero: bool,
) -> None:
    series = [curve(name, points, scale, gaps) for points, scale, gaps, name in curves]
    assert_clear(layout(chart(*series, from_zero=from_zero), *sheet))


def test_a_gap_breaks_the_line() -> None:
    drawing = layout(chart(Series("one", [1, 2, 3, 4, 5], [10, 11, None, 13, 14])))
    lines = [
        mark
        for mark in drawing.marks
        if isinstance(mark, Stroke) and mark.part == "curve" and len(mark.points) == 2
    ]
    # Two stretches of two points, and the sample beside the name.
    assert len(lines) == 3


def test_nothing_to_draw_is_said_in_words() -> None:
    for empty in (chart(), chart(Series("one", [1.0, 2.0], [None, None]))):
        drawing = layout(empty)
        assert_clear(drawing)
        texts = [mark.text for mark in drawing.marks if isinstance(mark, Words)]
        assert "No readings yet" in texts
    assert "no readings" in layout(chart()).description


def test_as_received_is_dashed_with_open_marks_and_later_solid_with_filled_ones() -> None:
    drawing = layout(chart(curve("first", 5, received=True), curve("later", 5, 1.1)))
    signs = [mark for mark in drawing.marks if isinstance(mark, Sign) and mark.reading is not None]
    by_name = {name: {s.filled for s in signs if s.reading and s.reading.series == name}
               for name in ("first", "later")}  # fmt: skip
    assert by_name == {"first": {False}, "later": {True}}
    dashes = [bool(m.dash) for m in drawing.marks if isinstance(m, Stroke) and m.part == "curve"]
    assert True in dashes
    assert False in dashes


def test_eight_curves_differ_in_colour_and_in_mark() -> None:
    """Never told apart by colour alone (WCAG 2.2, 1.4.1)."""
    drawing = layout(chart(*(curve(str(place), 3) for place in range(8))))
    signs = [mark for mark in drawing.marks if isinstance(mark, Sign)]
    assert len({sign.colour for sign in signs}) == 8
    assert len({sign.shape for sign in signs}) == 8


def test_more_curves_than_can_be_told_apart_are_refused() -> None:
    with pytest.raises(ValueError, match="8 series at most, not 9"):
        layout(chart(*(curve(str(place), 3) for place in range(9))))


@given(
    st.floats(-1e6, 1e6).map(lambda low: round(low, 6)),
    st.just(0.0) | st.floats(1e-3, 1e6),
    st.integers(2, 12),
)
def test_ticks_are_round_and_take_the_range_in(low: float, span: float, most: int) -> None:
    answer = ticks(low, low + span, most)
    step = answer[1] - answer[0]
    assert 3 <= len(answer) + 1 <= most + 2
    assert answer[0] <= low + 1e-6 * step
    assert answer[-1] >= low + span - 1e-6 * step
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-6)
    assert min(abs(mantissa - round_one) for round_one in (1, 2, 5, 10)) < 1e-6
    texts = [label(value, step) for value in answer]
    assert len(set(texts)) == len(texts)


def test_no_leader_runs_from_a_lone_point_far_from_its_name():
    def leaders(series: Series) -> int:
        drawn = layout(chart(curve("port", 8), series))
        return sum(isinstance(mark, Stroke) and mark.part == "leader" for mark in drawn.marks)

    short = Series("short", [0.0, 0.1], [3.0, 3.0])
    assert leaders(short) == leaders(Series("throat", [0.0], [3.0])) + 1


def test_a_staircase_is_level_about_each_point_and_steps_halfway_between() -> None:
    steps = Series("worth", [1.0, 2.0, 4.0], [10.0, 12.0, 11.0], stepped=True)
    drawing = layout(chart(steps))
    (line,) = (
        mark
        for mark in drawing.marks
        if isinstance(mark, Stroke) and mark.part == "curve" and len(mark.points) > 2
    )
    heights = [y for _, y in line.points]
    assert heights[0] == heights[1] != heights[2] == heights[3] != heights[4] == heights[5]
    across = [x for x, _ in line.points]
    assert across[1] == across[2]
    assert across[3] == across[4]
    signs = [m for m in drawing.marks if isinstance(m, Sign) and m.reading is not None]
    item, two, four = (sign.at[0] for sign in signs)
    assert across[1] == pytest.approx((item + two) / 2)
    assert across[3] == pytest.approx((two + four) / 2)
    assert_clear(drawing)


def test_a_point_may_lead_somewhere() -> None:
    dots = Series("tests", [1.0, 2.0], [3.0, 4.0], joined=False, links=["/a?b=1&c=2", ""])
    shown = svg.render(layout(chart(dots)), "one")
    assert shown.count("data-link") == 1
    assert 'data-link="/a?b=1&amp;c=2"' in shown


def test_names_below_the_plot_leave_it_the_width_and_stay_inside() -> None:
    """Each name whole, under the axis, with nothing beyond the edges of a narrow sheet."""
    chart = Chart(
        "Flow", Axis("Lift", "mm"), Axis("Flow", "cfm"),
        [Series("as received, cylinder 3", [2.0, 4.0], [50.0, 90.0], as_received=True),
         Series("after the seats were cut and the throats opened", [2.0, 4.0], [55.0, 97.0])],
    )  # fmt: skip
    beside = layout(chart, 310.0, 250.0)
    below = layout(chart, 310.0, 250.0, names_below=True)
    words = [mark for mark in below.marks if isinstance(mark, Words)]
    assert below.height > beside.height
    axis = next(mark for mark in words if mark.text == "Lift, mm")
    names = [mark for mark in words if mark.at[1] > axis.at[1]]
    assert " ".join(mark.text for mark in names) == " ".join(series.name for series in chart.series)
    assert all(mark.at[0] + fonts.width(mark.text, mark.size) <= 310.0 for mark in names)
    assert max(mark.at[1] for mark in names) < below.height
    right = max(mark.at[0] for mark in below.marks if isinstance(mark, Sign) and mark.reading)
    assert right > 0.9 * 310.0
