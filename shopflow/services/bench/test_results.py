"""Results of flow tests, as plain data for pages and documents."""

from __future__ import annotations

import dataclasses
from typing import Any

from shopflow import documents, testfile
from shopflow.calc import margins
from shopflow.calc.pressure_exponent import at_pressures, exponents
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.sanity import warnings
from shopflow.models import BenchSession
from shopflow.sentences import at_lifts
from shopflow.services.bench import budgets, sessions, set_ups
from shopflow.services.bench.metal_cuts import is_as_received
from shopflow.services.bench.result_points import result_points
from shopflow.services.bench.test_conditions import calibration, conditions, is_overdue
from shopflow.services.bench.test_names import file_name, session_name
from shopflow.testfile import SessionDocument
from shopflow.units import pretty_text


def session_result(row: BenchSession) -> documents.SessionResult:
    """A stored bench session: how it was made and what it gave."""
    result = document_result(
        sessions.document(row), name=session_name(row), calibration=calibration(row)
    )
    return dataclasses.replace(
        result,
        measured_at=row.measured_at,
        file_name=file_name(row),
        as_received=is_as_received(result.name),
        calibration_overdue=is_overdue(row),
    )


def document_result(
    document: SessionDocument, name: str, calibration: str
) -> documents.SessionResult:
    """A session, stored or not: how it was made and what it gave."""
    reduction = reduce(document.flow_test())
    return documents.SessionResult(
        name=name,
        side=document.side,
        stage=document.stage,
        cylinder=document.cylinder,
        operator=document.operator,
        measured_at=None,
        conditions=conditions(document),
        air_density=reduction.air_density,
        mean_flow=reduction.mean_flow,
        reference_pressure=pretty_text(document.reference_pressure.text),
        points=result_points(reduction),
        excluded=tuple(
            documents.Excluded(
                f"{run.lift} {document.lift_unit}",
                f"{run.flow} {document.flow_unit}",
                run.reason,
            )
            for run in document.excluded
        ),
        warnings=tuple(at_lifts(document.lifts, document.lift_unit, warnings(reduction))),
        calibration=calibration,
        file_name="",
        file_text=testfile.dumps(document),
        budget=budgets.at_highest(reduction),
        at_pressures=at_pressures(reduction),
        exponents=exponents(reduction),
        **_means(document, reduction),
    )


def _means(document: SessionDocument, reduction: Reduction) -> dict[str, Any]:
    """The test pressure, and the means with their uncertainties."""
    mean_area, uncertainty = margins.mean_effective_area(reduction)
    return {
        "test_pressure": pretty_text(document.test_pressure.text),
        "mean_flow_uncertainty": margins.mean_flow_expanded(reduction),
        "mean_area": mean_area,
        "mean_area_uncertainty": uncertainty,
    }


def trial_result(
    document: SessionDocument, reduction: Reduction, name: str
) -> documents.TrialResult:
    """Results so far of a test that is still being taken."""
    return documents.TrialResult(
        name=name,
        side=document.side,
        cylinder=document.cylinder,
        points=result_points(reduction),
        air_density=reduction.air_density,
        mean_flow=reduction.mean_flow,
        reference_pressure=pretty_text(document.reference_pressure.text),
        warnings=tuple(at_lifts(document.lifts, document.lift_unit, warnings(reduction))),
        set_up=document.set_up,
        **_means(document, reduction),
    )


def session_curve(row: BenchSession) -> documents.SessionCurve:
    """Curve of a stored flow test for a chart."""
    name = session_name(row)
    return documents.SessionCurve(
        name=name,
        side=row.side,
        cylinder=row.cylinder,
        points=result_points(sessions.reduction(row)),
        set_up=set_ups.plain(row),
        as_received=is_as_received(name),
    )
