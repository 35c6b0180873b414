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

from shopflow.calc.components import budget_at
from shopflow.calc.reduction import Reduction, reduce
from shopflow.testfile import read
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
"""Of the flow restated by the root, as the session file has it."""

# The joint model: the stated repeatability is more than the repeats' own scatter.
NET = MEAN - LEAKAGE
SLOPES = (MEAN - sum(BEFORE) / 3, sum(AFTER) / 3 - MEAN)
STEEP = FACTOR * 2 * SLOPES[0] * SLOPES[1] / (SLOPES[0] + SLOPES[1])
"""cfm a mm: of the curve, the harmonic mean of the two chords beside the lift."""

BAROMETER = 29.22 * 3386.389


def flux(across: float) -> float:
    """Ideal mass flux at a pressure difference in inches of water, in a unit of its own."""
    r = 1 - across * 249.08891 / BAROMETER
    return math.sqrt(r ** (2 / 1.4) - r ** (2.4 / 1.4))


POWER = (math.log(flux(15.015)) - math.log(flux(14.985))) / math.log(15.015 / 14.985)
PARTS = {
    "Repeatability": 0.005 * MEAN / math.sqrt(3) * FACTOR,
    "Scale division": 0.5 / math.sqrt(12) * FACTOR,
    "Calibration": 0.007 * CORRECTED,
    "Test pressure": 0.005 * POWER * CORRECTED,
    "Lift setting": 0.02 * STEEP,
    "Leakage": 0.2 * FACTOR,
}
"""cfm of the flow as tested."""

TESTED_U = 1.959964 * math.hypot(*PARTS.values())


@pytest.fixture
def reduction() -> Reduction:
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
def test_the_reduction_finds_the_same(reduction: Reduction) -> None:
    point, budget = reduction.points[PLACE], reduction.budget
    assert point.lift == pytest.approx(8e-3)
    assert point.runs == 3
    assert point.flow == pytest.approx(FLOW * CFM, rel=1e-12)
    parts = (budget.runs, budget.calibration, budget.pressure, budget.lift, budget.element)
    by_hand = (BY_RUNS, BY_CALIBRATION, BY_PRESSURE, BY_LIFT, 0.0)
    assert [float(part[PLACE]) for part in parts] == pytest.approx(by_hand, rel=1e-11)
    assert point.flow_expanded_uncertainty == pytest.approx(EXPANDED * CFM, rel=1e-11)


@pytest.mark.source("JCGM 100:2008, annex H: the budget line by line, in plain arithmetic")
def test_the_budget_is_laid_out_as_a_pencil_would(reduction: Reduction) -> None:
    """Each line's share of the flow as tested, m3/s, and what was typed for it."""
    budget = budget_at(reduction, PLACE)
    assert budget.lift == pytest.approx(8e-3)
    assert budget.flow == pytest.approx(CORRECTED * CFM)
    shares = {part.name: part.contribution / CFM for part in budget.components}
    assert shares == pytest.approx(PARTS, rel=1e-6)
    typed = {part.name: part.standard for part in budget.components}
    assert typed == pytest.approx(
        {
            "Repeatability": 0.005 * MEAN / math.sqrt(3) * CFM,
            "Scale division": 0.5 / math.sqrt(12) * CFM,
            "Calibration": 0.007,
            "Test pressure": 0.005,
            "Lift setting": 2e-5,
            "Leakage": 0.2 * CFM,
        }
    )
    assert {(part.kind, part.freedom) for part in budget.components} == {("B", math.inf)}
    assert budget.expanded / CFM == pytest.approx(TESTED_U, rel=1e-6)


@pytest.mark.source(
    "Plain arithmetic: one run of 80 litres a second with a meter's warmer air, by hand"
)
def test_one_run_through_a_standard_element_is_laid_out_too(reduction: Reduction) -> None:
    """0.5 % of a reading of kind B; the element's quarter percent comes last."""
    stated = dataclasses.replace(reduction.test.uncertainty, repeatability=0.005, element=0.0025)
    test = dataclasses.replace(
        reduction.test, lifts=(5e-3,), runs=((0.080,),), leakage=0.0, air_correction=0.97,
        uncertainty=stated, divisions=None,
    )  # fmt: skip
    item, division, *_, element = budget_at(reduce(test), 0).components
    factor = FACTOR * 0.97
    assert (item.standard, item.sensitivity) == pytest.approx((0.0004, factor), rel=1e-11)
    assert (item.name, item.kind, item.measure) == ("Repeatability", "B", "flow")
    assert not division.is_stated
    flow = 0.080 * factor
    assert (element.standard, element.sensitivity) == pytest.approx((0.0025, flow), rel=1e-11)
    assert (element.kind, element.measure) == ("B", "ratio")


@pytest.mark.source("Plain arithmetic from a demo session's readings, by hand, against its paper")
def test_the_certificate_of_that_job_says_so(demo_shop: DemoShop) -> None:
    """Lift in inches, L/D, runs; flow in standard air, U; as tested, U; restated; velocity."""
    velocity = FLOW * CFM / 1210e-6 / 0.3048
    row = f"{8 / 25.4:.3f} {8 / 44.5:.3f} 3 "
    assert row == "0.315 0.180 3 "
    text = certificate_of(demo_shop, SERIAL)
    figures = text.partition(row)[2].split()[2:6]
    assert figures[:2] == [f"{CORRECTED:.1f}", f"{TESTED_U:.1f}"] == ["106.8", "1.8"]
    isentropic = CORRECTED * flux(STATED_AT) / flux(TESTED_AT)
    assert figures[2:] == [f"{isentropic:.1f}", f"{FLOW:.1f}"]
    assert f" {velocity:.1f} " in text


def certificate_of(shop: DemoShop, serial: str) -> str:
    """The words of the flow certificate that carries a serial number, on one line."""
    for path in sorted((shop.folder / "papers").glob("flow-certificate-*.pdf")):
        with pymupdf.open(path) as pdf:
            text = " ".join(" ".join(page.get_text() for page in pdf).split())
        if serial in text:
            return text
    pytest.fail(f"no certificate carries {serial}")
