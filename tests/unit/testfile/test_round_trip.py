"""Round trip of a session file, as typed to the last digit."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings

from shopflow.resources import SEED_DATA
from shopflow.testfile import check, dumps, loads, read
from tests.unit.testfile.documents import contents

SEEDS = sorted((SEED_DATA / "sessions").iterdir())

few_examples = settings(max_examples=40)


@given(contents())
@few_examples
def test_a_document_reads_back_as_it_was_written(content: dict[str, Any]) -> None:
    document = check(content)
    text = dumps(document)
    back = loads(text)
    assert back == document
    assert loads(text.encode()) == document
    # Decimals that are equal need not be typed alike: 12.0 is not 12.
    for name in ("calibration_factor", "lifts", "flows", "excluded"):
        assert repr(getattr(back, name)) == repr(getattr(document, name))
    assert dumps(back) == text


@given(contents())
@few_examples
def test_what_was_typed_is_in_the_file(content: dict[str, Any]) -> None:
    written = tomllib.loads(dumps(check(content)), parse_float=Decimal)
    for name, value in content.items():
        if isinstance(value, dict):
            for key, typed in value.items():
                assert written[name].get(key, "") == typed, (name, key)
        elif value not in ("", []):
            assert written[name] == value, name


@given(contents())
@few_examples
def test_the_figures_of_a_document_survive_the_round_trip(content: dict[str, Any]) -> None:
    document = check(content)
    assert loads(dumps(document)).flow_test() == document.flow_test()


def test_numbers_of_a_web_form_are_taken_as_they_come() -> None:
    """A form hands over whole numbers, decimals or floats."""
    base: dict[str, Any] = {
        "schema": 1,
        "side": "intake",
        "air": {"barometer": "29.4 inHg", "temperature": "70 degF"},
        "valve": {"head_diameter": "44 mm"},
        "bench": {"test_pressure": "25 inH2O"},
    }
    rows = [
        check(
            base
            | {"readings": {"lift_unit": "mm", "flow_unit": "cfm", "lift": [lift], "flow": [[run]]}}
        )
        for lift, run in ((10, 100), (Decimal(10), Decimal(100)), (10.0, 100.0))
    ]
    assert {item.flow_test().runs for item in rows} == {rows[0].flow_test().runs}
    typed = [str(item.flows[0][0]) for item in rows]
    assert typed == ["100", "100", "100.0"]


@pytest.mark.parametrize("path", SEEDS, ids=lambda path: path.stem)
def test_every_session_of_the_demo_shop_reads_and_writes_itself(path: Path) -> None:
    document = read(path)
    assert loads(dumps(document)) == document


def test_the_demo_shop_has_sessions_with_runs_left_out() -> None:
    assert sum(len(read(path).excluded) for path in SEEDS) >= 1
