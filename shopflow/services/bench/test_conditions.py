"""Conditions of a flow test, as typed, and the calibration it relies on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from shopflow.calc.calibration import described, doubts
from shopflow.models import BenchSession
from shopflow.services.bench import sessions
from shopflow.set_up_words import in_words
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext, translated
from shopflow.units import Quantity, pretty_text


def conditions(document: SessionDocument) -> tuple[tuple[str, str], ...]:
    """Test conditions, as typed."""
    head = _sized(document.head_diameter, document.u_head_diameter)
    if document.valve_count > 1:
        head = gettext("{count} of {size}", count=document.valve_count, size=head)
    seat = ""
    if document.seat_angle and document.seat_width:
        angle = _sized(document.seat_angle, document.u_seat_angle)
        width = _sized(document.seat_width, document.u_seat_width)
        seat = gettext("{angle}, {width} wide", angle=angle, width=width)
    meter = _meter(document)
    rows = [
        (gettext("Test pressure"), _pressure(document)),
        (gettext("Bench"), document.bench_name or gettext("not recorded")),
        (gettext("Room air"), _air(document)),
        (gettext("Valve head"), head),
        (gettext("Seat"), seat),
        (gettext("Throat"), _sized(document.throat_diameter, document.u_throat_diameter)),
        (gettext("Stem"), _sized(document.stem_diameter, document.u_stem_diameter)),
        (gettext("Port area"), _sized(document.port_area, document.u_port_area)),
        (gettext("Leakage"), _leakage(document)),
        # What is as usual needs no word.
        *([(gettext("Meter"), meter)] if meter else []),
    ]
    return (
        *((name, pretty_text(value)) for name, value in rows),
        (gettext("Set-up"), in_words(document.set_up)),
        (gettext("Notes"), document.notes),
    )


def _sized(size: Quantity | None, uncertainty: Quantity | None) -> str:
    """A size with its standard uncertainty, where that is stated."""
    if size is None:
        return ""
    return f"{size}" if uncertainty is None else f"{size} (u = {uncertainty})"


def _pressure(document: SessionDocument) -> str:
    if document.side == "intake":
        return gettext("{pressure}, drawn in", pressure=document.test_pressure)
    return gettext("{pressure}, blown out", pressure=document.test_pressure)


def _air(document: SessionDocument) -> str:
    """The room's air; nobody reads 0 % off a hygrometer, so that it was left out."""
    barometer, temperature = document.barometer, document.temperature
    if not document.humidity.si:
        return gettext(
            "{barometer}, {temperature}, humidity not stated and taken as 0 %",
            barometer=barometer,
            temperature=temperature,
        )
    return gettext(
        "{barometer}, {temperature}, {humidity} RH",
        barometer=barometer,
        temperature=temperature,
        humidity=document.humidity,
    )


def _leakage(document: SessionDocument) -> str:
    if not document.leakage.si and document.u_leakage is None:
        return gettext("taken as {leakage}, not stated as measured", leakage=document.leakage)
    if document.leakage_pressure:
        return gettext(
            "{leakage}, as indicated, at {pressure}",
            leakage=document.leakage,
            pressure=document.leakage_pressure,
        )
    return gettext("{leakage}, as indicated", leakage=document.leakage)


def _meter(document: SessionDocument) -> str:
    """Meter of the bench, and the air at it where that was not the room's."""
    parts = []
    if document.element_kind:
        sizes = (
            gettext(
                "{element_diameter} in a pipe of {pipe_diameter}",
                element_diameter=document.element_diameter,
                pipe_diameter=document.pipe_diameter,
            )
            if document.element_diameter
            else gettext(
                "{element_coefficient} on {element_area}",
                element_coefficient=document.element_coefficient,
                element_area=document.element_area,
            )
        )
        parts.append(f"{translated(document.element_kind)}, {sizes}")
    if document.meter_kind:
        parts.append(gettext("a {kind} meter", kind=translated(document.meter_kind)))
    if document.scale_density:
        parts.append(
            gettext("scale marked for air of {scale_density}", scale_density=document.scale_density)
        )
    air = [
        str(quantity)
        for quantity in (document.meter_pressure, document.meter_temperature)
        if quantity
    ]
    if air:
        parts.append(gettext("air at the meter {air}", air=", ".join(air)))
    if document.pressures:
        parts.append(gettext("test pressure read at each run"))
    return "; ".join(parts)


def calibration(row: BenchSession) -> str:
    """Calibration relied on, with a clear note where it was overdue."""
    recorded = row.calibration
    factor = _factor(row)
    if recorded is None:
        stated = f"{row.calibration_mark}, {factor}" if row.calibration_mark else factor
        return gettext(
            "{calibration}, as stated with the test; no calibration on record here",
            calibration=stated,
        )
    parts = [
        gettext("{calibration} of {day}", calibration=recorded.identifier, day=recorded.made_on),
        factor,
        gettext("against {reference}", reference=recorded.reference)
        if recorded.reference
        else gettext("reference not recorded"),
        gettext("certificate {certificate_number}", certificate_number=recorded.certificate_number)
        if recorded.certificate_number
        else gettext("no certificate number recorded"),
    ]
    if is_overdue(row):
        parts.append(
            gettext("OVERDUE since {due_on} when the test was made", due_on=recorded.due_on)
        )
    return "; ".join(parts)


def _factor(row: BenchSession) -> str:
    """The factor, or the points that take its place, with what is stated of it."""
    curve = sessions.document(row).calibration_curve
    if curve is None:
        if row.u_calibration:
            return gettext(
                "factor {factor}, expanded uncertainty {uncertainty}",
                factor=row.calibration_factor,
                uncertainty=row.u_calibration,
            )
        return gettext("factor {factor}, its uncertainty not stated", factor=row.calibration_factor)
    unit = row.calibration_reading_unit
    text = gettext(
        "{curve}, {low} to {high} {unit}, each ± {uncertainties} % (k = 2)",
        curve=described(curve),
        low=row.calibration_readings[0],
        high=row.calibration_readings[-1],
        unit=unit,
        uncertainties=_range(row.calibration_uncertainties),
    )
    if row.u_calibration:
        text = gettext(
            "{curve}, shared by all of them {uncertainty} (k = 2)",
            curve=text,
            uncertainty=row.u_calibration,
        )
    if not curve.fit.fits:
        text = gettext("{curve}; POOR FIT: {doubts}", curve=text, doubts=doubts(curve))
    return pretty_text(text)


def _range(numbers: Sequence[Decimal]) -> str:
    """The least and the greatest of some numbers, as "0.8 to 1.0"."""
    low, high = min(numbers), max(numbers)
    return f"{low}" if low == high else gettext("{low} to {high}", low=low, high=high)


def is_overdue(row: BenchSession) -> bool:
    """True where the recorded calibration was overdue when the test was made."""
    # As typed, since due dates are the shop's own days.
    typed = row.measured_at_typed
    tested = datetime.fromisoformat(typed).date() if typed else row.entered_at.date()
    return row.calibration is not None and row.calibration.is_overdue(tested)
