"""The budget of one flow, held against GTC and the session's own budget."""

from __future__ import annotations

import dataclasses
from math import inf

import GTC
import numpy as np
import pytest

from shopflow import sessionfile
from shopflow.calc.components import budget_at
from shopflow.calc.reduction import reduce
from tests.cli.sessions import EXTENDED, INTAKE_US, METERED

REDUCED = reduce(sessionfile.loads(INTAKE_US).flow_test())


@pytest.mark.parametrize("text", [INTAKE_US, *EXTENDED.values()])
def test_components_make_up_the_budget_of_the_session(text: str) -> None:
    found = reduce(sessionfile.loads(text).flow_test())
    for place, flow in enumerate(found.flow):
        budget = budget_at(found, place)
        assert budget.combined / flow == pytest.approx(float(found.budget.combined[place]))
        assert budget.expanded == pytest.approx(float(found.flow_expanded_uncertainty[place]))


def test_a_flow_of_repeats_agrees_with_gtc() -> None:
    """The third lift: runs of 101.0, 101.5 and 100.8 cfm, as GTC propagates and counts them."""
    cfm = 0.3048**3 / 60.0
    runs = GTC.type_a.estimate([101.0 * cfm, 101.5 * cfm, 100.8 * cfm])
    calibration = GTC.ureal(1.013, 1.013 * 0.006)
    pressure = GTC.ureal(25.0, 25.0 * 0.003)
    lift = GTC.ureal(0.0, 0.001 * 0.0254)
    steepness = float(np.gradient(REDUCED.flow, REDUCED.lifts)[2])
    flow = calibration * (runs - 0.8 * cfm) * GTC.sqrt(28.0 / pressure) + steepness * lift
    found = budget_at(REDUCED, 2)
    assert found.flow == pytest.approx(GTC.value(flow), rel=1e-9)
    assert found.combined == pytest.approx(GTC.uncertainty(flow), rel=1e-6)
    assert found.freedom == pytest.approx(GTC.dof(flow), rel=1e-6)


def test_one_run_is_of_kind_b_and_known() -> None:
    first = budget_at(REDUCED, 1).components[0]
    assert (first.kind, first.freedom) == ("B", inf)
    assert budget_at(REDUCED, 1).factor_95 == 1.96


def test_few_repeats_want_a_larger_factor() -> None:
    """Two runs alone: one degree of freedom, 12.71 (JCGM 100:2008, table G.2)."""
    test = REDUCED.test
    bare = dataclasses.replace(test.uncertainty, calibration=0.0, pressure=0.0, lift=0.0)
    found = budget_at(reduce(dataclasses.replace(test, uncertainty=bare)), 0)
    assert found.freedom == pytest.approx(1.0)
    assert found.factor_95 == 12.71


def test_a_standard_element_brings_its_own_uncertainty() -> None:
    """ISO 5167-2: half a percent at 95 % (value from memory), so a quarter standard."""
    shares = budget_at(reduce(sessionfile.loads(METERED).flow_test()), 1).components[-3:]
    assert [share.name for share in shares] == [
        "Metering element's coefficient",
        "Bores of the element and its pipe",
        "Metering element's expansion",
    ]
    assert shares[0].standard == pytest.approx(0.0025)
