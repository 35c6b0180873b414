"""Limits of ISO 5167 for an element, and a flow of zero."""

from __future__ import annotations

import math

import GTC
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from shopflow.calc.iso5167 import (
    coefficient_uncertainty,
    element_uncertainty,
    outside_standard,
)
from shopflow.calc.metering import (
    ElementKind,
    MeteredAir,
    OwnElement,
    StandardElement,
    air_viscosity,
    expansibility,
    mass_flow,
    pipe_reynolds,
)

AIR = MeteredAir(101325.0, 293.15, 1.204118)
CORNER, FLANGE, RADIUS, ISA, LONG, _ = ElementKind

# ISO 5167-2:2003, 5.3.1 and ISO 5167-3:2003, 5.1.6.1 and 5.2.6.1 (values from memory): kind, bore
# and pipe in mm, Reynolds number, and what is said where it is outside; "" at the very limit.
LIMITS = [
    (CORNER, 25.0, 50.0, 5000, ""),
    (CORNER, 24.95, 49.9, 1e5, "the pipe, 49.9 mm, is outside the sizes ISO 5167 covers"),
    (CORNER, 500.0, 1000.0, 5000, ""),
    (CORNER, 500.5, 1001.0, 1e5, "the pipe, 1001.0 mm, is outside the sizes ISO 5167 covers"),
    (ISA, 250.0, 500.0, 2e4, ""),
    (ISA, 300.0, 501.0, 1e5, "the pipe, 501.0 mm, is outside the sizes ISO 5167 covers"),
    (LONG, 315.0, 630.0, 1e4, ""),
    (LONG, 315.0, 631.0, 1e5, "the pipe, 631.0 mm, is outside the sizes ISO 5167 covers"),
    (RADIUS, 75.0, 100.0, 1e5, ""),
    (RADIUS, 76.0, 100.0, 1e5,
     "the diameter ratio, 0.760, is outside 0.1 to 0.75, which ISO 5167 covers"),
    (FLANGE, 50.0, 500.0, 1e5, ""),
    (FLANGE, 45.0, 500.0, 1e5,
     "the diameter ratio, 0.090, is outside 0.1 to 0.75, which ISO 5167 covers"),
    (ISA, 29.0, 100.0, 1e5,
     "the diameter ratio, 0.290, is outside 0.3 to 0.8, which ISO 5167 covers"),
    (LONG, 19.0, 100.0, 1e5,
     "the diameter ratio, 0.190, is outside 0.2 to 0.8, which ISO 5167 covers"),
    (LONG, 81.0, 100.0, 1e5,
     "the diameter ratio, 0.810, is outside 0.2 to 0.8, which ISO 5167 covers"),
    (CORNER, 12.5, 100.0, 5000, ""),
    (CORNER, 12.0, 100.0, 5000, "the bore, 12.0 mm, is below the 12.5 mm of ISO 5167"),
    (LONG, 12.0, 50.0, 1e4, ""),
    (CORNER, 50.0, 100.0, 4999, "4999, is below the 5000 of ISO 5167"),
    (CORNER, 70.0, 100.0, 7000, "7000, is below the 7840 of ISO 5167"),
    (RADIUS, 60.0, 100.0, 5000, "5000, is below the 5760 of ISO 5167"),
    (FLANGE, 60.0, 100.0, 6000, "6000, is below the 6120 of ISO 5167"),
    (ISA, 40.0, 100.0, 6e4, "60000, is below the 70000 of ISO 5167"),
    (ISA, 60.0, 100.0, 19e3, "19000, is below the 20000 of ISO 5167"),
    (LONG, 60.0, 100.0, 9e3, "9000, is below the 10000 of ISO 5167"),
]  # fmt: skip


def flow_of(reynolds: float, element: StandardElement) -> float:
    """Mass flow of a Reynolds number of the pipe, by hand; a breath above it."""
    viscosity = float(air_viscosity(AIR.temperature))
    return reynolds * (1 + 1e-12) * math.pi * element.pipe_diameter * viscosity / 4


@pytest.mark.source("ISO 5167-2:2003, 5.3.1 and ISO 5167-3:2003, 5.1.6.1, 5.2.6.1 (from memory)")
@pytest.mark.parametrize(("kind", "bore", "pipe", "reynolds", "words"), LIMITS)
def test_what_lies_outside_the_standard_is_said(
    kind: ElementKind, bore: float, pipe: float, reynolds: float, words: str
) -> None:
    element = StandardElement(kind, bore / 1e3, pipe / 1e3)
    output = list(outside_standard(element, flow_of(reynolds, element), AIR))
    assert len(output) == bool(words)
    for text in output:
        assert text.endswith(words)
        assert text.startswith(("the ", "the Reynolds number at the smallest reading, "))


def test_the_reynolds_number_is_named_with_the_reading_it_is_of() -> None:
    element = StandardElement(LONG, 0.06, 0.1)
    output = list(outside_standard(element, flow_of(9000.0, element), AIR))
    assert output == [
        "the Reynolds number at the smallest reading, 9000, is below the 10000 of ISO 5167"
    ]


def test_an_element_of_the_shop_s_own_is_outside_nothing() -> None:
    assert list(outside_standard(OwnElement(0.6, 1e-3), 1.0, AIR)) == []


@pytest.mark.source("ISO 5167-2, 5.3.3.1; ISO 5167-3, 5.1.7.1, 5.2.7.1 (from memory); k = 2")
@pytest.mark.parametrize(
    ("kind", "ratio", "percent"),
    [
        (CORNER, 0.10, 0.6), (CORNER, 0.15, 0.55), (FLANGE, 0.20, 0.5), (RADIUS, 0.60, 0.5),
        (CORNER, 0.70, 0.6669), (CORNER, 0.05, 0.6), (RADIUS, 0.80, 0.75025),
        (ISA, 0.50, 0.8), (ISA, 0.60, 0.8), (ISA, 0.70, 1.0), (LONG, 0.30, 2.0), (LONG, 0.70, 2.0),
    ],
)  # fmt: skip
def test_what_the_standard_says_of_its_coefficients(
    kind: ElementKind, ratio: float, percent: float
) -> None:
    element = StandardElement(kind, ratio * 0.1, 0.1)
    assert coefficient_uncertainty(element, 1e5) == pytest.approx(percent / 200, rel=1e-9)


@pytest.mark.source("ISO 5167-2, 5.3.3.1 (seen): +0.9(0.75 - beta)(2.8 - D/25.4) % below 71.12 mm")
@pytest.mark.parametrize(
    ("ratio", "pipe", "reynolds", "percent"),
    [
        (0.50, 50.80, 2e4, 0.5 + 0.9 * 0.25 * 0.8),
        (0.50, 71.12, 2e4, 0.5),
        (0.75, 50.80, 2e4, 0.75025),
        (0.20, 63.50, 2e4, 0.5 + 0.9 * 0.55 * 0.3),
        (0.55, 100.0, 9_999, 0.5 + 0.5),
        (0.55, 100.0, 10_000, 0.5),
        (0.50, 100.0, 9_999, 0.5),
        (0.60, 50.80, 8_000, 0.5 + 0.9 * 0.15 * 0.8 + 0.5),
    ],
)
def test_small_pipes_and_low_reynolds_numbers_add_their_terms(
    ratio: float, pipe: float, reynolds: float, percent: float
) -> None:
    element = StandardElement(CORNER, ratio * pipe / 1e3, pipe / 1e3)
    assert 200.0 * coefficient_uncertainty(element, reynolds) == pytest.approx(percent, rel=1e-9)
    nozzle = StandardElement(LONG, ratio * pipe / 1e3, pipe / 1e3)
    assert 200.0 * coefficient_uncertainty(nozzle, reynolds) == pytest.approx(2.0)


@pytest.mark.source("GTC, of d^2/sqrt(1 - (d/D)^4) with 0.07 % and 0.4 % at 95 %")
@pytest.mark.parametrize("ratio", [0.3, 0.5, 0.7])
def test_the_bores_bring_what_gtc_propagates(ratio: float) -> None:
    bore, pipe = GTC.ureal(ratio, ratio * 0.00035), GTC.ureal(1.0, 0.002)
    factor = bore**2 / GTC.sqrt(1 - (bore / pipe) ** 4)
    share = GTC.uncertainty(factor) / GTC.value(factor)
    element = StandardElement(CORNER, ratio * 0.1, 0.1)
    answer = element_uncertainty(element, 100.0, 1500.0, AIR)
    assert answer.diameters == pytest.approx(share, rel=1e-6)


def test_the_expansion_is_known_least_at_the_largest_difference() -> None:
    """3.5 dp/(kappa p1) % for a plate, 2 dp/p1 % for a nozzle, both at 95 %."""
    for kind, factor in ((CORNER, 3.5 / 1.4), (ISA, 2.0), (LONG, 2.0)):
        element = StandardElement(kind, 0.06, 0.1)
        answer = element_uncertainty(element, 100.0, 5000.0, AIR)
        assert 200 * answer.expansion == pytest.approx(factor * 5000.0 / 101325.0, rel=1e-3)
    own = element_uncertainty(OwnElement(0.6, 1e-3), 100.0, 5000.0, AIR)
    assert (own.coefficient, own.diameters, own.expansion) == (0.0, 0.0, 0.0)


@pytest.mark.source("Bernoulli's equation, by hand: C A sqrt(2 Δp ρ)")
def test_an_element_of_the_shop_s_own_is_bernoulli_s_with_its_coefficient() -> None:
    answer = mass_flow(OwnElement(0.62, 1e-3), 1500.0, AIR)
    assert answer == pytest.approx(0.62e-3 * math.sqrt(2 * 1500 * 1.204118), rel=1e-12)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("kind", [CORNER, FLANGE, RADIUS, ISA, LONG])
def test_nothing_flows_across_no_difference(kind: ElementKind) -> None:
    element = StandardElement(kind, 0.06, 0.1)
    assert float(expansibility(element, 0.0)) == 1.0
    answer = mass_flow(element, np.array([0.0, 1500.0]), AIR)
    assert answer[0] == 0.0
    assert answer[1] == pytest.approx(float(mass_flow(element, 1500.0, AIR)), rel=1e-14)


def test_the_reynolds_number_of_nothing_is_one() -> None:
    assert pipe_reynolds(0.0, 0.1, 1.8e-5) == 1.0
    assert pipe_reynolds(0.11, 0.1, 1.8e-5) == pytest.approx(4 * 0.11 / (math.pi * 1.8e-6))


@pytest.mark.source("CoolProp, viscosity of air: 21.90 µPa s at 100 °C")
@pytest.mark.parametrize("celsius", [0.0, 20.0, 40.0, 100.0])
def test_the_viscosity_of_cold_and_hot_air(celsius: float) -> None:
    """Within 1 %, which moves a nozzle's coefficient by less than a ten-thousandth."""
    by_library = PropsSI("V", "T", celsius + 273.15, "P", 101325.0, "Air")
    assert air_viscosity(celsius + 273.15) == pytest.approx(by_library, rel=1e-2)
