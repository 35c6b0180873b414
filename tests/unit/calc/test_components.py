"""The budget of one flow, held against GTC and the margins shown beside the results."""

from __future__ import annotations

import dataclasses
import math

import GTC
import numpy as np
import pytest
from scipy.stats import t

from shopflow import testfile
from shopflow.calc.across import flux_exponent
from shopflow.calc.array_types import Floats
from shopflow.calc.components import budget_at
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.result import Result
from shopflow.calc.results import CD_CURTAIN, CD_HEAD, FLOW, FLOW_AS_TESTED, KINETIC_ENERGY_FLUX
from shopflow.calc.uncertainty import Uncertainties
from tests.cli.sessions import EXTENDED, INTAKE_US, METERED
from tests.optional import present

REDUCED = reduce(testfile.loads(INTAKE_US).flow_test())


@pytest.mark.parametrize("text", [INTAKE_US, *EXTENDED.values()])
def test_components_make_up_the_margin_of_the_flow_as_tested(text: str) -> None:
    reduction = reduce(testfile.loads(text).flow_test())
    stated = FLOW_AS_TESTED.expanded(reduction)
    for index, flow in enumerate(reduction.flow_as_tested):
        budget = budget_at(reduction, index)
        assert budget.flow == flow
        assert budget.is_stated == (stated is not None)
        if stated is not None:
            assert budget.expanded == pytest.approx(float(stated[index]))


def test_a_flow_agrees_with_gtc() -> None:
    """The third lift: three runs of a scatter of 9 degrees of freedom, as GTC propagates it."""
    cfm = 0.3048**3 / 60.0
    scatter = REDUCED.area_errors.scatter
    mean = (101.0 + 101.5 + 100.8) / 3 * cfm
    one_run = scatter.relative * mean / math.sqrt(3)
    runs = GTC.ureal(mean, one_run, df=scatter.freedom)
    calibration = GTC.ureal(1.013, 1.013 * 0.006)
    exponent = float(flux_exponent(REDUCED.test, REDUCED.test.test_pressure))
    pressure = GTC.ureal(1.0, 0.003)
    lift = GTC.ureal(0.0, 0.001 * 0.0254)
    areas = LiftCurve(REDUCED.lifts, REDUCED.effective_area)
    steepness = float((areas.slope(REDUCED.lifts) / REDUCED.effective_area)[2])
    flow = calibration * (runs - 0.8 * cfm) * pressure ** (-exponent) * (1 + steepness * lift)
    budget = budget_at(REDUCED, 2)
    assert budget.flow == pytest.approx(GTC.value(flow), rel=1e-9)
    assert budget.combined == pytest.approx(GTC.uncertainty(flow), rel=1e-6)
    assert budget.freedom == pytest.approx(GTC.dof(flow), rel=1e-6)


def bare(**stated: float) -> Reduction:
    """The session with these uncertainties alone."""
    test = REDUCED.test
    return reduce(dataclasses.replace(test, uncertainty=Uncertainties(**stated)))


def test_an_unknown_input_is_not_stated_and_one_of_0_is() -> None:
    parts = {part.name: part for part in budget_at(bare(pressure=0.0), 0).components}
    assert (parts["Test pressure"].standard, parts["Test pressure"].is_stated) == (0.0, True)
    assert (parts["Lift setting"].standard, parts["Lift setting"].is_stated) == (None, False)
    assert not parts["Scale division"].is_stated


def test_few_repeats_want_a_larger_factor() -> None:
    budget = budget_at(bare(), 0)
    assert budget.freedom == pytest.approx(REDUCED.area_errors.scatter.freedom)
    assert budget.factor_95 == pytest.approx(float(t.ppf(0.975, budget.freedom)))


def test_energy_is_off_by_three_times_what_the_flow_is_and_a_coefficient_by_its_lift() -> None:
    answer = bare(calibration=0.02)
    assert relative(KINETIC_ENERGY_FLUX, answer) == pytest.approx(3 * relative(FLOW, answer))
    by_lift = bare(lift=1e-4)
    # Where the area grows in step with the lift, the curtain does so too and the error cancels.
    low, high = relative(CD_HEAD, by_lift), relative(CD_CURTAIN, by_lift)
    assert low[0] > high[0]


def relative(row: Result, reduction: Reduction) -> Floats:
    """A result's expanded uncertainty over the result, lift by lift."""
    return np.asarray(present(row.expanded(reduction)) / present(row.of(reduction)))


def test_a_standard_element_brings_its_own_uncertainty() -> None:
    """ISO 5167-2: half a percent at 95 % (value from memory), so a quarter standard."""
    shares = budget_at(reduce(testfile.loads(METERED).flow_test()), 1).components[-3:]
    assert [share.name for share in shares] == [
        "Metering element's coefficient",
        "Bores of the element and its pipe",
        "Metering element's expansion",
    ]
    assert shares[0].standard == pytest.approx(0.0025)
