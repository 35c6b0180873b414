"""Chambers made equal, by hand and against the volumes themselves."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from shopflow.calc import chambers
from shopflow.calc.compression import clearance_volume, compression_ratio, cylinder_volume


def test_all_but_the_largest_are_ground_larger():
    volumes = [Decimal("53.8"), Decimal("54.2"), Decimal("53.9"), Decimal("54.2")]
    in_use = chambers.short_of_largest(volumes)
    assert in_use == [Decimal("0.4"), Decimal("0.0"), Decimal("0.3"), Decimal("0.0")]
    assert {volume + out for volume, out in zip(volumes, in_use, strict=True)} == {max(volumes)}
    assert chambers.spread(volumes) == max(in_use)


@pytest.mark.source("(swept + clearance) ÷ clearance with volumes by math.pi, by hand")
def test_each_ratio_is_its_own_volumes():
    """Bore 101.6, stroke 88.4 mm; gasket 104 × 1.0, deck 0.5 mm, dish 5 cm³, chambers 64 and 65."""
    swept = math.pi / 4 * 10.16**2 * 8.84
    rest = math.pi / 4 * 10.4**2 * 0.10 + math.pi / 4 * 10.16**2 * 0.05 + 5.0
    by_hand = [(swept + volume + rest) / (volume + rest) for volume in (64.0, 65.0)]
    gasket, deck = cylinder_volume(0.104, 1e-3), cylinder_volume(0.1016, 0.5e-3)
    own = clearance_volume(0.0, gasket, deck, 5e-6)
    answer = chambers.ratios(float(cylinder_volume(0.1016, 0.0884)), [64e-6, 65e-6], float(own))
    assert answer == pytest.approx(by_hand, rel=1e-12)
    assert answer[0] == pytest.approx(compression_ratio(swept, 64.0 + rest), rel=1e-12)


def test_a_dome_larger_than_the_chamber_is_refused():
    with pytest.raises(ValueError, match="no volume"):
        chambers.ratios(500e-6, [40e-6], -45e-6)
