"""The narrowest place of a port: published areas, and uncertainties by a reference library."""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, pi, radians

import GTC
import numpy as np
import pytest

from shopflow.calc.areas import Seat, Valve
from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.port_limit import (
    change_over_cam,
    change_over_lift,
    changes_at,
    crossing,
    limits,
)
from shopflow.calc.port_way import PortPlace, Section, Way
from tests.optional import present

SEATS = {angle: Seat(7e-3, radians(angle), 1.5e-3 / cos(radians(angle)), 39e-3)
         for angle in (45, 39, 30)}  # fmt: skip
STANDARD = {
    "head_diameter": 0.025e-3,
    "seat_angle": radians(0.15),
    "seat_width": 0.05e-3,
    "throat_diameter": 0.05e-3,
    "stem_diameter": 0.005e-3,
}
VALVE = Valve(44e-3, 1, SEATS[45])
WAY = Way(VALVE, STANDARD, (Section(1250e-6, 12e-6), Section(1100e-6, 11e-6)))


@pytest.mark.source("Heywood (1988), section 6.3.2, from memory; L2 in closed form, by hand")
@pytest.mark.parametrize(("angle", "lift"), [(45, 10.02791), (39, 9.74258), (30, 9.39393)])
def test_the_throat_takes_over_at_the_second_bound_of_lift(angle: int, lift: float) -> None:
    changeover = present(crossing(Way(replace(VALVE, seat=SEATS[angle]), STANDARD), 13e-3))
    assert changeover.lift * 1e3 == pytest.approx(lift, abs=1e-5)
    assert changeover.passage == 1


@pytest.mark.source("Heywood (1988), section 6.3.2, from memory; derived afresh and by brute force")
def test_the_opening_is_the_least_area_until_something_behind_it_is_less() -> None:
    at = limits(WAY, (1e-3, 2e-3, 3e-3, 5e-3, 8e-3, 12e-3))
    areas = [limit.area * 1e6 for limit in at]
    assert areas[:5] == pytest.approx([92.1898, 186.6011, 283.2338, 508.4202, 890.6741], abs=1e-4)
    assert areas[5] == pytest.approx(1100.0)
    assert [limit.tightest for limit in at] == [0, 0, 0, 0, 0, 3]
    assert at[0].is_shown


@pytest.mark.source("GTC (Measurement Standards Laboratory of New Zealand), linear propagation")
def test_uncertainties_of_opening_and_throat_are_those_of_a_reference_library() -> None:
    sizes = {name: GTC.ureal(value, STANDARD[name]) for name, value in {
        "head_diameter": 44e-3, "seat_angle": radians(45.0),
        "seat_width": 1.5e-3 / cos(radians(45.0)),
        "throat_diameter": 39e-3, "stem_diameter": 7e-3}.items()}  # fmt: skip
    head, angle, width = (sizes[name] for name in ("head_diameter", "seat_angle", "seat_width"))
    w = width * GTC.cos(angle)
    throat = pi / 4.0 * (sizes["throat_diameter"] ** 2 - sizes["stem_diameter"] ** 2)
    for lift in (2e-3, 6e-3):
        if lift < 3e-3:
            opening = (
                pi
                * lift
                * GTC.cos(angle)
                * (head - 2.0 * w + lift * GTC.sin(angle) * GTC.cos(angle))
            )
        else:
            opening = pi * (head - w) * GTC.sqrt((lift - w * GTC.tan(angle)) ** 2 + w**2)
        passages = WAY.over([lift])
        for passage, wanted in zip(passages[:2], (opening, throat), strict=True):
            assert float(passage.areas[0]) == pytest.approx(wanted.x)
            relative = present(passage.relative)
            assert float(relative[0]) == pytest.approx(wanted.u / wanted.x, rel=1e-5)


@pytest.mark.source("GTC, linear propagation of the implicit lift")
def test_the_lift_that_the_throat_takes_over_at_has_the_uncertainty_of_both() -> None:
    changeover = present(crossing(Way(VALVE, STANDARD), 13e-3))
    head, angle, width, bore, stem = (
        GTC.ureal(value, STANDARD[name])
        for name, value in (
            ("head_diameter", 44e-3), ("seat_angle", radians(45.0)),
            ("seat_width", 1.5e-3 / cos(radians(45.0))),
            ("throat_diameter", 39e-3), ("stem_diameter", 7e-3),
        )
    )  # fmt: skip
    w = width * GTC.cos(angle)
    h = (bore**2 - stem**2) / (4.0 * (head - w))
    lift = GTC.sqrt(h**2 - w**2) + w * GTC.tan(angle)
    assert changeover.lift == pytest.approx(lift.x)
    assert changeover.expanded_uncertainty == pytest.approx(2.0 * lift.u, rel=1e-4)


def test_places_within_their_uncertainty_are_rivals() -> None:
    close = replace(WAY, sections=(Section(1150e-6, 12e-6), Section(1140e-6, 12e-6)))
    (at,) = limits(close, [12e-3])
    # Throat 1156.1 mm2: all three within 2 sqrt(2) 1 % of one another.
    assert (at.tightest, at.rivals, at.is_shown) == (3, (1, 2), False)


def test_one_edge_is_wider_by_just_more_than_the_uncertainty() -> None:
    doubt = 2.0 * hypot(0.01, 0.01)
    for factor, rivals in ((1.0001, ()), (0.9999, (2,))):
        wider = 900e-6 * np.exp(doubt * factor)
        way = Way(VALVE, STANDARD, (Section(wider, 0.01 * wider), Section(900e-6, 9e-6)))
        (at,) = limits(way, [12e-3])
        assert at.rivals == rivals


def test_an_uncertainty_that_is_not_stated_tests_nothing() -> None:
    way = replace(WAY, standard={**STANDARD, "seat_width": None}, sections=(Section(900e-6),))
    assert way.unstated == ("seat_width", "port_area")
    low, high = limits(way, (1e-3, 12e-3))
    assert (low.untested, low.is_shown) == ((1, 2), False)
    assert (high.tightest, high.untested) == (2, (0, 1))
    assert present(crossing(way, 12e-3)).expanded_uncertainty is None


def test_stated_zero_is_a_statement() -> None:
    way = Way(VALVE, dict.fromkeys(STANDARD, 0.0), (Section(1156e-6, 0.0),))
    (at,) = limits(way, [12e-3])
    assert at.is_shown
    assert WAY.passages(np.array([1e-3]))[0].place is PortPlace.OPENING


def test_without_anything_tighter_there_is_no_crossing() -> None:
    assert crossing(WAY, 5e-3) is None


def test_two_valves_open_twice_the_area_before_one_section() -> None:
    two = Way(replace(VALVE, count=2), STANDARD, (Section(1250e-6, 1e-6),))
    assert [limit.area for limit in limits(two, (5e-3, 12e-3))] == pytest.approx(
        [2.0 * 508.4202e-6, 1250e-6]
    )


def test_a_size_changed_on_paper_changes_the_area_it_limits_and_no_other() -> None:
    wider = replace(WAY, sections=(WAY.sections[0], Section(1210e-6)))
    changes = changes_at(WAY, wider, (5e-3, 12e-3))
    # At 12 mm the throat is next, 1156.1 mm2.
    assert changes == pytest.approx((0.0, 1156.1061 / 1100.0 - 1.0), abs=1e-6)
    shallow = replace(WAY, valve=replace(VALVE, seat=SEATS[30]))
    (low,) = changes_at(WAY, shallow, [1e-6])
    assert low == pytest.approx(cos(radians(30.0)) / cos(radians(45.0)) - 1.0, rel=1e-3)


@pytest.mark.source("closed form: means of 1 − cos and of its tenth greater")
def test_means_over_lift_and_cam_of_a_section_that_limits_all_the_way() -> None:
    tiny = Way(VALVE, STANDARD, (Section(1e-9),)), Way(VALVE, STANDARD, (Section(1.1e-9),))
    motion = ValveMotion(SineSquaredLobe(270.0, 12e-3), 108.0)
    assert change_over_lift(*tiny, 12e-3) == pytest.approx(0.1)
    assert change_over_cam(*tiny, motion) == pytest.approx(0.1, rel=1e-4)
    # Between both: less over the cam, which dwells at high lift, than where the throat is all.
    wide = Way(VALVE, STANDARD, (Section(900e-6),)), Way(VALVE, STANDARD, (Section(990e-6),))
    assert 0.0 < change_over_lift(*wide, 12e-3) < change_over_cam(*wide, motion) < 0.1


def test_geometry_is_the_same_at_any_scale() -> None:
    seat = VALVE.seat
    assert seat is not None
    twice = Way(
        Valve(88e-3, 1, Seat(14e-3, seat.angle, 2.0 * float(seat.width), 78e-3)),
        {name: value * (1.0 if name == "seat_angle" else 2.0) for name, value in STANDARD.items()},
        tuple(Section(4.0 * part.area, 4.0 * (part.standard or 0.0)) for part in WAY.sections),
    )
    first, second = present(crossing(WAY, 13e-3)), present(crossing(twice, 26e-3))
    assert second.lift == pytest.approx(2.0 * first.lift)
    assert second.expanded_uncertainty == pytest.approx(
        2.0 * present(first.expanded_uncertainty), rel=1e-5
    )
