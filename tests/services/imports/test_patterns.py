"""A row like one before it is read as it would be alone: the same test, or the same faults."""

from __future__ import annotations

import pytest

from shopflow.services.imports import flows, results
from shopflow.services.imports.flows import Air
from shopflow.services.imports.patterns import CONTENT
from shopflow.services.imports.patterns import Test as FlowTest
from shopflow.services.imports.patterns import Tests as FlowTests
from shopflow.services.imports.reading import CellFault, Sheet, Writing, read
from tests.services.imports.files import AIR, Row, csv_of, past_jobs

LONG = "9" * 41
CHANGES = (
    *(("0.100 in", text) for text in (
        "66", "66.40", "0", "-1", "6,6", "6e1", "1e999", "nan", "inf", "x", "/", "66 / 67",
        "66 / x", "66 /", "66 cfm", "66 L/s", "110 m3/h", "66 mm", "66 / 31 L/s", "+66", ".5",
        LONG, f"66 / {LONG}", "9" * 61, "'=1+1", "0x1F", "1_000", "٣",
    )),
    *(("date", text) for text in (
        "2019-05-31", "2019-05-31 14:30", "2019-02-30", "31/05/2019", "0000-01-01", "9999-12-31",
        "9998-12-31", "1899-12-31", "2019-05-31 25:00", "May",
    )),
    *((name, text) for name in ("stage", "cylinder", "operator", "test notes")
      for text in ("Ölig", "x" * 200, "x" * 201, "a\x00b", "two\nlines")),
    *(("side", text) for text in ("Exhaust", "up")),
    *(("flow unit", text) for text in ("L/s", "", "furlong")),
    *(("valve diameter", text) for text in ("1.9 in", "44", "-1 mm")),
    *(("barometer", text) for text in ("1009 mbar", "1 Pa", "x")),
    ("humidity", "101 %"), ("valves", "2"), ("valves", "none"), ("bench", "x" * 201),
    ("test pressure", "30 inHg"), ("0.600 in", ""),
    *(("set-up manifold", text) for text in ("M-2", "none", "x" * 201)),
)  # fmt: skip


def sheet_of(rows: list[Row]) -> Sheet:
    return read(csv_of(rows), results.COLUMNS, Writing())


def read_together(rows: list[Row]) -> tuple[list[FlowTest | None], list[CellFault]]:
    sheet = sheet_of(rows)
    tests = FlowTests(sheet, Air(**AIR), results.OF_ITS_HEAD)
    return tests.of(list(sheet.records)), sheet.faults


def read_alone(row: Row) -> tuple[object, list[CellFault]]:
    sheet = sheet_of([row])
    lifts = flows.lift_columns(sheet)
    return flows.document(sheet, lifts, Air(**AIR), next(sheet.records)), sheet.faults


def fault_texts(faults: list[CellFault]) -> list[tuple[str, str]]:
    return [(fault.column, fault.message) for fault in faults]


@pytest.mark.parametrize(("column", "text"), CHANGES, ids=lambda value: value[:12])
def test_a_row_among_its_like_is_read_as_alone(column: str, text: str):
    empty = dict.fromkeys(
        (
            *("operator", "test notes", "barometer", "humidity", "valves", "bench"),
            "set-up manifold",
        ),
        "",
    )
    like = past_jobs(1)[0] | empty
    row = like | {column: text}
    tests, faults = read_together([like, row])
    alone, wanted = read_alone(row)
    assert fault_texts(faults) == fault_texts(wanted)
    assert (tests[1] and tests[1].document("", "")) == alone
    assert bool(wanted) == (alone is None)


@pytest.mark.parametrize("typed", ["6640", "1e90", "66 / 6640"])
def test_a_flow_that_no_valve_passes_is_refused_at_its_lift(typed: str):
    """By hand: curtain π 44 mm × 2.54 mm = 351 mm², ideal 77 cfm at 28 inH2O (CoolProp)."""
    rows = [past_jobs(1)[0], past_jobs(1)[0] | {"0.100 in": typed}]
    tests, faults = read_together(rows)
    assert tests[0] is not None
    assert tests[1] is None
    ((column, message),) = fault_texts(faults)
    assert column == "0.100 in"
    assert message.startswith(f"'{typed}' is ")
    assert "times the most that this valve can pass at this lift: check the flow" in message


def test_what_a_test_holds_is_said_as_a_document_says_it():
    rows = [past_jobs(1)[0], past_jobs(1)[0] | {"0.100 in": "30 / 31.0"}]
    one_lift = {name: "" for name in rows[0] if name.endswith(" in") and name != "0.100 in"}
    for test in read_together([*rows, rows[0] | one_lift])[0]:
        assert test is not None
        document = test.document("", "")
        fault_texts = "\x1f".join(str(getattr(document, name)) for name in CONTENT)
        assert test.content == fault_texts


def test_figures_too_large_are_said_at_the_row_that_has_them():
    row = past_jobs(1)[0]
    rows = [row, row | dict.fromkeys([name for name in row if name.endswith(" in")], "1e200"), row]
    tests, faults = read_together(rows)
    assert [test is None for test in tests] == [False, True, False]
    assert [(fault.row, fault.column) for fault in faults] == [(3, "0.050 in")]
    assert (
        faults[0].message == "these readings give results too large or too small to calculate with"
    )
