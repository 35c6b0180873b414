"""Whatever is fed to the reader, it answers with a cam or with faults in words."""

from __future__ import annotations

import contextlib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.calc.cycle import Engine, OpenPort, cycle
from shopflow.camfile import CamDocument, check, dumps, loads
from tests.unit.calc.test_cycle import port
from tests.unit.camfile.documents import CAM, contents
from tests.unit.testfile.test_fuzz import BITS, outcome

few_examples = settings(max_examples=60)


def answers(content: str | bytes) -> None:
    """Reads it or refuses it; what is read survives being written, and moves a valve."""
    document = outcome(loads, content)
    if document is not None:
        assert loads(dumps(document)) == document
        moves(document)


def moves(document: CamDocument) -> None:
    for side in ("intake", "exhaust"):
        lobe = document.lobe_of(side)
        if lobe is not None:
            motion = lobe.motion(side)
            assert motion.opens <= motion.closes


@given(st.binary(max_size=200))
@few_examples
def test_any_bytes(content: bytes) -> None:
    answers(content)


@given(st.integers(0, len(CAM)), st.integers(0, 12), st.sampled_from(BITS) | st.text(max_size=5))
@settings(max_examples=300)
def test_a_cam_with_a_piece_replaced(start: int, length: int, piece: str) -> None:
    spoilt = CAM[:start] + piece + CAM[start + length :]
    with contextlib.suppress(UnicodeEncodeError):
        answers(spoilt.encode())


@given(contents())
@few_examples
def test_a_cam_read_and_written_is_the_same(content: dict[str, Any]) -> None:
    document = check(content)
    assert loads(dumps(document)) == document
    moves(document)


PATHS = [("engine", key) for key in ("bore", "speed", "compression_ratio")] + [
    ("intake", key) for key in ("centreline", "angle", "lobe_lift", "lash", "duration")
]
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=8,
)


@given(contents(), st.sampled_from(PATHS), ANYTHING)
@settings(max_examples=200)
def test_anything_in_place_of_a_value(
    content: dict[str, Any], path: tuple[str, str], value: Any
) -> None:
    content[path[0]][path[1]] = value
    document = outcome(check, content)
    if document is not None:
        moves(document)


@given(st.floats(1e-300, 1e300), st.floats(1e-300, 1e300), st.floats(1e-300, 1e300))
@few_examples
def test_figures_beyond_all_bounds_are_refused_in_words(
    bore: float, stroke: float, speed: float
) -> None:
    motion = loads(CAM).intake.motion("intake")
    with contextlib.suppress(ValueError):
        answer = cycle(Engine(bore, stroke, speed), OpenPort(motion, port()))
        assert answer.mach_index is not None
        assert 0.0 <= answer.mach_index < float("inf")
