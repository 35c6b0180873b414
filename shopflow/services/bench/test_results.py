"""What bench sessions gave, as plain data for pages and papers."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from shopflow import documents, sentences, testfile
from shopflow.calc import margins
from shopflow.calc.area_gain import AreaGain
from shopflow.calc.calibration import described, doubts
from shopflow.calc.comparison import Comparison, compare
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Point, Reduction, reduce
from shopflow.calc.sanity import warnings
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.worth import as_flow
from shopflow.models import PORTED_STATES, BenchSession, CastingState
from shopflow.services.bench import budgets, metal_cuts, sessions
from shopflow.services.bench.metal_cuts import AS_RECEIVED, Cuts
from shopflow.testfile import SessionDocument
from shopflow.units import Quantity, UnitSystem, pretty, pretty_text


def session_result(row: BenchSession) -> documents.SessionResult:
    """A stored bench session: how it was made and what it gave."""
    result = document_result(
        sessions.document(row), name=session_name(row), calibration=_calibration(row)
    )
    return dataclasses.replace(
        result,
        measured_at=row.measured_at,
        file_name=file_name(row),
        as_received=result.name.startswith(AS_RECEIVED),
        calibration_overdue=_overdue(row),
    )


def document_result(
    document: SessionDocument, name: str, calibration: str
) -> documents.SessionResult:
    """A session, stored or not: how it was made and what it gave."""
    found = reduce(document.flow_test())
    return documents.SessionResult(
        name=name,
        side=document.side,
        stage=document.stage,
        cylinder=document.cylinder,
        operator=document.operator,
        measured_at=None,
        conditions=conditions(document),
        air_density=found.air_density,
        mean_flow=found.mean_flow,
        reference_pressure=pretty_text(document.reference_pressure.text),
        points=_points(found),
        excluded=tuple(
            documents.Excluded(
                f"{run.lift} {document.lift_unit}",
                f"{run.flow} {document.flow_unit}",
                run.reason,
            )
            for run in document.excluded
        ),
        warnings=_doubts(document, found),
        calibration=calibration,
        file_name="",
        file_text=testfile.dumps(document),
        budget=budgets.at_highest(found),
        **_means(document, found),
    )


def _means(document: SessionDocument, found: Reduction) -> dict[str, Any]:
    """The test pressure, and the means with what they may be off by."""
    margin = margins.margins(found)
    return {
        "test_pressure": pretty_text(document.test_pressure.text),
        "mean_flow_uncertainty": margin.mean_flow if margin else None,
        "mean_area": margins.mean_effective_area(found)[0],
        "mean_area_uncertainty": margin.mean_effective_area if margin else None,
    }


def trial_result(document: SessionDocument, found: Reduction, name: str) -> documents.TrialResult:
    """What a session gives so far that is still being taken."""
    return documents.TrialResult(
        name=name,
        side=document.side,
        cylinder=document.cylinder,
        points=_points(found),
        air_density=found.air_density,
        mean_flow=found.mean_flow,
        reference_pressure=pretty_text(document.reference_pressure.text),
        warnings=_doubts(document, found),
        **_means(document, found),
    )


def session_curve(row: BenchSession) -> documents.SessionCurve:
    """What a chart draws of a stored bench session."""
    name = session_name(row)
    return documents.SessionCurve(
        name=name,
        side=row.side,
        cylinder=row.cylinder,
        points=_points(sessions.reduction(row)),
        as_received=name.startswith(AS_RECEIVED),
    )


def _doubts(document: SessionDocument, found: Reduction) -> tuple[str, ...]:
    return tuple(
        warning.text
        if warning.place is None
        else f"lift {document.lifts[warning.place]} {document.lift_unit}: {warning.text}"
        for warning in warnings(found)
    )


def _points(found: Reduction) -> tuple[documents.ResultPoint, ...]:
    pairs = zip(found.points, _margins(found), strict=True)
    return tuple(_result_point(point, margin) for point, margin in pairs)


def _margins(found: Reduction) -> Iterator[documents.Margins | None]:
    """What the figures of each lift may be off by; None where it is not stated."""
    names = [field.name for field in dataclasses.fields(documents.Margins)]
    margin = margins.margins(found)
    for place in range(len(found.lifts)):
        if margin is None:
            yield None
            continue
        columns: dict[str, Any] = {name: getattr(margin, name) for name in names}
        at_lift: dict[str, Any] = {
            name: None if column is None else float(column[place])
            for name, column in columns.items()
        }
        yield documents.Margins(**at_lift)


def _result_point(point: Point, margin: documents.Margins | None) -> documents.ResultPoint:
    return documents.ResultPoint(
        lift=point.lift,
        lift_over_diameter=point.lift_over_diameter,
        runs=point.runs,
        flow=point.flow,
        expanded_uncertainty=point.flow_expanded_uncertainty,
        cd_curtain=point.cd_curtain,
        cd_head=point.cd_head,
        cd_least_area=point.cd_least_area,
        velocity=point.velocity,
        kinetic_energy_flux=point.kinetic_energy_flux,
        flow_as_tested=point.flow_as_tested,
        flow_isentropic=point.flow_isentropic,
        effective_area=point.effective_area,
        choked=point.choked,
        margins=margin,
    )


def gain(before: BenchSession, after: BenchSession, units: UnitSystem) -> documents.Gain:
    """A later test against an earlier one of its port, concluded in one sentence."""
    found = gain_between(
        sessions.document(before),
        sessions.document(after),
        (session_name(before), session_name(after)),
        units,
        metal_cuts.between(before, after),
    )
    return dataclasses.replace(found, before_file=file_name(before), after_file=file_name(after))


def gain_between(
    before: SessionDocument,
    after: SessionDocument,
    names: tuple[str, str],
    units: UnitSystem,
    cuts: Cuts,
) -> documents.Gain:
    """A later test against an earlier one, stored or not, and all that was cut between them."""
    earlier, later = reduce(before.flow_test()), reduce(after.flow_test())
    comparison = compare(earlier, later)
    areas = comparison.areas
    return documents.Gain(
        before=names[0],
        after=names[1],
        side=after.side,
        points=gain_points(comparison),
        mean_gain_percent=comparison.mean_gain_percent,
        areas=tuple(_area_gain(point, later.test, cuts) for point in areas.points),
        mean=_area_gain(areas.mean, later.test, cuts) if areas.mean else None,
        conclusion=_conclusion(areas.mean, names, units, cuts),
        reasons=tuple(sentences.reasons(areas)),
        flow_at=f"{pretty_text(after.reference_pressure.text)}, in air of "
        f"{STANDARD_DENSITY:.3f} {pretty('kg/m3')}",
    )


def _area_gain(found: AreaGain, stated: FlowTest, cuts: Cuts) -> documents.AreaGain:
    flow = as_flow(found, stated)
    return documents.AreaGain(
        low=found.low,
        high=found.high,
        area_before=found.before,
        area_after=found.after,
        flow_before=flow.before,
        flow_after=flow.after,
        gain=found.gain,
        expanded_uncertainty=found.expanded_uncertainty,
        verdict=found.verdict.value,
        finding=sentences.called(found.verdict, False) if cuts.is_none else "",
    )


def _conclusion(
    mean: AreaGain | None, names: tuple[str, str], units: UnitSystem, cuts: Cuts
) -> str:
    """What the change was worth, and what was cut."""
    if mean is None:
        return ""
    before, after = names
    told = sentences.verdict(mean, units.unit("lift"), not cuts.is_none).replace("-", "−")
    return f"{after[:1].upper()}{after[1:]}, against {before}: {told}. {cuts.sentence}"


def gain_points(comparison: Comparison) -> tuple[documents.GainPoint, ...]:
    """A comparison lift by lift."""
    return tuple(
        documents.GainPoint(
            lift=point.lift,
            before=point.before,
            after=point.after,
            gain=point.gain,
            gain_percent=point.gain_percent,
            expanded_uncertainty=point.gain_expanded_uncertainty,
            significant=point.significant,
        )
        for point in comparison.points
    )


def file_name(row: BenchSession) -> str:
    """What a session's file is called where it is attached to a paper."""
    return f"session-{row.id}.toml"


def session_name(row: BenchSession) -> str:
    """A session in a few words: its stage and port, or what it followed."""
    stage = stage_name(row)
    return f"{stage}, cylinder {row.cylinder}" if row.cylinder else stage


def stage_name(row: BenchSession) -> str:
    """A session's stage as written, else what it followed."""
    followed = row.after_operation
    stage = row.stage or (f"after {followed.kind.name.lower()}" if followed else AS_RECEIVED)
    state = row.job_head.casting_state
    # A ported head as received is no stock head.
    is_ported = stage.startswith(AS_RECEIVED) and state in PORTED_STATES
    return f"{stage}, {state.value}" if is_ported else stage


def stage_to_rank(row: BenchSession) -> str:
    """A session's stage among past results: one as received names the state of the casting."""
    stage = stage_name(row)
    if not stage.startswith(AS_RECEIVED) or row.job_head.casting_state in PORTED_STATES:
        return stage
    return f"{stage}, {'as cast' if is_stock(row) else 'state unknown'}"


def is_stock(row: BenchSession) -> bool:
    """Whether a session tested a casting that nobody had worked on."""
    is_as_cast = row.job_head.casting_state is CastingState.AS_CAST
    return is_as_cast and stage_name(row).startswith(AS_RECEIVED)


def conditions(document: SessionDocument) -> tuple[tuple[str, str], ...]:
    """How a session was made, as typed."""
    direction = "drawn in" if document.side == "intake" else "blown out"
    valves = f"{document.valve_count} of " if document.valve_count > 1 else ""
    seat = ""
    if document.seat_angle and document.seat_width:
        angle = _sized(document.seat_angle, document.u_seat_angle)
        seat = f"{angle}, {_sized(document.seat_width, document.u_seat_width)} wide"
    meter = _meter(document)
    rows = [
        ("Test pressure", f"{document.test_pressure}, {direction}"),
        ("Bench", document.bench_name or "not recorded"),
        ("Room air", f"{document.barometer}, {document.temperature}, {document.humidity} RH"),
        ("Valve head", f"{valves}{_sized(document.head_diameter, document.u_head_diameter)}"),
        ("Seat", seat),
        ("Throat", _sized(document.throat_diameter, document.u_throat_diameter)),
        ("Stem", _sized(document.stem_diameter, document.u_stem_diameter)),
        ("Port area", _sized(document.port_area, document.u_port_area)),
        ("Leakage", _leakage(document)),
        # What is as usual needs no word.
        *([("Meter", meter)] if meter else []),
    ]
    return (
        *((name, pretty_text(value)) for name, value in rows),
        ("Set-up, notes", document.notes),
    )


def _sized(size: Quantity | None, uncertainty: Quantity | None) -> str:
    """A size with its standard uncertainty, where that is stated."""
    if size is None:
        return ""
    return f"{size}" if uncertainty is None else f"{size} (u = {uncertainty})"


def _leakage(document: SessionDocument) -> str:
    at = f", at {document.leakage_pressure}" if document.leakage_pressure else ""
    return f"{document.leakage}, as indicated{at}"


def _meter(document: SessionDocument) -> str:
    """What the bench reads by, and the air it met where that was not the room's."""
    parts = []
    if document.element_kind:
        sizes = (
            f"{document.element_diameter} in a pipe of {document.pipe_diameter}"
            if document.element_diameter
            else f"{document.element_coefficient} on {document.element_area}"
        )
        parts.append(f"{document.element_kind}, {sizes}")
    if document.meter_kind:
        parts.append(f"a {document.meter_kind} meter")
    if document.scale_density:
        parts.append(f"scale marked for air of {document.scale_density}")
    air = [str(found) for found in (document.meter_pressure, document.meter_temperature) if found]
    if air:
        parts.append(f"air at the meter {', '.join(air)}")
    if document.pressures:
        parts.append("test pressure read at each run")
    return "; ".join(parts)


def _calibration(row: BenchSession) -> str:
    """What is known of the calibration relied on, an overdue one said plainly."""
    found = row.calibration
    factor = _factor(row)
    if found is None:
        named = f"{row.calibration_mark}, " if row.calibration_mark else ""
        return f"{named}{factor}, as stated in the session; no calibration on file here"
    parts = [
        f"{found.identifier} of {found.made_on}",
        factor,
        f"against {found.reference}" if found.reference else "reference not recorded",
        f"certificate {found.certificate_number}"
        if found.certificate_number
        else "no certificate number recorded",
    ]
    if _overdue(row):
        parts.append(f"OVERDUE since {found.due_on} when the test was made")
    return "; ".join(parts)


def _factor(row: BenchSession) -> str:
    """The factor, or the points that take its place, with what is stated of it."""
    curve = sessions.document(row).calibration_curve
    if curve is None:
        stated = f"expanded uncertainty {row.u_calibration}"
        return f"factor {row.calibration_factor}, " + (
            stated if row.u_calibration else "its uncertainty not stated"
        )
    unit = row.calibration_reading_unit
    ends = f"{row.calibration_readings[0]} to {row.calibration_readings[-1]} {unit}"
    shared = f", shared by all of them {row.u_calibration} (k = 2)" if row.u_calibration else ""
    poor = "" if curve.fit.fits else f"; POOR FIT: {doubts(curve)}"
    return pretty_text(
        f"{described(curve)}, {ends}, each ± {_range(row.calibration_uncertainties)} % (k = 2)"
        f"{shared}{poor}"
    )


def _range(numbers: Sequence[Decimal]) -> str:
    """The least and the greatest of some numbers, as "0.8 to 1.0"."""
    low, high = min(numbers), max(numbers)
    return f"{low}" if low == high else f"{low} to {high}"


def _overdue(row: BenchSession) -> bool:
    """Whether the calibration on file was past its date when the test was made."""
    # As typed, since due dates are the shop's own days.
    typed = row.measured_at_typed
    tested = datetime.fromisoformat(typed).date() if typed else row.entered_at.date()
    return row.calibration is not None and row.calibration.is_overdue(tested)
