"""Tax and totals of money papers."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Context, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.totals import totals

AMOUNTS = st.lists(st.decimals(0, 99999, places=2), max_size=40)
RATES = st.decimals(0, 30, places=3)


@pytest.mark.parametrize(
    ("amounts", "rate", "tax", "total"),
    [
        # EN 16931-1 BR-CO-17, worked by hand: the sum's tax, 100.00 at 25 %.
        (["60.00", "40.00"], "25", "25.00", "125.00"),
        # Half a cent goes up: 0.10 at 5 % is 0.005.
        (["0.10"], "5", "0.01", "0.11"),
        # Three lines of 0.10 at 5 %: 0.015 on the sum; line by line it would be 0.03.
        (["0.10", "0.10", "0.10"], "5", "0.02", "0.32"),
        # Just below a half goes down: 0.0825 * 30.00 = 2.475 and 29.99 gives 2.474175.
        (["30.00"], "8.25", "2.48", "32.48"),
        (["29.99"], "8.25", "2.47", "32.46"),
        ([], "19", "0.00", "0.00"),
        (["1250.00"], "0", "0.00", "1250.00"),
    ],
)
def test_tax_is_taken_once_on_the_sum_and_rounded_half_up(
    amounts: list[str], rate: str, tax: str, total: str
):
    answer = totals(map(Decimal, amounts), Decimal(rate))
    assert (str(answer.tax), str(answer.total)) == (tax, total)


@given(AMOUNTS, RATES)
def test_it_agrees_with_whole_numbers(amounts: list[Decimal], rate: Decimal):
    """Python's integers: tax in hundredths = floor((cents * rate * 1000 + 50000) / 100000)."""
    cents = sum(int(amount * 100) for amount in amounts)
    tax = (cents * int(rate * 1000) + 50_000) // 100_000
    answer = totals(amounts, rate)
    assert int(answer.tax * 100) == tax
    assert int(answer.total * 100) == cents + tax
    assert answer.tax == (Context(prec=60).multiply(answer.net, rate) / 100).quantize(
        Decimal("0.01"), ROUND_HALF_UP
    )


@pytest.mark.parametrize(("amount", "rate"), [("1.001", "5"), ("1.00", "-1")])
def test_what_cannot_be_is_refused(amount: str, rate: str):
    with pytest.raises(ValueError, match=r"decimals|below zero"):
        totals([Decimal(amount)], Decimal(rate))
