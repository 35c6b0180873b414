"""Limits printed in open manuals of the US Army: the verdict at each bound and a digit beyond."""

from __future__ import annotations

import tomllib

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Verdict
from shopflow.resources import SEED_DATA
from shopflow.services.measuring import limits, measurements, usual_values
from tests import factories
from tests.factories import BY

LIMITS = [
    pytest.param("contact width", "", "0.08 in", "0.080 in", "0.081 in",
                 id="contact width, TM 9-2815-254-24"),
    pytest.param("deck flatness", "", "0.003 in", "0.0030 in", "0.0031 in",
                 id="deck flatness, TM 5-3810-306-34"),
    pytest.param("valve depth", "0.035 in", "0.056 in", "0.035 in", "0.0349 in",
                 id="least valve depth, TM 5-3810-306-34"),
    pytest.param("valve depth", "0.035 in", "0.056 in", "0.056 in", "0.0561 in",
                 id="greatest valve depth, TM 5-3810-306-34"),
    pytest.param("seat load", "101.2 lbf", "115.5 lbf", "101.2 lbf", "101.1 lbf",
                 id="least load at 2 in, TM 5-3810-306-34"),
    pytest.param("seat load", "101.2 lbf", "115.5 lbf", "115.5 lbf", "115.6 lbf",
                 id="greatest load at 2 in, TM 5-3810-306-34"),
    pytest.param("shim", "", "0.060 in", "0.060 in", "0.061 in",
                 id="two spacers of 0.030 in, TM 55-1905-223-24-3"),
    pytest.param("deck flatness", "", "0.003 in", "0.003 in", "0.0031 in",
                 id="narrower flatness, TM 9-4940-549-14&P"),
    pytest.param("deck flatness", "", "0.005 in", "0.005 in", "0.0051 in",
                 id="wider flatness, TM 9-4940-549-14&P"),
]  # fmt: skip


@pytest.mark.source(
    "US Army TM 9-2815-254-24, TM 5-3810-306-34, TM 55-1905-223-24-3, TM 9-4940-549-14&P"
)
@pytest.mark.parametrize(("code", "lower", "upper", "at", "beyond"), LIMITS)
def test_a_limit_holds_to_its_last_digit(
    db: Session, code: str, lower: str, upper: str, at: str, beyond: str
):
    visit = factories.create_visit(db)
    kind = measurements.kind_by_code(db, code)
    values = {"lower": lower, "upper": upper}
    limits.set_(db, BY, visit.head.engine_type, kind, "", values)
    verdicts = [
        measurements.record(db, BY, visit, kind.id, {"value": value}).verdict
        for value in (at, beyond)
    ]
    assert verdicts == [Verdict.WITHIN, Verdict.OUTSIDE]


@pytest.mark.source("US Army TM 9-2815-254-24: recession 0.028 to 0.11 in")
@pytest.mark.parametrize(
    ("stem_height", "recession", "verdict"),
    [
        ("1.528 in", "0.028 in", Verdict.WITHIN),
        ("1.527 in", "0.027 in", Verdict.OUTSIDE),
        ("1.610 in", "0.110 in", Verdict.WITHIN),
        ("1.611 in", "0.111 in", Verdict.OUTSIDE),
    ],
)
def test_calculated_recession_is_held_to_its_limits(
    db: Session, stem_height: str, recession: str, verdict: Verdict
):
    visit = factories.create_visit(db)
    engine_type = visit.head.engine_type
    height = measurements.kind_by_code(db, "stem height")
    usual_values.set_(db, BY, engine_type, height, {"value": "1.500 in"})
    kind = measurements.kind_by_code(db, "recession")
    limits.set_(db, BY, engine_type, kind, "", {"lower": "0.028 in", "upper": "0.11 in"})
    measurements.record(db, BY, visit, height.id, {"value": stem_height})
    (row,) = [row for row in visit.measurements if row.kind is kind]
    assert (row.value.text, row.verdict) == (recession, verdict)


def test_the_example_set_holds_the_limits_of_the_manuals():
    """The invented shop's example engine type has the limits that are checked here, as printed."""
    engines = tomllib.loads((SEED_DATA / "engines.toml").read_text(encoding="utf-8"))["engine_type"]
    (example,) = (engine for engine in engines if engine["key"] == "depot")
    shown = {row["kind"]: (row.get("lower", ""), row.get("upper", "")) for row in example["limit"]}
    checked = {code: (lower, upper) for code, lower, upper, *_ in (row.values for row in LIMITS)}
    wider = checked.pop("deck flatness")
    assert wider == ("", "0.005 in")
    assert shown.pop("deck flatness") == ("", "0.003 in")
    assert shown == checked | {"recession": ("0.028 in", "0.11 in")}
    assert all("US Army TM" in row["source"] for row in example["limit"])
