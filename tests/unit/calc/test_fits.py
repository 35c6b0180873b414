"""Interference, wear and recession."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.calc import fits


@pytest.mark.source("ISO 286-1:2010, example of a fit H7/s6 at 40 mm, from memory")
def test_interference_of_a_press_fit_lies_between_its_extremes():
    """40 H7 is 40.000 to 40.025, 40 s6 40.043 to 40.059: 0.018 to 0.059 mm of interference."""
    least = fits.interference(Decimal("40.043"), Decimal("40.025"))
    greatest = fits.interference(Decimal("40.059"), Decimal("40.000"))
    assert (least, greatest) == (Decimal("0.018"), Decimal("0.059"))


def test_wear_is_never_negative_and_does_not_depend_on_the_order():
    diameters = [Decimal("7.965"), Decimal("7.940"), Decimal("7.955")]
    assert fits.wear(*diameters) == fits.wear(*reversed(diameters)) == Decimal("0.025")
    assert fits.wear(Decimal("7.9"), Decimal("7.9")) == 0


def test_a_stem_that_stands_lower_than_usual_has_negative_recession():
    assert fits.recession(Decimal("47.50"), Decimal("47.60")) == Decimal("-0.10")
