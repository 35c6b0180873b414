"""Swirl and tumble: closed forms, SciPy's integrals, published ranges, and draws of known truth."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator

from shopflow.calc.cam import SineSquaredLobe, ValveMotion
from shopflow.calc.estimates import Input
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.swirl import SwirlMeter, SwirlTest
from shopflow.calc.swirl_change import SwirlVerdict, swirl_change
from shopflow.calc.swirl_ratio import SwirlEngine, swirl_ratios
from shopflow.calc.swirl_results import BY_LIFT
from shopflow.calc.uncertainty import Uncertainties
from tests.optional import present
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test

BORE = 0.086
MOTION = ValveMotion(SineSquaredLobe(260.0, 11e-3), 110.0)
"""Opens 20 degrees before the top and shuts 60 after the bottom."""


def a_flow(**changes: Any) -> Reduction:
    return reduce(flow_test(divisions=(0.5 * CFM,) * 7, gauge="gauge", **changes))


def a_test(readings: list[Any], is_torque: bool = True, **changes: Any) -> SwirlTest:
    """Readings at every lift of the flow test, one run each unless given as lists."""
    flow = changes.pop("flow", None) or a_flow()
    pressure = changes.pop("pressure", flow.test.test_pressure)
    meter = SwirlMeter(is_torque, BORE, **changes)
    runs = tuple(tuple(np.atleast_1d(row).tolist()) for row in readings)
    return SwirlTest(flow, meter, flow.lifts, runs, pressure)


def solid_body(omega: float, mass_flow: float) -> float:
    """Torque of a honeycomb that stops air turning as a solid body, summed over rings by SciPy."""
    radius = BORE / 2.0
    flux = mass_flow / (pi * radius**2)
    torque, _ = quad(lambda r: flux * omega * r * r * 2.0 * pi * r, 0.0, radius)
    return float(torque)


@pytest.mark.source("angular momentum of solid-body rotation, integrated over rings by SciPy")
def test_solid_body_rotation_gives_one_coefficient_by_torque_and_by_vane() -> None:
    omega = 420.0
    vane = a_test([omega] * 7, is_torque=False)
    torque = a_test([solid_body(omega, flow) for flow in vane.mass_flows.tolist()])
    assert torque.indicated == pytest.approx(vane.indicated, rel=1e-9)
    assert vane.momentum_fluxes == pytest.approx(torque.readings, rel=1e-9)
    speeds = 8.0 * torque.momentum_per_mass / BORE**2
    assert speeds == pytest.approx([omega] * 7, rel=1e-9)


@pytest.mark.source("Heywood (1988), section 8.3.2: N = ωB/V0 = 8T/(mV0B), from memory; by hand")
def test_coefficient_of_a_vane_wheel_by_hand() -> None:
    """At 28 inH2O numbers.md has 108.9997 m/s in the throat, of air at 20 °C (R 287.05)."""
    flow = a_flow(test_pressure=28 * INCH_OF_WATER)
    answer = a_test([500.0] * 7, is_torque=False, flow=flow)
    assert answer.velocity == pytest.approx(108.9997, rel=3e-4)
    assert answer.indicated[0] == pytest.approx(500.0 * BORE / 108.9997, rel=3e-4)


@pytest.mark.source("moment of a jet: T = m v r cos(inclination), by hand; Heim and Ghandhi (2011)")
def test_a_jet_from_an_offset_inclined_tube() -> None:
    """The known swirl of Heim and Ghandhi: linear in the offset times the inclination's cosine."""
    plain = a_test([0.0] * 7)
    velocity = plain.velocity
    for offset, degrees in ((0.02, 30.0), (0.03, 60.0), (0.01, 0.0)):
        arm = offset * np.cos(np.radians(degrees))
        answer = a_test((plain.mass_flows * velocity * arm).tolist())
        assert answer.momentum_per_mass == pytest.approx(np.full(7, velocity * arm), rel=1e-9)
        assert answer.indicated == pytest.approx(np.full(7, 8.0 * arm / BORE), rel=1e-9)


@pytest.mark.source(
    "Heim and Ghandhi, Proc. IMechE D 225 (2011) 1067, abstract: 0.70 to 0.93, vane 0.32 to 0.45"
)
def test_efficiency_brings_both_kinds_of_meter_to_the_same_coefficient() -> None:
    """A vane wheel shows 0.34 to 0.64 of what a torque meter shows, by the published ranges."""
    truth = 400.0
    flows = a_test([0.0] * 7).mass_flows.tolist()
    low, high = SwirlMeter(False, BORE).efficiencies
    least, greatest = SwirlMeter(True, BORE).efficiencies
    ratios = []
    for of_vane, of_torque in ((low, greatest), (high, least), (0.38, 0.8)):
        vane = a_test([of_vane * truth] * 7, is_torque=False, efficiency=of_vane)
        torque = a_test(
            [of_torque * solid_body(truth, flow) for flow in flows], efficiency=of_torque
        )
        assert vane.coefficients == pytest.approx(present(torque.coefficients), rel=1e-9)
        ratios.append(vane.indicated[0] / torque.indicated[0])
    assert ratios[:2] == pytest.approx([0.344, 0.643], abs=1e-3)


def test_without_an_efficiency_only_what_is_indicated_is_given() -> None:
    answer = a_test([1e-3] * 7, division=1e-5)
    assert answer.coefficients is None
    assert answer.expanded() is None
    assert present(answer.expanded(is_corrected=False)).min() > 0.0
    assert swirl_ratios(answer, SwirlEngine(MOTION, 0.0864)).is_corrected is False


def test_the_lift_below_which_the_air_turns_back() -> None:
    answer = a_test([-200.0, -100.0, 100.0, 200, 300, 400, 450], is_torque=False)
    assert answer.reverses_below == pytest.approx(4e-3)
    assert a_test([1.0, 2, 3, 4, 5, 6, 7]).reverses_below is None
    other = a_test([200.0, 100.0, -100.0, -200, -300, -400, -450], is_torque=False)
    assert other.reverses_below == pytest.approx(4e-3)


@pytest.mark.source("constant coefficient and area: R = B S N/(4 A) · π/Δα, by hand")
def test_constant_area_and_coefficient_give_the_closed_form() -> None:
    """Lifts so low that the valve is beyond them all the time: area and coefficient are held."""
    lifts = tuple(lift * 1e-6 for lift in (1, 2, 3, 4, 5, 6, 7))
    runs = ((150 * CFM, 150.4 * CFM),) * 7
    flow = a_flow(lifts=lifts, runs=runs, leakage=0.0, uncertainty=Uncertainties(0.01, 0.005))
    answer = a_test([300.0] * 7, is_torque=False, flow=flow)
    area, coefficient = float(flow.effective_area[-1]), float(answer.indicated[-1])
    ratios = swirl_ratios(answer, SwirlEngine(MOTION, 0.09, 1000.0))
    of_stroke = BORE * 0.09 * coefficient / (4.0 * area)
    assert ratios.over_cam.value == pytest.approx(of_stroke * 180.0 / 260.0, rel=5e-3)
    # A rod without end: c = cm π/2 sin α, so that the mean of (c/cm)² over π is π²/8.
    assert present(ratios.by_piston).value == pytest.approx(of_stroke * pi**2 / 8.0, rel=1e-4)


@pytest.mark.source("SciPy: PchipInterpolator and quad over the open period, written independently")
@pytest.mark.parametrize("is_torque", [True, False])
def test_ratios_over_the_cam_are_those_of_scipy(is_torque: bool) -> None:
    flow = a_flow()
    spin = np.array([-40.0, 60, 180, 300, 380, 420, 430])
    areas, stroke, rod = flow.effective_area, 0.0864, 0.143
    readings = spin
    if is_torque:
        readings = a_test([0.0] * 7).mass_flows * spin * BORE**2 / 8.0
    answer = a_test(readings.tolist(), is_torque=is_torque, efficiency=0.8)
    area = PchipInterpolator(np.r_[0.0, flow.lifts], np.r_[0.0, areas])
    coefficient = spin * BORE / answer.velocity / 0.8
    product = PchipInterpolator(np.r_[0.0, flow.lifts], np.r_[0.0, areas * coefficient])

    def lift(angle: float) -> float:
        return float(11e-3 * np.sin(pi * (angle + 20.0) / 260.0) ** 2)

    def over(figure: Any, low: float, high: float) -> float:
        knots = [low, 0.0, 110.0, 180.0, high]
        pairs = pairwise(knots)
        return float(sum(quad(figure, *pair, limit=200)[0] for pair in pairs) * pi / 180.0)

    turned = over(lambda angle: product(lift(angle)), -20.0, 240.0)
    flowed = over(lambda angle: area(lift(angle)), -20.0, 240.0)
    ratios = swirl_ratios(answer, SwirlEngine(MOTION, stroke, rod))
    wanted = pi / 4.0 * BORE * stroke * turned / flowed**2
    assert ratios.over_cam.value == pytest.approx(wanted, rel=2e-5)

    def at_speed(angle: float) -> float:
        turn, r = np.radians(angle), stroke / 2.0
        along = r * np.sin(turn)
        speed = along * (1.0 + r * np.cos(turn) / sqrt(rod**2 - along**2)) * pi / stroke
        return float(product(lift(angle)) * BORE * stroke / (4 * area(lift(angle)) ** 2) * speed**2)

    by_piston = quad(at_speed, 0.0, 180.0, limit=500)[0] / 180.0
    assert present(ratios.by_piston).value == pytest.approx(by_piston, rel=2e-5)


def test_a_ratio_by_piston_speed_wants_a_rod_and_an_open_valve() -> None:
    answer = a_test([300.0] * 7, is_torque=False)
    assert swirl_ratios(answer, SwirlEngine(MOTION, 0.09)).by_piston is None
    late = ValveMotion(SineSquaredLobe(200.0, 9e-3), 110.0)
    assert swirl_ratios(answer, SwirlEngine(late, 0.09, 0.15)).by_piston is None


@pytest.mark.source("JCGM 101:2008: draws of every input from a known truth")
@pytest.mark.parametrize("is_torque", [True, False])
def test_stated_uncertainty_covers_the_truth(is_torque: bool) -> None:
    """Over draws of scatter, division, efficiency, pressure, density and areas: 92 to 98 %."""
    flow = a_flow(uncertainty=Uncertainties(0.012, 0.005, 0.004, density=0.006))
    spin = np.array([-60.0, 80, 180, 300, 380, 420, 430])
    truth = spin if not is_torque else a_test([0.0] * 7).mass_flows * spin * BORE**2 / 8.0
    division = 0.02 * float(np.abs(truth).max())
    scatter, efficiency = 0.5 * division, 0.8
    exact = a_test((efficiency * truth).tolist(), is_torque, efficiency=efficiency, flow=flow)
    engine = SwirlEngine(MOTION, 0.0864)
    true_ratio = swirl_ratios(exact, engine).over_cam.value
    rng = np.random.default_rng(11)
    hits = np.zeros(8)
    draws = 300
    for _ in range(draws):
        errors = flow.area_errors
        relative = np.zeros(7)
        drawn = {name: rng.standard_normal() for name in errors.relative}
        for name, effect in errors.relative.items():
            own = name in (Input.RUNS, Input.RESOLUTION)
            relative += effect * (rng.standard_normal(7) if own else drawn[name])
        moved = replace(flow, effective_area=flow.effective_area * (1.0 + relative))
        true_efficiency = efficiency * (1.0 + 0.05 * rng.standard_normal())
        # What the meter shows is read at a pressure and density that are off as the flow's are.
        off_pressure = drawn[Input.PRESSURE] * 0.004
        off_density = 0.006 * rng.standard_normal()
        shown = true_efficiency * truth * (1.0 - (1.0 if is_torque else 0.5) * -off_pressure)
        if not is_torque:
            shown = shown * (1.0 - 0.5 * off_density)
        runs = shown[:, np.newaxis] + scatter * rng.standard_normal((7, 3))
        runs = np.round(runs / division) * division
        test = a_test(
            runs.tolist(),
            is_torque,
            flow=moved,
            efficiency=efficiency,
            efficiency_uncertainty=0.05,
            division=division,
        )
        ratio = swirl_ratios(test, engine).over_cam
        calculated = np.append(present(test.coefficients), ratio.value)
        margins = np.append(present(test.expanded()), present(ratio.expanded))
        wanted = np.append(present(exact.coefficients), true_ratio)
        hits += np.abs(calculated - wanted) <= margins
    assert (hits / draws > 0.92).all(), hits / draws
    assert hits.mean() / draws < 0.985, hits / draws


def test_the_same_head_is_seldom_called_different_and_a_tenth_more_is_seen() -> None:
    flow = a_flow()
    spin = np.array([60.0, 120, 180, 300, 380, 420, 430])
    rng = np.random.default_rng(5)
    called = {1.0: 0, 1.1: 0}
    draws = 150
    for gain in called:
        for _ in range(draws):
            pair = [
                a_test(
                    (
                        np.round((size * spin[:, np.newaxis] + 4 * rng.standard_normal((7, 2))) / 5)
                        * 5
                    ).tolist(),
                    is_torque=False,
                    flow=flow,
                    division=5.0,
                    efficiency=0.4,
                    efficiency_uncertainty=0.05,
                    key="meter",
                )
                for size in (1.0, gain)
            ]
            verdict = present(swirl_change(*pair)).verdict
            called[gain] += verdict in (SwirlVerdict.MORE, SwirlVerdict.LESS)
    assert called[1.0] / draws <= 0.08
    assert called[1.1] / draws >= 0.8


def test_one_meter_shares_its_efficiency_and_another_does_not() -> None:
    def pair(key: str | None) -> list[SwirlTest]:
        kept = {"division": 5.0, "efficiency": 0.4, "efficiency_uncertainty": 0.05, "key": key}
        spins = ([100.0, 200, 300, 400, 500, 500, 500], [110.0, 220, 330, 440, 550, 550, 550])
        return [a_test(list(spin), is_torque=False, **kept) for spin in spins]

    shared = present(swirl_change(*pair("meter")))
    apart = present(swirl_change(*pair(None)))
    assert present(shared.expanded)[-1] < 0.5 * present(apart.expanded)[-1]
    assert shared.verdict is SwirlVerdict.MORE
    assert apart.verdict is SwirlVerdict.NO_DIFFERENCE


def test_nothing_known_of_the_readings_gives_no_verdict() -> None:
    first, last = a_test([1.0] * 7), a_test([2.0] * 7)
    answer = present(swirl_change(first, last))
    assert answer.expanded is None
    assert answer.verdict is SwirlVerdict.NOT_STATED


def test_every_result_has_a_name_a_formula_and_a_source() -> None:
    answer = a_test([1e-3, 2e-3, 3e-3, 4e-3, 5e-3, 6e-3, 7e-3], efficiency=0.8)
    assert len({row.key for row in BY_LIFT}) == len(BY_LIFT)
    for row in BY_LIFT:
        assert all(map(str, (row.name, row.formula, row.source)))
        assert len(present(row.values(answer))) == 7
