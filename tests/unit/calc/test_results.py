"""Every result of a flow test is a row of the registry, and the row says how it is made."""

from __future__ import annotations

import numpy as np
import pytest

from shopflow.calc import results
from shopflow.calc.reduction import reduce
from shopflow.calc.result import Result
from shopflow.calc.results import RESULTS
from shopflow.calc.workings.lift import workings
from shopflow.calc.workings.working import si
from shopflow.units import SI
from tests.optional import present
from tests.unit.calc.sessions import flow_test

FOUND = reduce(flow_test())
STRAYED = reduce(flow_test(run_pressures=tuple((6_000.0, 6_100.0) for _ in flow_test().lifts)))


def test_keys_anchors_and_words_of_charts_are_each_of_one_result() -> None:
    for names in (
        [row.key for row in RESULTS],
        [row.anchor for row in RESULTS],
        [row.plot for row in RESULTS if row.plot],
    ):
        assert len(names) == len(set(names))


@pytest.mark.parametrize("row", RESULTS, ids=lambda row: row.key)
def test_a_result_names_its_formula_and_its_source(row: Result) -> None:
    assert row.name
    assert row.formula
    assert row.source
    if row.is_in_json:
        assert not row.kind or row.kind in results.SI_UNITS
    values = row.of(FOUND)
    assert values is not None
    assert len(values) == len(FOUND.lifts)


def test_json_begins_with_the_keys_that_never_change() -> None:
    (first, *_) = results.by_lift(FOUND)
    assert tuple(first)[: len(results.IN_JSON)] == results.IN_JSON


def test_a_result_that_the_test_does_not_give_is_null() -> None:
    bare = reduce(flow_test(port_area=None))
    assert {point["velocity"] for point in results.by_lift(bare)} == {None}
    assert "velocity" not in {answer.key for answer in workings(bare, 0, SI)}


@pytest.mark.parametrize("reduction", [FOUND, STRAYED], ids=["one pressure", "run by run"])
def test_the_terms_of_a_working_make_its_result(reduction) -> None:
    """The formulas of the method by hand, from the terms that the workings show."""
    put, rho = reduction.terms, reduction.air_density
    np.testing.assert_allclose(put.factor * (put.indicated - put.leakage), reduction.flow_as_tested)
    np.testing.assert_allclose(reduction.mass_flow, reduction.effective_area * put.flux)
    np.testing.assert_allclose(reduction.cd_curtain * put.curtain_area, reduction.effective_area)
    if put.by_run is None:
        np.testing.assert_allclose(
            rho * reduction.flow_as_tested / put.flux, reduction.effective_area
        )
    else:
        areas = [np.mean([rho * run.flow / run.flux for run in runs]) for runs in put.by_run]
        np.testing.assert_allclose(areas, reduction.effective_area)


def test_a_working_shows_the_number_of_its_result() -> None:
    shown = {item.key: item for item in workings(FOUND, 1, SI)}
    assert next(iter(shown)) == "density"
    for row, _ in results.with_working():
        value, numbers = float(present(row.of(FOUND))[1]), shown[row.anchor].numbers
        assert si(value) in numbers or f"{value:.4f}" in numbers
        assert shown[row.anchor].source == row.source


def test_runs_at_pressures_of_their_own_are_shown_one_by_one() -> None:
    shown = {item.key: item.numbers for item in workings(STRAYED, 0, SI)}
    runs = present(STRAYED.terms.by_run)[0]
    assert all(f"{run.flux:.6g}" in shown["effective-area"] for run in runs)
    assert "at the test pressure" in shown["mass-flow"]


def test_units_of_json_are_si() -> None:
    assert set(results.SI_UNITS.values()) <= {"m", "m2", "m3/s", "kg/s", "m/s", "W"}


def test_documents_state_what_has_a_column_or_a_chart() -> None:
    keys = {row.key for row in results.stated()}
    assert {"flow_standard", "flow_as_tested", "kinetic_energy_flux"} <= keys
    assert "mass_flow" not in keys
