"""Results for the engine: Mach index, compression ratio, gas through a turbine."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.air import speed_of_sound
from shopflow.calc.compression import (
    clearance_volume,
    compression_ratio,
    cylinder_volume,
    volume_removed,
)
from shopflow.calc.machindex import mach_index, mean_piston_speed, speed_at_index
from shopflow.calc.turbo import exhaust_to_intake_volume, turbine_power

INCH = 0.0254


@pytest.mark.source("JSME dictionary of mechanical engineering, entry 11:1002813, by hand")
def test_mean_inlet_mach_index_by_hand() -> None:
    """Mean piston speed × piston area over the speed of sound × the valve's mean open area.

    Bore and stroke 86.4, valve 45.2 mm, 6000 rpm, Ci 0.35, 293.15 K; γ 1.4, R 287.05.
    """
    sound = float(speed_of_sound(293.15))
    speed = mean_piston_speed(0.0864, 100.0)
    index = mach_index(0.0864, 0.0452, 1, speed, 0.35, sound)
    assert speed == pytest.approx(17.28, rel=1e-12)
    assert sound == pytest.approx(343.232, abs=5.1e-4)
    assert index == pytest.approx(0.525580, abs=5.1e-7)
    assert speed_at_index(0.6, 6000.0, index) == pytest.approx(6849.58, abs=5.1e-3)


@given(st.integers(1, 5), st.floats(20e-3, 50e-3))
def test_valves_count_by_their_area(count: int, diameter: float) -> None:
    many = mach_index(0.09, diameter, count, 15.0, 0.4, 343.0)
    item = mach_index(0.09, diameter * count**0.5, 1, 15.0, 0.4, 343.0)
    assert many == pytest.approx(item, rel=1e-12)


# Bore, stroke, chamber, gasket bore and thickness, deck, dish, swept, clearance, ratio: cylinders
# added up by hand in cm3.
RATIOS = {
    "86.4 mm square": (86.4e-3, 86.4e-3, 50.0, 87.5e-3, 1e-3, 0.5e-3, 5.0,
                       506.5603, 63.94469, 8.921850),
    "4.000 by 3.480 in": (4.0 * INCH, 3.48 * INCH, 64.0, 4.1 * INCH, 0.04 * INCH, 0.025 * INCH,
                          6.0, 716.6222, 83.80218, 9.551355),
}  # fmt: skip


@pytest.mark.source("Definition: greatest volume over least, the cylinders by hand")
@pytest.mark.parametrize("case", RATIOS.values(), ids=RATIOS.keys())
def test_compression_ratio_by_hand(case: tuple[float, ...]) -> None:
    bore, stroke, chamber, hole, thickness, deck, dish, swept, clearance, ratio = case
    found_swept = float(cylinder_volume(bore, stroke)) * 1e6
    assert found_swept == pytest.approx(swept, abs=5.1e-5)
    answer = clearance_volume(
        chamber,
        float(cylinder_volume(hole, thickness)) * 1e6,
        float(cylinder_volume(bore, deck)) * 1e6,
        dish,
    )
    assert answer == pytest.approx(clearance, abs=5.1e-5)
    assert compression_ratio(found_swept, answer) == pytest.approx(ratio, abs=5.1e-6)


def test_a_flat_piston_at_the_deck_leaves_chamber_and_gasket() -> None:
    assert clearance_volume(50.0, 6.0) == 56.0


@pytest.mark.source("Geometry, by hand")
def test_a_cut_off_the_face_raises_the_ratio_by_hand() -> None:
    in_use = volume_removed(5000e-6, 0.254e-3) * 1e6
    assert in_use == pytest.approx(1.270, rel=1e-12)
    assert compression_ratio(506.5603, 63.94469 - in_use) == pytest.approx(9.082373, abs=5.1e-6)


@pytest.mark.source('Ideal gas law, by hand; "about five" is common practice, without a source')
def test_exhaust_against_intake_volume_by_hand() -> None:
    """20 psi gauge in and 18 out at 14.696 psia, 300 K in, F/A 0.08.

    "About five" at the hot end is common practice, no source: it takes 1308.8 K.
    """
    inlet, outlet = 14.696 + 20, 14.696 + 18
    assert inlet / outlet == pytest.approx(1.061170, abs=5.1e-7)
    at = exhaust_to_intake_volume(0.08, 1200.0, 300.0, inlet, outlet)
    assert at == pytest.approx(4.584, abs=5.1e-4)
    assert exhaust_to_intake_volume(0.08, 1308.8, 300.0, inlet, outlet) == pytest.approx(
        5.0, abs=2e-4
    )


@pytest.mark.source("Isentropic expansion of an ideal gas, by hand (249.456 kJ/kg)")
def test_turbine_power_by_hand() -> None:
    """W = cp T (1 - r^((γ-1)/γ)): cp 1148, γ 1.333, 1200 K, 32.696 to 14.696 psia."""
    ratio = 14.696 / 32.696
    assert turbine_power(1.0, 1200.0, ratio) == pytest.approx(249_457, rel=3e-6)
    assert turbine_power(0.2, 1200.0, ratio) == pytest.approx(49_891, abs=0.51)
    assert turbine_power(0.2, 1200.0, ratio, 0.7) == pytest.approx(34_924, abs=0.51)
    assert turbine_power(0.2, 1200.0, 1.0) == 0.0
