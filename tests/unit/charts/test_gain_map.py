"""The map of a head's ports by gain: sign, figures and colour, and the same in words."""

from __future__ import annotations

from itertools import combinations

import pytest

from shopflow import fonts
from shopflow.charts.gain_map import LOOKS, GainMap, PortSpot, layout_gain_map
from shopflow.charts.marks import Sign, Words

NAMES = {state: state.capitalize() for state in LOOKS}


def spot(gain: float | None, tests: int = 2, side: str = "intake", *shared: int) -> PortSpot:
    """A port of the first cylinder, or one that these share."""
    return PortSpot(f"The {side} port", shared or (0,), side, tests, gain)


@pytest.mark.parametrize(
    ("gain", "tests", "state", "words"),
    [
        (0.062, 2, "gain", "+6.2 %"),
        (-0.031, 2, "loss", "−3.1 %"),
        (0.004, 2, "same", "+0.4 %"),
        (None, 1, "one test", ""),
        (None, 0, "not tested", ""),
    ],
)
def test_a_port_is_told_by_sign_figures_and_form(
    gain: float | None, tests: int, state: str, words: str
):
    port = spot(gain, tests)
    assert (port.state, port.words) == (state, words)
    drawing = layout_gain_map(GainMap("Gain", ["1"], [port], NAMES))
    (sign,) = [mark for mark in drawing.marks if isinstance(mark, Sign) and mark.reading]
    samples = [mark for mark in drawing.marks if isinstance(mark, Sign) and not mark.reading]
    # No two states share a form and its filling, so none is told by colour alone.
    assert len({(mark.shape, mark.filled) for mark in samples}) == len(samples) == 5
    assert sum((mark.shape, mark.filled) == (sign.shape, sign.filled) for mark in samples) == 1
    texts = [mark.text for mark in drawing.marks if isinstance(mark, Words)]
    assert (words in texts) == bool(words)
    assert drawing.description == f"The intake port: {words or state}"


def test_intake_is_above_exhaust_and_a_shared_port_between_its_cylinders():
    ports = [spot(0.05, 2, "intake", 0, 1), spot(0.02, 2, "exhaust", 0)]
    drawing = layout_gain_map(GainMap("Gain", ["1", "2"], ports, NAMES))
    intake, exhaust = (m.at for m in drawing.marks if isinstance(m, Sign) and m.reading)
    first, second = (m.at for m in drawing.marks if isinstance(m, Words) and m.text in ("1", "2"))
    assert intake[1] < first[1] < exhaust[1]
    assert exhaust[0] == first[0]
    assert intake[0] == pytest.approx((first[0] + second[0]) / 2)


@pytest.mark.parametrize("cylinders", [1, 2, 3, 4, 5, 6, 8, 12])
@pytest.mark.parametrize("width", [262.0, 400.0, 760.0])
def test_bores_stand_in_rows_where_the_sheet_is_narrow(cylinders: int, width: float):
    """No words lie on words, and nothing leaves the sheet."""
    ports = [
        PortSpot(f"{side} {index}", (index,), side, 2, 0.125)
        for index in range(cylinders)
        for side in ("intake", "exhaust")
    ]
    names = [str(number + 1) for number in range(cylinders)]
    drawing = layout_gain_map(GainMap("Gain", names, ports, NAMES), width)
    assert drawing.width <= width
    boxes = []
    for mark in drawing.marks:
        if isinstance(mark, Words):
            long = fonts.width(mark.text, mark.size, fonts.BOLD if mark.bold else fonts.REGULAR)
            left = mark.at[0] - {"start": 0.0, "middle": 0.5, "end": 1.0}[mark.anchor] * long
            boxes.append((left, mark.at[1] - 0.72 * mark.size, left + long, mark.at[1]))
        elif isinstance(mark, Sign):
            x, y = mark.at
            boxes.append((x - mark.size, y - mark.size, x + mark.size, y + mark.size))
    assert all(x >= 0.0 and right <= width for x, _, right, _ in boxes)
    assert all(bottom <= drawing.height for *_, bottom in boxes)
    for one, other in combinations(boxes, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, (one, other)


def test_a_port_of_cylinders_in_two_rows_is_marked_in_both():
    names = [str(number) for number in range(1, 9)]
    shared = spot(0.04, 2, "exhaust", 3, 4)
    drawing = layout_gain_map(GainMap("Gain", names, [shared], NAMES), 262.0)
    (one, other) = (m.at for m in drawing.marks if isinstance(m, Sign) and m.reading)
    rows = {m.text: m.at[1] for m in drawing.marks if isinstance(m, Words) and m.text in names}
    assert rows["4"] < one[1] < rows["5"] < other[1]
