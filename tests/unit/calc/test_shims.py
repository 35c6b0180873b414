"""Stacks of shims against every other stack there is."""

from __future__ import annotations

from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc import shims

INCH_SIZES = [Decimal("0.015"), Decimal("0.030"), Decimal("0.060")]


@pytest.mark.parametrize(
    ("over", "thickness"),
    [("0.000", "0.000"), ("0.0049", "0.000"), ("0.005", "0.005"), ("0.023", "0.020"),
     ("-0.010", "0.000")],
)  # fmt: skip
def test_steps_are_whole_and_never_too_many(over: str, thickness: str):
    assert shims.in_steps(Decimal(over), Decimal("0.005")) == Decimal(thickness)


@pytest.mark.parametrize(
    ("over", "stack"),
    [("0.014", ()), ("0.015", ("0.015",)), ("0.047", ("0.030", "0.015")), ("0.060", ("0.060",)),
     ("0.110", ("0.060", "0.030", "0.015")), ("-0.020", ()),
     ("0.400", ("0.060", "0.060", "0.060", "0.060"))],
)  # fmt: skip
def test_a_stack_is_as_thick_as_can_be_of_the_fewest_shims(over: str, stack: tuple[str, ...]):
    assert shims.stack(Decimal(over), INCH_SIZES) == tuple(map(Decimal, stack))


@pytest.mark.source("every stack of up to four shims, by exhaustion")
@given(
    st.integers(0, 300),
    st.lists(st.integers(5, 60), min_size=1, max_size=4, unique=True),
)
def test_no_other_stack_is_thicker_or_as_thick_of_fewer(over: int, sizes: list[int]):
    stack = shims.stack(Decimal(over), [Decimal(size) for size in sizes])
    others = [[size for size in pick if size] for pick in product([0, *sizes], repeat=shims.MOST)]
    fitting = [pick for pick in others if sum(pick) <= over]
    best = max(fitting, key=lambda pick: (sum(pick), -len(pick)))
    assert (sum(stack), len(stack)) == (sum(best), len(best))
