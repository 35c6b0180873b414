"""Format of days, gains and numbers in documents."""

from __future__ import annotations

import doctest
import importlib
from datetime import UTC, date, datetime

import pytest

from shopflow import documents
from shopflow.papers import numbers

LATE = datetime(2026, 3, 6, 4, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    "module", ["documents.amounts", "documents.dates", "papers.hand_off", "papers.numbers"]
)
def test_the_examples_in_the_documentation_are_right(module: str) -> None:
    answer = doctest.testmod(importlib.import_module(f"shopflow.{module}"))
    assert answer.attempted > 0
    assert answer.failed == 0


@pytest.mark.parametrize(
    ("style", "written"),
    [("iso", "2026-03-05"), ("dmy", "5 Mar 2026"), ("mdy", "Mar 5, 2026")],
)
def test_a_moment_is_shown_on_the_shops_day_in_the_shops_way(style: str, written: str) -> None:
    display = documents.Display(time_zone="America/Chicago", date_format=style)
    assert display.moment(LATE) == written
    assert display.moment(LATE, clock=True) == f"{written}, 22:30"
    assert display.day(date(2026, 3, 5)) == written
    assert display.moment(None) == display.day(None) == "–"


@pytest.mark.parametrize(
    ("value", "written"),
    [(6.24, "+6.2"), (-6.26, "−6.3"), (0.04, "0.0"), (-0.04, "0.0"), (None, "–")],
)
def test_a_change_carries_its_sign_unless_it_is_nought(value: float, written: str) -> None:
    assert numbers.percent(value) == written


def test_figures_follow_the_unit_system_and_have_a_true_minus() -> None:
    us, si = documents.Display("us").units, documents.Display("si").units
    # 1 cubic foot a minute is 0.4719474 L/s (NIST SP 811, appendix B).
    assert numbers.figure(us, 100 * 0.4719474e-3, "flow") == "100.0"
    assert numbers.figure(si, -0.4719474e-1, "flow") == "−47.19"
    assert numbers.figure(si, None, "flow") == "–"
    assert numbers.coefficient(0.61249) == "0.612"
    assert numbers.coefficient(None) == "–"
