"""The same session typed in US customary units and in SI: one set of figures."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given, settings

from shopflow import testfile
from shopflow.calc.comparison import compare
from shopflow.calc.reduction import reduce
from tests.properties.typed import american, in_si

LIKE = 1e-12
"""Conversion of units rounds a handful of times in double precision."""


def agree(one: float | None, other: float | None, scale: float = 0.0) -> bool:
    if one is None or other is None:
        return one is other
    return bool(one == pytest.approx(other, rel=LIKE, abs=LIKE * scale))


@given(american())
@settings(max_examples=60)
def test_one_session_typed_in_either_system_gives_the_same_figures(
    content: dict[str, Any],
) -> None:
    reduction = reduce(testfile.check(content).flow_test())
    other = reduce(testfile.check(in_si(content)).flow_test())
    assert agree(reduction.air_density, other.air_density)
    assert agree(reduction.mean_flow, other.mean_flow)
    for mine, theirs in zip(reduction.points, other.points, strict=True):
        for field in dataclasses.fields(mine):
            name = field.name
            if name == "flow_expanded_uncertainty":
                # The spread of near-equal runs loses digits that the flow itself keeps.
                assert agree(mine.flow_expanded_uncertainty, theirs.flow_expanded_uncertainty,
                             mine.flow)  # fmt: skip
            else:
                assert agree(getattr(mine, name), getattr(theirs, name)), name


@given(american(), american())
@settings(max_examples=40)
def test_a_comparison_across_systems_is_the_same(
    first: dict[str, Any], second: dict[str, Any]
) -> None:
    before = reduce(testfile.check(first).flow_test())
    after, metric = (
        reduce(testfile.check(content).flow_test()) for content in (second, in_si(second))
    )
    item, other = compare(before, after), compare(before, metric)
    assert len(item.points) == len(other.points) > 0
    for mine, theirs in zip(item.points, other.points, strict=True):
        assert agree(mine.gain, theirs.gain, mine.after)
        assert agree(mine.before, theirs.before)
