"""One demo session's budget followed by hand: from what was typed to what the certificate says.

The Sceptre's intake after its seats were cut, cylinder 5, at 8 mm: three runs, read with a pencil.
No formula of the program is used on the way.
"""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pymupdf
import pytest

from shopflow.calc.components import Component, budget_at
from shopflow.calc.reduction import Reduction, reduce
from shopflow.sessionfile import read
from tests.demo_shop import DemoShop

FILE = Path(__file__).parents[2] / "seed_data" / "sessions" / "07-sceptre-intake-seats.toml"
SERIAL = "SC3-20771"
PLACE = 7
CFM = 0.3048**3 / 60

# As typed: cfm, inches of water, mm.
RUNS = (105.5, 106.0, 106.5)
LEAKAGE, FACTOR = 0.5, 1.012
TESTED_AT, STATED_AT = 15.0, 28.0
BEFORE, AFTER = (97.5, 97.0, 97.0), (112.0, 112.0, 113.0)
"""At 7 and at 9 mm, for the slope of the curve."""

MEAN = (105.5 + 106.0 + 106.5) / 3
CORRECTED = FACTOR * (MEAN - LEAKAGE)
RESTATED = math.sqrt(STATED_AT / TESTED_AT)
FLOW = CORRECTED * RESTATED

SPREAD = math.sqrt(((105.5 - MEAN) ** 2 + (106.0 - MEAN) ** 2 + (106.5 - MEAN) ** 2) / 2)
BY_RUNS = SPREAD / math.sqrt(3) / (MEAN - LEAKAGE)
BY_CALIBRATION = 0.014 / 2
BY_PRESSURE = 0.005 / 2
RISE = FACTOR * RESTATED * (sum(AFTER) / 3 - sum(BEFORE) / 3) / (9.0 - 7.0)
BY_LIFT = RISE * 0.02 / FLOW
COMBINED = math.sqrt(BY_RUNS**2 + BY_CALIBRATION**2 + BY_PRESSURE**2 + BY_LIFT**2)
EXPANDED = 2 * COMBINED * FLOW


@pytest.fixture
def found() -> Reduction:
    return reduce(read(FILE).flow_test())


@pytest.mark.source(
    "JCGM 100:2008, 8 (summary of procedure), in plain arithmetic from the readings"
)
def test_the_arithmetic_reaches_the_figures_that_a_pencil_does() -> None:
    """Worked out with four figures beside: 106.0, 106.8, 145.9 cfm; 0.27, 0.70, 0.25, 0.14 %."""
    assert (MEAN, SPREAD) == (106.0, 0.5)
    assert pytest.approx(106.766, abs=5e-4) == CORRECTED
    assert pytest.approx(145.8701, abs=6e-5) == FLOW
    parts = [100 * part for part in (BY_RUNS, BY_CALIBRATION, BY_PRESSURE, BY_LIFT)]
    assert parts == pytest.approx([0.2736, 0.7000, 0.2500, 0.1438], abs=6e-5)
    assert pytest.approx(2.3485, abs=6e-5) == EXPANDED


@pytest.mark.source("Plain arithmetic from a demo session's readings, by hand")
def test_the_reduction_finds_the_same(found: Reduction) -> None:
    point, budget = found.points[PLACE], found.budget
    assert (point.lift, point.runs) == (pytest.approx(8e-3), 3)
    assert point.flow == pytest.approx(FLOW * CFM, rel=1e-12)
    parts = (budget.runs, budget.calibration, budget.pressure, budget.lift, budget.element)
    by_hand = (BY_RUNS, BY_CALIBRATION, BY_PRESSURE, BY_LIFT, 0.0)
    assert [float(part[PLACE]) for part in parts] == pytest.approx(by_hand, rel=1e-11)
    assert point.flow_expanded_uncertainty == pytest.approx(EXPANDED * CFM, rel=1e-11)


def figures(component: Component) -> tuple[float, float, float, float]:
    standard, sensitivity, freedom = component.standard, component.sensitivity, component.freedom
    return standard, sensitivity, component.contribution, freedom


def like(*line: float) -> object:
    """A line of the budget: standard uncertainty, sensitivity, contribution, freedom."""
    return pytest.approx(line, rel=1e-11)


@pytest.mark.source("JCGM 100:2008, annex H: the budget line by line, in plain arithmetic")
def test_the_budget_is_laid_out_as_a_pencil_would(found: Reduction) -> None:
    """Each line's input, what the flow makes of it (m3/s), and its degrees of freedom."""
    budget = budget_at(found, PLACE)
    assert (budget.lift, budget.flow) == (pytest.approx(8e-3), pytest.approx(FLOW * CFM))
    runs, calibration, pressure, lift = budget.components
    flow, per_reading, rise = FLOW * CFM, FACTOR * RESTATED, RISE * CFM * 1000
    spread = SPREAD / math.sqrt(3) * CFM
    assert figures(runs) == like(spread, per_reading, spread * per_reading, 2)
    assert figures(calibration) == like(0.007, flow, 0.007 * flow, math.inf)
    assert figures(pressure) == like(0.005, flow / 2, 0.0025 * flow, math.inf)
    assert figures(lift) == like(2e-5, rise, 2e-5 * rise, math.inf)
    assert [(line.name, line.kind, line.measure) for line in budget.components] == [
        ("Mean of the runs", "A", "flow"),
        ("Calibration", "B", "ratio"),
        ("Test pressure", "B", "ratio"),
        ("Lift setting", "B", "lift"),
    ]


@pytest.mark.source(
    "Plain arithmetic: one run of 80 litres a second with a meter's warmer air, by hand"
)
def test_one_run_through_a_standard_element_is_laid_out_too(found: Reduction) -> None:
    """0.5 % of a reading of kind B; the element's quarter percent comes last."""
    stated = dataclasses.replace(found.test.uncertainty, repeatability=0.005, element=0.0025)
    test = dataclasses.replace(
        found.test, lifts=(5e-3,), runs=((0.080,),), leakage=0.0, air_correction=0.97,
        uncertainty=stated,
    )  # fmt: skip
    one, *_, element = budget_at(reduce(test), 0).components
    per_reading = FACTOR * 0.97 * RESTATED
    assert figures(one) == like(0.0004, per_reading, 0.0004 * per_reading, math.inf)
    assert (one.name, one.kind, one.measure) == ("One run, as stated", "B", "flow")
    flow = 0.080 * per_reading
    assert figures(element) == like(0.0025, flow, 0.0025 * flow, math.inf)
    assert (element.kind, element.measure) == ("B", "ratio")


@pytest.mark.source("Plain arithmetic from a demo session's readings, by hand, against its paper")
def test_the_certificate_of_that_job_says_so(demo_shop: DemoShop) -> None:
    """Lift in inches, L/D, runs, flow, U, and further on the velocity in ft/s through 1210 mm2."""
    velocity = FLOW * CFM / 1210e-6 / 0.3048
    row = f"{8 / 25.4:.3f} {8 / 44.5:.3f} 3 {FLOW:.1f} {EXPANDED:.1f} "
    assert row == "0.315 0.180 3 145.9 2.3 "
    text = certificate_of(demo_shop, SERIAL)
    assert row in text
    assert f"{velocity:.1f}" in text.partition(row)[2].split()[:5]


def certificate_of(shop: DemoShop, serial: str) -> str:
    """The words of the flow certificate that carries a serial number, on one line."""
    for path in sorted((shop.folder / "papers").glob("flow-certificate-*.pdf")):
        with pymupdf.open(path) as pdf:
            text = " ".join(" ".join(page.get_text() for page in pdf).split())
        if serial in text:
            return text
    pytest.fail(f"no certificate carries {serial}")
