"""Conditions of a flow test, as typed, and the calibration it relies on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from shopflow.calc.calibration import described, doubts
from shopflow.models import BenchSession
from shopflow.services.bench import sessions
from shopflow.testfile import SessionDocument
from shopflow.units import Quantity, pretty_text


def conditions(document: SessionDocument) -> tuple[tuple[str, str], ...]:
    """Test conditions, as typed."""
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
    factor = _factor(row)
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


def is_overdue(row: BenchSession) -> bool:
    """True where the recorded calibration was overdue when the test was made."""
    # As typed, since due dates are the shop's own days.
    typed = row.measured_at_typed
    tested = datetime.fromisoformat(typed).date() if typed else row.entered_at.date()
    return row.calibration is not None and row.calibration.is_overdue(tested)
