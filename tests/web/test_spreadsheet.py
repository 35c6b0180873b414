"""Rows for a spreadsheet: read back by Python's own reader, formulas made harmless."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.spreadsheet import csv_text

SIGNS = st.characters(codec="utf-8", exclude_characters="\x00")
CELLS = st.one_of(st.text(SIGNS), st.integers())


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "＝1", "＋1", "－1", "＠1"]
)
def test_what_may_be_taken_for_a_formula_gets_an_apostrophe(text: str) -> None:
    # The beginnings that OWASP's page on CSV injection lists.
    ((cell,),) = list(csv.reader(io.StringIO(csv_text([], [[text]]), newline="")))[1:]
    assert cell == "'" + text


def test_numbers_stay_numbers_and_nothing_is_empty() -> None:
    assert csv_text(["a", "b"], [[-1.5, None], [3, "x, y"]]) == 'a,b\r\n-1.5,\r\n3,"x, y"\r\n'


@given(st.lists(CELLS, min_size=2, max_size=5))
def test_everything_else_comes_back_as_it_was(cells: list[str | int]) -> None:
    (row,) = list(csv.reader(io.StringIO(csv_text(["h"], [cells]), newline="")))[1:]
    back = [cell[1:] if cell.startswith("'") and cell != str(was) else cell
            for cell, was in zip(row, cells, strict=True)]  # fmt: skip
    assert back == [str(cell) for cell in cells]
