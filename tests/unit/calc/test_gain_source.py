"""Sources of a gain: parts that add up, limits in closed form, and drawn sizes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from shopflow.calc.area_gain import compare_areas
from shopflow.calc.areas import Seat, Valve, least_valve_area
from shopflow.calc.array_types import Floats
from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.cam_gain import compare_over_cams
from shopflow.calc.gain_source import gain_sources, gain_sources_over_cams
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from tests.optional import present
from tests.unit.calc.sessions import CFM, flow_test

DEGREES = np.pi / 180.0
LIFTS = (1e-3, 2e-3, 4e-3, 6e-3, 8e-3, 10e-3, 12e-3)
SMALL = Valve(44e-3, 1, Seat(7e-3, 45 * DEGREES, 2.1e-3, 38e-3))
LARGE = Valve(46e-3, 1, Seat(6e-3, 45 * DEGREES, 1.5e-3, 40e-3))
SIZES = Uncertainties(
    0.012,
    0.004,
    head_diameter=0.02e-3,
    stem_diameter=0.01e-3,
    seat_angle=0.3 * DEGREES,
    seat_width=0.1e-3,
    throat_diameter=0.1e-3,
)
MOTIONS = [ValveMotion(SineSquaredLobe(270.0, lift), 108.0) for lift in (5e-3, 9e-3, 13e-3)]


def flowing(
    valve: Valve,
    coefficient: Callable[[Floats], Floats | float],
    lifts: tuple[float, ...] = LIFTS,
    stated: Uncertainties = SIZES,
) -> Reduction:
    """A test of a port whose coefficient on the least geometric area is this over the lift."""
    test = flow_test(
        valve=valve, lifts=lifts, leakage=0.0, runs=((CFM,),) * len(lifts), uncertainty=stated
    )
    at = np.array(lifts)
    wanted = (
        coefficient(at)
        * valve.count
        * least_valve_area(valve.head_diameter, present(valve.seat), at)
    )
    readings = CFM * wanted / reduce(test).effective_area
    return reduce(replace(test, runs=tuple((reading,) for reading in readings.tolist())))


def falling(lifts: Floats) -> Floats:
    return 0.75 - 18.0 * lifts


def better(lifts: Floats) -> Floats:
    return 0.77 - 12.0 * lifts


def test_parts_add_up_to_the_gain_at_each_lift_and_over_all() -> None:
    before, after = flowing(SMALL, falling), flowing(LARGE, better, LIFTS[1:])
    areas, sources = compare_areas([before], [after]), present(gain_sources(before, after))
    for gain, source in zip(areas.points, sources.points, strict=True):
        assert (source.low, source.high) == (gain.low, gain.high)
        assert source.opening + source.coefficient == pytest.approx(gain.gain, abs=1e-12)
    # The mean's integral is exact there, and by steps here.
    assert sources.mean.gain == pytest.approx(present(areas.mean).gain, abs=2e-6)


def test_parts_add_up_over_each_cam() -> None:
    before, after = flowing(SMALL, falling), flowing(LARGE, better)
    parts = compare_over_cams(before, after, MOTIONS).parts
    sources = gain_sources_over_cams(before, after, MOTIONS)
    for part, source in zip(parts, map(present, sources), strict=True):
        assert source.gain == pytest.approx(part.gain, abs=1e-12)


def test_a_cam_below_the_first_common_lift_has_no_parts() -> None:
    low = ValveMotion(SineSquaredLobe(270.0, 1.5e-3), 108.0)
    before, after = flowing(SMALL, falling, LIFTS[1:]), flowing(LARGE, better, LIFTS[1:])
    below, above = gain_sources_over_cams(before, after, [low, MOTIONS[0]])
    assert below is None
    assert present(above).gain > 0.0


@pytest.mark.source("Geometry: the ratio of least areas by hand, one coefficient for both")
def test_a_wider_opening_alone_is_all_opening() -> None:
    sources = present(gain_sources(flowing(SMALL, falling), flowing(LARGE, falling)))
    for lift, source in zip(LIFTS, sources.points, strict=True):
        small, large = (
            least_valve_area(valve.head_diameter, present(valve.seat), np.array(lift))
            for valve in (SMALL, LARGE)
        )
        assert source.opening == pytest.approx(large / small - 1.0, rel=1e-9)
        assert source.coefficient == pytest.approx(0.0, abs=1e-12)


def test_a_better_coefficient_alone_is_all_coefficient() -> None:
    before, after = flowing(SMALL, falling), flowing(SMALL, lambda lifts: 1.07 * falling(lifts))
    sources = present(gain_sources(before, after))
    over_cams = gain_sources_over_cams(before, after, MOTIONS)
    for source in (*sources.points, sources.mean, *map(present, over_cams)):
        assert source.opening == 0.0
        assert source.opening_uncertainty == 0.0
        assert source.coefficient == pytest.approx(0.07, rel=1e-9)


def test_one_factor_at_every_lift_comes_out_of_a_mean_as_that_factor() -> None:
    """Tested every half millimeter: between tested lifts the curves are no exact products."""
    fine = tuple((np.arange(1, 27) * 0.5e-3).tolist())
    before = flowing(SMALL, falling, fine)
    after = flowing(LARGE, lambda lifts: 1.07 * falling(lifts), fine)
    for source in map(present, gain_sources_over_cams(before, after, MOTIONS)):
        scale = source.gain / np.log1p(source.gain)
        assert source.coefficient / scale == pytest.approx(np.log(1.07), rel=0.01)


@pytest.mark.source("Geometry: off its seat a valve opens with the cosine of the seat's angle")
def test_a_seat_angle_alone_tends_to_the_ratio_of_cosines() -> None:
    def seated(angle: float) -> Valve:
        # The same width along the radius.
        return Valve(44e-3, 1, Seat(7e-3, angle, 1.5e-3 / np.cos(angle), 38e-3))

    before, after = seated(45 * DEGREES), seated(30 * DEGREES)
    ratio = np.cos(30 * DEGREES) / np.cos(45 * DEGREES)
    misses = []
    for lift in (1e-3, 1e-4, 1e-5):
        lifts = (lift, 2.0 * lift)
        sources = present(
            gain_sources(flowing(before, falling, lifts), flowing(after, falling, lifts))
        )
        misses.append(abs(sources.points[0].opening - (ratio - 1.0)))
    assert misses[-1] < 1e-4
    assert all(later < 0.2 * earlier for earlier, later in pairwise(misses))


@pytest.mark.source("JCGM 101:2008: 20 000 draws of the sizes of two valves, each on its own")
def test_uncertainty_of_the_opening_is_that_of_drawn_sizes() -> None:
    """Within 3 %: four standard errors of the spread of so many draws."""
    rng = np.random.default_rng(11)

    def drawn(valve: Valve, lift: float) -> Floats:
        seat, spread = present(valve.seat), rng.standard_normal((5, 20_000))
        sizes = Seat(
            seat.stem_diameter + 0.01e-3 * spread[0],
            seat.angle + 0.3 * DEGREES * spread[1],
            seat.width + 0.1e-3 * spread[2],
            seat.throat_diameter + 0.1e-3 * spread[3],
        )
        return np.asarray(
            least_valve_area(valve.head_diameter + 0.02e-3 * spread[4], sizes, np.array(lift))
        )

    # Another angle, so that no size is common to both.
    other = replace(LARGE, seat=replace(present(LARGE.seat), angle=44 * DEGREES))
    sources = present(gain_sources(flowing(SMALL, falling), flowing(other, falling)))
    for index in (0, 2, 6):
        drawn_logs = np.log(drawn(other, LIFTS[index]) / drawn(SMALL, LIFTS[index]))
        source = sources.points[index]
        scale = source.gain / np.log1p(source.gain)
        stated = present(source.opening_uncertainty)
        assert stated == pytest.approx(2.0 * scale * drawn_logs.std(), rel=0.03)


def test_a_size_measured_once_for_both_tests_adds_nothing() -> None:
    """Only the throat was opened: the valve's own sizes are off by the same in both tests."""
    opened = replace(SMALL, seat=replace(present(SMALL.seat), throat_diameter=39e-3))
    sources = present(gain_sources(flowing(SMALL, falling), flowing(opened, falling)))
    assert sources.points[0].opening_uncertainty == 0.0
    # At high lift the throat limits both: what is left is that of the two throats, by hand.
    first, last = (2 * 0.1e-3 * d / (d**2 - 7e-3**2) for d in (38e-3, 39e-3))
    throats = 2.0 * np.hypot(first, last)
    scale = sources.points[-1].opening / np.log1p(sources.points[-1].opening)
    assert present(sources.points[-1].opening_uncertainty) == pytest.approx(
        scale * throats, rel=2e-3
    )


def test_an_unknown_size_leaves_the_uncertainty_unstated() -> None:
    unknown = replace(SIZES, throat_diameter=None)
    before = flowing(SMALL, falling, stated=unknown)
    sources = present(gain_sources(before, flowing(LARGE, falling, stated=unknown)))
    assert sources.points[0].opening_uncertainty is not None
    assert sources.points[-1].opening_uncertainty is None


def test_nothing_is_split_without_a_seat_a_common_lift_or_one_side() -> None:
    before = flowing(SMALL, falling)
    bare = reduce(replace(before.test, valve=replace(SMALL, seat=None)))
    assert gain_sources(before, bare) is None
    assert gain_sources(bare, before) is None
    assert (
        gain_sources(flowing(SMALL, falling, LIFTS[:2]), flowing(SMALL, falling, LIFTS[4:])) is None
    )
    assert gain_sources(before, reduce(replace(before.test, side="exhaust"))) is None
    assert gain_sources_over_cams(before, bare, MOTIONS) == ()
