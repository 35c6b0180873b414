"""The map of a head's ports by gain: sign, figures and colour, and the same in words."""

from __future__ import annotations

import pytest

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
