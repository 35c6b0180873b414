"""Digits of a result and of its uncertainty."""

from __future__ import annotations

import pytest

from shopflow.calc.rounding import matched, places, written


@pytest.mark.source("JCGM 100:2008, 7.2.6 and H.1.6 (from memory)")
@pytest.mark.parametrize(
    ("value", "uncertainty", "printed"),
    [
        (10.05762, 0.027, ("10.058", "0.027")),
        (50.000838, 0.0000927, ("50.000838", "0.000093")),
    ],
)
def test_the_guides_own_results_are_rounded_as_printed(
    value: float, uncertainty: float, printed: tuple[str, str]
) -> None:
    assert matched(value, uncertainty) == printed


@pytest.mark.parametrize("exponent", range(-4, 4))
@pytest.mark.parametrize("leading", [1.0, 1.049, 5.55, 9.94, 9.96])
def test_an_uncertainty_always_keeps_two_significant_digits(exponent: int, leading: float) -> None:
    uncertainty = leading * 10.0**exponent
    text = written(uncertainty, places(uncertainty))
    assert float(text) == pytest.approx(uncertainty, rel=0.05)
    digits = text.replace(".", "").lstrip("0")
    assert len(digits) == 2 or (float(text) >= 100 and set(digits[2:]) == {"0"})


@pytest.mark.parametrize("uncertainty", [0.0, -1.0, float("inf"), float("nan")])
def test_what_is_no_uncertainty_is_refused(uncertainty: float) -> None:
    with pytest.raises((ValueError, OverflowError)):
        places(uncertainty)
