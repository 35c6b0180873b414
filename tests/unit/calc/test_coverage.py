"""Degrees of freedom against JCGM 100:2008 and GTC."""

from __future__ import annotations

import math

import numpy as np
import pytest
from GTC import dof, ureal

from shopflow.calc.coverage import effective_degrees_of_freedom


@pytest.mark.source("JCGM 100:2008, G.4.1")
def test_the_worked_example_of_the_guide() -> None:
    # JCGM 100:2008, G.4.1: nu_eff = 19.0.
    answer = effective_degrees_of_freedom([0.25, 0.57, 0.82], [9, 4, 14])
    assert float(answer) == pytest.approx(19.0, abs=0.05)


@pytest.mark.source("GTC, effective degrees of freedom")
@pytest.mark.parametrize(
    ("components", "freedoms"),
    [([0.3, 0.6], [2, math.inf]), ([1.0, 0.2, 0.5], [1, 5, 9]), ([0.4, 0.4], [3, 3])],
)
def test_gtc_agrees(components: list[float], freedoms: list[float]) -> None:
    total = sum(
        ureal(0, u, 1e12 if math.isinf(nu) else nu)
        for u, nu in zip(components, freedoms, strict=True)
    )
    answer = float(effective_degrees_of_freedom(components, freedoms))
    assert answer == pytest.approx(dof(total), rel=1e-6)


@pytest.mark.filterwarnings("error")
def test_what_is_all_taken_as_known_has_no_end_of_freedom() -> None:
    answer = effective_degrees_of_freedom([np.array([0.0, 0.1]), 0.5], [2, np.inf])
    assert math.isinf(answer[0])
    assert answer[1] > 1000
    assert math.isinf(float(effective_degrees_of_freedom([0.0, 0.0], [2, 3])))


def test_every_component_has_its_degrees_of_freedom() -> None:
    with pytest.raises(ValueError, match="argument"):
        effective_degrees_of_freedom([0.3, 0.6], [2])
