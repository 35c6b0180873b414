"""Defaults of a test: the valve as last measured, lifts in steps of L/D."""

from __future__ import annotations

import pytest

from shopflow.services.bench import test_defaults
from shopflow.units import UnitError


def test_lifts_every_so_much_of_the_diameter():
    """By hand: a tenth of 1.750 in is 0.175 in, of 44 mm 4.4 mm."""
    assert test_defaults.lifts_by_diameter("1.750 in", "0.1", "0.3", "in") == [
        "0.175",
        "0.350",
        "0.525",
    ]
    assert test_defaults.lifts_by_diameter("44 mm", "0.05", "0.1", "mm") == ["2.20", "4.40"]


@pytest.mark.parametrize(
    ("diameter", "step", "last"),
    [("44", "0.1", "0.3"), ("44 mm", "x", "0.3"), ("44 mm", "0", "0.3"), ("44 mm", "0.1", "2"),
     ("44 mm", "0.001", "0.4"), ("44 mm", "0.4", "0.3"), ("44 mm", "NaN", "0.3")],
)  # fmt: skip
def test_what_gives_no_lifts_is_refused(diameter, step, last):
    with pytest.raises(UnitError):
        test_defaults.lifts_by_diameter(diameter, step, last, "mm")
