"""Whatever is fed to the reader, it answers with a document or with faults in words."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from datetime import UTC, date, datetime, time
from typing import Any, TypeVar

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shopflow.errors import ValidationError
from shopflow.resources import SEED_DATA
from shopflow.testfile import check, dumps, loads
from tests.unit.testfile.documents import contents

SEED = sorted((SEED_DATA / "sessions").iterdir())[0].read_text(encoding="utf-8")
few_examples = settings(max_examples=50)
T = TypeVar("T")
BITS = [
    "=", "[", "]", "[[", '"', '"""', "'", "\n", "#", "{", "}", ",", "nan", "inf", "-inf", "true",
    "1e400", "-1", "0", "1_000", "0x1f", "1979-05-27", "07:32:00", "1e-400", "9" * 5000,
    "\x00", "\ud7ff", "schema", "[air]", "a.b.c = 1", "bench = 3", "[bench.port]", "é", "\r",
]  # fmt: skip


def outcome(reader: Callable[[Any], T], content: Any) -> T | None:
    """The document, or None where it is refused, which must be with faults that have words."""
    try:
        return reader(content)
    except ValidationError as refused:
        faults = refused.faults
    assert faults
    assert all(fault.message.strip() for fault in faults)
    return None


def answers(content: str | bytes) -> None:
    """Reads it or refuses it; what is read survives being written."""
    document = outcome(loads, content)
    assert document is None or loads(dumps(document)) == document


@given(st.binary(max_size=200))
@few_examples
def test_any_bytes(content: bytes) -> None:
    answers(content)


@given(st.text(max_size=200))
@few_examples
def test_any_text(content: str) -> None:
    with contextlib.suppress(UnicodeEncodeError):
        answers(content.encode())
    answers(content)


@given(
    st.integers(0, len(SEED)),
    st.integers(0, 40),
    st.lists(st.sampled_from(BITS), max_size=4).map("".join) | st.text(max_size=10),
)
@example(0, 0, "\ufeff")
@few_examples
def test_a_good_file_spoilt_anywhere(index: int, cut: int, put: str) -> None:
    answers(SEED[:index] + put + SEED[index + cut :])


scalars = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.integers(-(10**400), 10**400)
    | st.floats()
    | st.decimals()
    | st.text(max_size=12)
    | st.sampled_from(["28 inH2O", "44 mm", "20 degC", "nan Pa", "1e999 mm", "0 %", "intake"])
    | st.sampled_from([
        datetime(1, 1, 1, tzinfo=UTC), datetime(2026, 1, 1), date(2026, 1, 1), time(7, 32)  # noqa: DTZ001
    ])
)  # fmt: skip
anything = st.recursive(
    scalars,
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=6,
)


@given(contents(), st.data())
@few_examples
def test_any_value_in_any_place_of_a_mapping(content: dict[str, Any], data: st.DataObject) -> None:
    """A form can send anything in place of a value."""
    table = data.draw(
        st.sampled_from([content, *(v for v in content.values() if isinstance(v, dict))])
    )
    key = data.draw(st.sampled_from(sorted(table)) | st.text(max_size=8))
    table[key] = data.draw(anything)
    document = outcome(check, content)
    assert document is None or loads(dumps(document)) == document


@given(st.lists(anything, max_size=3), st.lists(anything, max_size=3))
@few_examples
def test_anything_for_the_arrays(lifts: list[Any], flows: list[Any]) -> None:
    content = {
        "schema": 1,
        "side": "exhaust",
        "air": {"barometer": "29.4 inHg", "temperature": "70 degF"},
        "valve": {"head_diameter": "44 mm"},
        "bench": {"test_pressure": "25 inH2O"},
        "readings": {"lift_unit": "mm", "flow_unit": "cfm", "lift": lifts, "flow": flows},
    }
    with contextlib.suppress(ValidationError):
        assert check(content).flow_test().lifts


def test_a_flood_of_faults_is_answered_in_good_time() -> None:
    """Every fault is named, but no reader is kept waiting for hints on each."""
    text = "\n".join(f"key{place} = 1" for place in range(20_000))
    with pytest.raises(ValidationError) as refused:
        loads(text)
    assert len(refused.value.faults) >= 20_000


def test_digits_beyond_double_precision_do_not_make_two_lifts_of_one() -> None:
    first = loads(SEED).lifts[0]
    spoilt = SEED.replace(f"[{first}, ", f"[{first}, {first}{'0' * 30}1, ", 1)
    assert spoilt != SEED
    with pytest.raises(ValidationError, match="not above the lift before it"):
        loads(spoilt)
