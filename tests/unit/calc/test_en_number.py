"""The En number against its definition by hand and by GTC."""

from __future__ import annotations

import GTC
import pytest

from shopflow.calc.en_number import en_number, is_satisfactory


@pytest.mark.source("ISO 13528:2022, 9.7 (from memory); GTC for the combined uncertainty")
def test_the_en_number_is_the_difference_over_both_uncertainties_combined() -> None:
    own, their = GTC.ureal(212.4, 2.5 / 2.0), GTC.ureal(210.0, 2.1 / 2.0)
    difference = own - their
    expected = difference.x / (2.0 * difference.u)
    assert en_number(212.4, 210.0, 2.5, 2.1) == pytest.approx(expected, rel=1e-12)
    assert en_number(210.0, 212.4, 2.1, 2.5) == pytest.approx(-expected, rel=1e-12)


@pytest.mark.source("By hand: (103 - 100)/sqrt(1.8^2 + 2.4^2) = 3/3 = 1")
def test_one_is_satisfactory_and_more_is_not() -> None:
    assert en_number(103.0, 100.0, 1.8, 2.4) == pytest.approx(1.0)
    assert is_satisfactory(1.0)
    assert is_satisfactory(-1.0)
    assert not is_satisfactory(1.001)


def test_without_any_uncertainty_there_is_no_number() -> None:
    with pytest.raises(ValueError, match="uncertainty"):
        en_number(1.0, 2.0, 0.0, 0.0)
