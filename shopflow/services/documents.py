"""The plain data papers are made from, filled from the records."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow import sessionfile
from shopflow.calc.reduction import Point, reduce
from shopflow.calc.sanity import warnings
from shopflow.calc.springs import coil_bind_room, load_at_lift, pressure_force
from shopflow.models import (
    BenchSession,
    HandOffNote,
    Job,
    JobHead,
    Measurement,
    Operation,
    ValveSetUp,
    Verdict,
)
from shopflow.papers import data
from shopflow.services import sessions
from shopflow.services.shop import settled, zone
from shopflow.sessionfile import SessionDocument
from shopflow.units import UnitSystem, pretty_text


def work_order(db: Session, job: Job) -> data.WorkOrder:
    """A job's work order as things stand."""
    return data.WorkOrder(
        shop=letterhead(db),
        display=display(db),
        job=job_facts(db, job),
        customer=party(job),
        heads=tuple(_work_order_head(db, stay) for stay in job.heads),
        printed_at=datetime.now(UTC),
    )


def hand_off(db: Session, stay: JobHead) -> data.HandOff:
    """A head's hand-off sheet; the head must have a note."""
    note = stay.hand_off
    assert note is not None
    units = display(db).units
    return data.HandOff(
        shop=letterhead(db),
        display=display(db),
        job=job_facts(db, stay.job),
        customer=party(stay.job),
        head=identity(stay),
        addressee=note.addressee,
        valves=tuple(
            data.ValveFigures(valve.side, valve_figures(valve, units)) for valve in note.valves
        ),
        figures=tuple(data.Figure(row.name, row.value, row.working) for row in note.figures),
        measured=tuple(measured(row) for row in stay.measurements if _for_assembler(row)),
        to_check=_lines(note.to_check),
        cautions=_lines(note.cautions),
        notes=note.notes,
        signed_by=_signer(note),
        signed_at=note.signed_at,
        written_at=note.written_at,
    )


def letterhead(db: Session) -> data.Letterhead:
    """The shop's letterhead."""
    shop = settled(db)
    return data.Letterhead(shop.name, shop.address, shop.phone, shop.email)


def display(db: Session) -> data.Display:
    """How the shop shows figures and times."""
    shop = settled(db)
    return data.Display(shop.unit_system, shop.time_zone, shop.paper_size)


def party(job: Job) -> data.Party:
    """The customer of a job."""
    customer = job.customer
    return data.Party(customer.name, customer.address, customer.phone, customer.email)


def identity(stay: JobHead) -> data.HeadIdentity:
    """A head, and how it is known."""
    head = stay.head
    return data.HeadIdentity(
        tag=stay.tag,
        engine_type=head.engine_type.title,
        casting_number=head.casting_number,
        serial=head.serial,
        material=head.material,
        ports=head.ports,
        chamber=head.chamber,
        condition=stay.condition,
        parts_received=stay.parts_received,
        came_back_because=stay.came_back_because,
    )


def job_facts(db: Session, job: Job) -> data.JobFacts:
    """What papers say of a job."""
    approval = ""
    if job.approved_at is not None:
        day = job.approved_at.astimezone(zone(settled(db))).date()
        approval = f"{job.approved_by}, {job.approved_how}, {day}"
    return data.JobFacts(
        number=job.number,
        booked_in=job.booked_in_at,
        promised_on=job.promised_on,
        purpose=job.purpose.value,
        induction=job.induction.value,
        boost=job.boost.text if job.boost else "",
        rev_limit=f"{job.rev_limit_rpm} rpm" if job.rev_limit_rpm else "",
        fuel=job.fuel,
        intake_lift=job.intake_lift.text if job.intake_lift else "",
        exhaust_lift=job.exhaust_lift.text if job.exhaust_lift else "",
        asked_for=job.asked_for,
        approval=approval,
    )


def measured(row: Measurement) -> data.Measured:
    """One measured figure."""
    low = row.lower.text if row.lower else ""
    high = row.upper.text if row.upper else ""
    if row.lower and row.upper and row.lower.unit == row.upper.unit:
        low = row.lower.number
    limits = f"{low} to {high}" if low and high else (f"from {low}" if low else "")
    return data.Measured(
        what=row.kind.name,
        where=row.where,
        when=row.when.value,
        value=row.value.text,
        limits=limits or (f"to {high}" if high else ""),
        verdict="" if row.verdict is Verdict.NO_LIMIT else row.verdict.value,
    )


def session_result(row: BenchSession) -> data.SessionResult:
    """A stored bench session: how it was made and what it gave."""
    result = document_result(
        sessions.document(row), name=session_name(row), calibration=_calibration(row)
    )
    return dataclasses.replace(
        result,
        measured_at=row.measured_at,
        file_name=f"session-{row.id}.toml",
        as_received=result.name.startswith("as received"),
        calibration_overdue=_overdue(row),
    )


def document_result(document: SessionDocument, name: str, calibration: str) -> data.SessionResult:
    """A session, stored or not: how it was made and what it gave."""
    found = reduce(document.flow_test())
    return data.SessionResult(
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
        points=tuple(_result_point(point) for point in found.points),
        excluded=tuple(
            data.Excluded(
                f"{run.lift} {document.lift_unit}",
                f"{run.flow} {document.flow_unit}",
                run.reason,
            )
            for run in document.excluded
        ),
        warnings=tuple(
            warning.text
            if warning.place is None
            else f"lift {document.lifts[warning.place]} {document.lift_unit}: {warning.text}"
            for warning in warnings(found)
        ),
        calibration=calibration,
        file_name="",
        file_text=sessionfile.dumps(document),
    )


def _result_point(point: Point) -> data.ResultPoint:
    return data.ResultPoint(
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
    )


def gain(before: BenchSession, after: BenchSession) -> data.Gain:
    """A later session against an earlier one."""
    comparison = sessions.compare(before, after)
    return data.Gain(
        before=session_name(before),
        after=session_name(after),
        side=after.side,
        points=tuple(
            data.GainPoint(
                lift=point.lift,
                before=point.before,
                after=point.after,
                gain=point.gain,
                gain_percent=point.gain_percent,
                expanded_uncertainty=point.gain_expanded_uncertainty,
                significant=point.significant,
            )
            for point in comparison.points
        ),
        mean_gain_percent=comparison.mean_gain_percent,
    )


def session_name(row: BenchSession) -> str:
    """A session in a few words: its stage and port, or what it followed."""
    stage = row.stage or (
        f"after {row.after_operation.kind.name.lower()}" if row.after_operation else "as received"
    )
    return f"{stage}, cylinder {row.cylinder}" if row.cylinder else stage


def conditions(document: SessionDocument) -> tuple[tuple[str, str], ...]:
    """How a session was made, as typed."""
    direction = "drawn in" if document.side == "intake" else "blown out"
    valves = f"{document.valve_count} of " if document.valve_count > 1 else ""
    seat = ""
    if document.seat_angle and document.seat_width:
        seat = f"{document.seat_angle}, {document.seat_width} wide"
    rows = [
        ("Test pressure", f"{document.test_pressure}, {direction}"),
        ("Bench", document.bench_name or "not recorded"),
        ("Room air", f"{document.barometer}, {document.temperature}, {document.humidity} RH"),
        ("Valve head", f"{valves}{document.head_diameter}"),
        ("Seat", seat),
        ("Throat", str(document.throat_diameter or "")),
        ("Stem", str(document.stem_diameter or "")),
        ("Port area", str(document.port_area or "")),
        ("Leakage", f"{document.leakage}, as indicated"),
    ]
    return (
        *((name, pretty_text(value)) for name, value in rows),
        ("Set-up, notes", document.notes),
    )


def valve_figures(valve: ValveSetUp, units: UnitSystem) -> tuple[data.Figure, ...]:
    """One side's set-up figures, each with how it was come by."""
    figures: list[data.Figure] = []

    def typed(name: str, value: object, working: str = "as entered by the shop") -> None:
        if value is not None:
            figures.append(data.Figure(name, pretty_text(str(value)), working))

    load = _seat_load(valve, units, figures)
    typed("Spring rate", valve.spring_rate)
    typed("Installed height", valve.installed_height)
    typed("Coil bind height", valve.coil_bind_height)
    if load is not None and valve.spring_rate and valve.valve_lift:
        full = float(load_at_lift(load, valve.spring_rate.si, valve.valve_lift.si))
        working = (
            f"seat load + {pretty_text(valve.spring_rate.text)} × {valve.valve_lift} of valve lift"
        )
        figures.append(data.Figure("Load at full lift", units.text(full, "force"), working))
    if valve.installed_height and valve.coil_bind_height and valve.valve_lift:
        heights = (valve.installed_height.si, valve.coil_bind_height.si)
        room = float(coil_bind_room(*heights, valve.valve_lift.si))
        working = "installed height − coil bind height − valve lift"
        if room < 0:
            working += "; THE SPRING BINDS"
        figures.append(data.Figure("Room to coil bind", units.text(room, "lift"), working))
    return tuple(figures)


def _seat_load(valve: ValveSetUp, units: UnitSystem, figures: list[data.Figure]) -> float | None:
    """Base load, what is added to it, and the sum, as figures; the sum in N."""
    if valve.base_seat_load is None:
        return None
    total = valve.base_seat_load.si
    parts = [valve.base_seat_load.text]
    figures.append(
        data.Figure("Base seat load", valve.base_seat_load.text, "as entered by the shop")
    )
    if valve.port_pressure and valve.port_pressure.si and valve.valve_head_diameter:
        force = float(pressure_force(valve.port_pressure.si, valve.valve_head_diameter.si))
        working = (
            f"{pretty_text(valve.port_pressure.text)} on the whole face of a "
            f"{valve.valve_head_diameter} valve head, stem not taken off"
        )
        name = "Added for boost" if valve.side == "intake" else "Added for back pressure"
        figures.append(data.Figure(name, units.text(force, "force"), working))
        parts.append(units.text(force, "force"))
        total += force
    if valve.seat_angle_allowance and valve.seat_angle_allowance.si:
        working = "the porter's allowance for a shallower seat; common practice, no source"
        text = valve.seat_angle_allowance.text
        figures.append(data.Figure("Added for seat angle", text, working))
        parts.append(text)
        total += valve.seat_angle_allowance.si
    to_set = units.text(total, "force")
    figures.append(data.Figure("Seat load to set", to_set, " + ".join(parts), decisive=True))
    return total


def _work_order_head(db: Session, stay: JobHead) -> data.WorkOrderHead:
    web = settled(db).web_address
    hazards = [hazard for step in stay.operations for hazard in step.kind.cautions]
    return data.WorkOrderHead(
        head=identity(stay),
        steps=tuple(_step(step) for step in stay.operations),
        measured=tuple(measured(row) for row in stay.measurements),
        cautions=tuple(dict.fromkeys(hazards)),
        url=f"{web}/jobs/{stay.job.number}" if web else "",
    )


def _step(step: Operation) -> data.Step:
    written = {row.kind.code for row in step.measurements}
    missing = [code for code in step.kind.asks_for if code not in written]
    person = step.signed_off_by or step.started_by
    return data.Step(
        name=step.kind.name,
        instructions=step.instructions,
        planned_minutes=step.planned_minutes,
        state=step.state.value,
        by=person.name if person else "",
        at=step.signed_off_at,
        note=step.skip_reason or step.notes,
        blanks=tuple(code.capitalize() for code in missing) if step.is_open else (),
    )


def _calibration(row: BenchSession) -> str:
    """What is known of the calibration relied on, an overdue one said plainly."""
    found = row.calibration
    stated = f"expanded uncertainty {row.u_calibration}"
    factor = f"factor {row.calibration_factor}, " + (
        stated if row.u_calibration.si else "its uncertainty not stated"
    )
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


def _overdue(row: BenchSession) -> bool:
    """Whether the calibration on file was past its date when the test was made."""
    # As typed, since due dates are the shop's own days.
    typed = row.measured_at_typed
    tested = datetime.fromisoformat(typed).date() if typed else row.entered_at.date()
    return row.calibration is not None and row.calibration.is_overdue(tested)


def _for_assembler(row: Measurement) -> bool:
    wanted = {"installed height", "seat load", "chamber volume", "valve head diameter",
              "seat angle", "head thickness", "throat diameter"}  # fmt: skip
    return row.kind.code in wanted and row.when.value == "after"


def _signer(note: HandOffNote) -> str:
    return note.signed_by.name if note.signed_by else ""


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())
