"""Conditions of a flow test, as typed, and the calibration it relies on."""

from __future__ import annotations

from datetime import datetime

from shopflow.models import BenchSession
from shopflow.testfile import SessionDocument
from shopflow.units import pretty_text


def conditions(document: SessionDocument) -> tuple[tuple[str, str], ...]:
    """Test conditions, as typed."""
    direction = "drawn in" if document.side == "intake" else "blown out"
    valves = f"{document.valve_count} of " if document.valve_count > 1 else ""
    seat = ""
    if document.seat_angle and document.seat_width:
        seat = f"{document.seat_angle}, {document.seat_width} wide"
    meter = _meter(document)
    rows = [
        ("Test pressure", f"{document.test_pressure}, {direction}"),
        ("Bench", document.bench_name or "not recorded"),
        ("Room air", f"{document.barometer}, {document.temperature}, {document.humidity} RH"),
        ("Valve head", f"{valves}{document.head_diameter}"),
        ("Seat", seat),
        ("Throat", str(document.throat_diameter or "")),
        ("Stem", str(document.stem_diameter or "")),
        ("Port area", str(document.port_area or "")),
        ("Leakage", _leakage(document)),
        # What is as usual needs no word.
        *([("Meter", meter)] if meter else []),
    ]
    return (
        *((name, pretty_text(value)) for name, value in rows),
        ("Set-up, notes", document.notes),
    )


def _leakage(document: SessionDocument) -> str:
    at = f", at {document.leakage_pressure}" if document.leakage_pressure else ""
    return f"{document.leakage}, as indicated{at}"


def _meter(document: SessionDocument) -> str:
    """Meter of the bench, and the air at it where that was not the room's."""
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
    air = [
        str(quantity)
        for quantity in (document.meter_pressure, document.meter_temperature)
        if quantity
    ]
    if air:
        parts.append(f"air at the meter {', '.join(air)}")
    if document.pressures:
        parts.append("test pressure read at each run")
    return "; ".join(parts)


def calibration(row: BenchSession) -> str:
    """Calibration relied on, with a clear note where it was overdue."""
    recorded = row.calibration
    stated = f"expanded uncertainty {row.u_calibration}"
    factor = f"factor {row.calibration_factor}, " + (
        stated if row.u_calibration else "its uncertainty not stated"
    )
    if recorded is None:
        named = f"{row.calibration_mark}, " if row.calibration_mark else ""
        return f"{named}{factor}, as stated with the test; no calibration on record here"
    parts = [
        f"{recorded.identifier} of {recorded.made_on}",
        factor,
        f"against {recorded.reference}" if recorded.reference else "reference not recorded",
        f"certificate {recorded.certificate_number}"
        if recorded.certificate_number
        else "no certificate number recorded",
    ]
    if is_overdue(row):
        parts.append(f"OVERDUE since {recorded.due_on} when the test was made")
    return "; ".join(parts)


def is_overdue(row: BenchSession) -> bool:
    """True where the recorded calibration was overdue when the test was made."""
    # As typed, since due dates are the shop's own days.
    typed = row.measured_at_typed
    tested = datetime.fromisoformat(typed).date() if typed else row.entered_at.date()
    return row.calibration is not None and row.calibration.is_overdue(tested)
