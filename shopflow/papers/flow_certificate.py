"""The flow certificate: what was tested, how, with what result, and what the result is worth."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether

from shopflow.charts import Chart, layout
from shopflow.charts.paper import ChartFlowable
from shopflow.papers.curves import MOST_CURVES, batches, coefficient_chart, flow_chart
from shopflow.papers.data import FlowCertificate, Gain, SessionResult
from shopflow.papers.scan import ScanCode
from shopflow.papers.style import (
    BODY,
    CELL_BOLD,
    HEADING,
    SMALL,
    TITLE,
    Sheet,
    beside,
    boxed,
    facts,
    gap,
    grid,
    heading,
    para,
    when,
)
from shopflow.papers.work_order import job_rows
from shopflow.units import from_si, pretty

METHOD = (
    "Steady flow of room air through the port with the valve held at each lift, at a constant "
    "pressure difference across the head: drawn from the room into the cylinder on the intake "
    "side, blown from the cylinder into the room on the exhaust side. Each reading is corrected "
    "for the bench's calibration and for the leakage with the valve shut. Flows are stated at "
    "room-air density and at the reference pressure by the square root of the pressure ratio, "
    "which is a convention: it is exact for incompressible flow only. The inch of water is the "
    "conventional one, 249.08891 Pa. Air density is after CIPM-2007. A discharge coefficient is "
    "the effective area (mass flow over that of an ideal isentropic nozzle across the same "
    "pressures, γ 1.4) over the area named: curtain π·D·L, head π·D²/4, or the least geometric "
    "area of valve and seat. Velocity is the reference flow over the port area stated; kinetic "
    "energy flux is half the density times flow times velocity squared."
)
UNCERTAINTY = (
    "The uncertainty stated is expanded, with coverage factor k = 2, for about 95 % confidence "
    "(JCGM 100:2008), from repeats, calibration, test pressure and lift setting as recorded. It "
    "does not cover differences between benches, entry shapes or adapters. A change within its "
    "uncertainty is reported as not shown to differ."
)
SCOPE = (
    "The results are of this head alone, as tested. They do not promise power or fitness for any "
    "use. This paper may be copied whole only. No accreditation is claimed."
)

DEPARTURES = (
    "Departures from the method: readings left out are listed with their session and the reason; "
    "none other was recorded."
)
SET_UP = (
    "Entry radius, stub pipe and bore adapter: as stated with each session under set-up; where "
    "nothing is stated they were not recorded."
)
CROWDED = (
    "Drawn in several charts to keep the curves apart. Of a port with more than eight sessions "
    "the first and the latest seven are drawn; the tables hold every one."
)


def flow_certificate(certificate: FlowCertificate) -> bytes:
    """The certificate as PDF, its session files attached."""
    sheet = Sheet(
        certificate.shop,
        certificate.display,
        "Flow certificate",
        certificate.title,
        certificate.issued_at,
    )
    width = sheet.width
    story: list[Flowable] = [*_top(certificate, width), *_charts(certificate, width)]
    for gain in certificate.gains:
        story += _gain(certificate, gain, width)
    for session in certificate.sessions:
        story += _session(certificate, session, width)
    story += _end(certificate, width)
    attachments = {session.file_name: session.file_text for session in certificate.sessions}
    return sheet.build(story, attachments)


def _top(certificate: FlowCertificate, width: float) -> list[Flowable]:
    head, job, display = certificate.head, certificate.job, certificate.display
    tested = [item.measured_at for item in certificate.sessions if item.measured_at]
    days = sorted({when(moment, display) for moment in tested})
    rows = [
        ("Customer", certificate.customer.name),
        ("Address", certificate.customer.address),
        ("Head", head.engine_type),
        ("Tag", head.tag),
        ("Casting number", head.casting_number),
        ("Serial", head.serial),
        ("Condition as received", head.condition),
        ("Job", job.number),
        ("Received", when(job.booked_in, display)),
        ("Tested", " to ".join(dict.fromkeys((days[0], days[-1]))) if days else "not recorded"),
        ("Issued", when(certificate.issued_at, display)),
        ("Place of work", ", ".join(certificate.shop.address.splitlines())),
    ]
    top: list[Flowable] = [para("Flow certificate", TITLE)]
    if certificate.revision > 1:
        replaces = (
            f"Revision {certificate.revision}; replaces revision {certificate.revision - 1}. "
        )
        top.append(para(f"{replaces}Reason: {certificate.revision_reason}", CELL_BOLD))
    if certificate.url:
        top = [beside(top, ScanCode(certificate.url, 20 * mm), width, 24 * mm)]
    return [*top, gap(4), facts(rows, width)]


def _charts(certificate: FlowCertificate, width: float) -> list[Flowable]:
    sides = [
        [item for item in certificate.sessions if item.side == side]
        for side in ("intake", "exhaust")
    ]
    by_side = [batch for sessions in sides for batch in batches(sessions)]
    crowded = len(certificate.sessions) > MOST_CURVES
    found: list[Flowable] = []
    for batch in by_side:
        title = f"{batch[0].side.capitalize()} flow{_ports(batch) if crowded else ''}"
        chart = flow_chart(
            f"{title} of head {certificate.head.tag}", batch, certificate.display.units
        )
        found.append(_drawn(title, chart, width))
    for batch in by_side if crowded else [list(certificate.sessions)]:
        title = "Discharge coefficient on curtain area"
        if crowded:
            title += f": {batch[0].side}{_ports(batch)}"
        found.append(_drawn(title, coefficient_chart(batch), width))
    if crowded:
        found.append(para(CROWDED, SMALL))
    return found


def _ports(batch: Sequence[SessionResult]) -> str:
    named = dict.fromkeys(session.cylinder for session in batch if session.cylinder)
    return f", cylinder {', '.join(named)}" if named else ""


def _drawn(title: str, chart: Chart, width: float) -> Flowable:
    return KeepTogether([para(title, HEADING), ChartFlowable(layout(chart, width, 200.0))])


def _session(certificate: FlowCertificate, session: SessionResult, width: float) -> list[Flowable]:
    display, units = certificate.display, certificate.display.units
    title = f"{session.side.capitalize()}: {session.name}"
    rows = [
        *session.conditions,
        ("Air density", units.text(session.air_density, "density")),
        ("Tested", when(session.measured_at, display, clock=True)),
        ("Operator", session.operator or "not recorded"),
        ("Flow stated at", f"{session.reference_pressure}, room-air density"),
        ("Mean over lifts", units.text(session.mean_flow, "flow")),
    ]
    story: list[Flowable] = [
        CondPageBreak(75 * mm),
        *heading(title),
        facts(rows, width),
        gap(3),
        para(f"Calibration: {session.calibration}", SMALL),
        gap(3),
        _results(certificate, session, width),
    ]
    for item in session.excluded:
        text = f"Left out: reading {item.flow} at {item.lift}. Reason: {item.reason}"
        story.append(para(text, SMALL))
    story += [para(f"Remark: {warning}", SMALL) for warning in session.warnings]
    return story


def _results(certificate: FlowCertificate, session: SessionResult, width: float) -> Flowable:
    units = certificate.display.units

    def column(name: str, kind: str) -> str:
        return f"{name}, {pretty(units.unit(kind))}"

    columns = [
        column("Lift", "lift"), "L/D", "Runs", column("Flow", "flow"), "± U (k = 2)",
        "Cd curtain", "Cd head", "Cd least area", column("Velocity", "velocity"),
        column("Kinetic energy", "power"),
    ]  # fmt: skip
    rows = [
        [
            units.number(point.lift, "lift"),
            f"{point.lift_over_diameter:.3f}",
            str(point.runs),
            units.number(point.flow, "flow"),
            units.number(point.expanded_uncertainty, "flow"),
            f"{point.cd_curtain:.3f}",
            f"{point.cd_head:.3f}",
            "–" if point.cd_least_area is None else f"{point.cd_least_area:.3f}",
            units.number(point.velocity, "velocity"),
            units.number(point.kinetic_energy_flux, "power"),
        ]
        for point in session.points
    ]
    return grid(columns, rows, [width / 10] * 10, range(10), 1.8)


def _gain(certificate: FlowCertificate, gain: Gain, width: float) -> list[Flowable]:
    units = certificate.display.units
    flow = pretty(units.unit("flow"))
    columns = [f"Lift, {pretty(units.unit('lift'))}", f"Before, {flow}", f"After, {flow}",
               f"Gain, {flow}", "± U (k = 2)", "Gain, %", "Shown"]  # fmt: skip
    rows = [
        [
            units.number(point.lift, "lift"),
            units.number(point.before, "flow"),
            units.number(point.after, "flow"),
            f"{from_si(point.gain, units.unit('flow')):+.1f}",
            units.number(point.expanded_uncertainty, "flow"),
            f"{point.gain_percent:+.1f}",
            _shown(point.gain, point.significant),
        ]
        for point in gain.points
    ]
    story: list[Flowable] = [
        CondPageBreak(60 * mm),
        *heading(f"{gain.side.capitalize()}: {gain.after} against {gain.before}"),
    ]
    if not rows:
        return [*story, para("The two sessions have no lifts in common to compare.")]
    widths = [width * 0.13] * 6 + [width * 0.22]
    story.append(grid(columns, rows, widths, range(6), 1.8))
    if gain.mean_gain_percent is not None:
        mean = f"Mean gain over the lifts in common: {gain.mean_gain_percent:+.1f} %"
        story += [gap(2), para(mean, CELL_BOLD)]
    return story


def _shown(gain: float, significant: bool) -> str:
    if not significant:
        return "not shown to differ"
    return "gain" if gain > 0 else "loss"


def _end(certificate: FlowCertificate, width: float) -> list[Flowable]:
    supplied = [f"{name.lower()} {value}" for name, value in job_rows(certificate.job) if value]
    told = f"As the customer stated, not verified: {', '.join(supplied)}." if supplied else ""
    closing = [
        para(f"Authorised by {certificate.issued_by}", CELL_BOLD),
        para(
            f"{certificate.shop.name}, {when(certificate.issued_at, certificate.display)}. "
            f"Certificate {certificate.title}."
        ),
        para(
            f"Made with shopflow {certificate.software}. The session files are attached inside "
            "this PDF; anyone can work the figures out again from them.",
            SMALL,
        ),
    ]
    return [
        *heading("Method"),
        para(f"{METHOD} {DEPARTURES}", BODY),
        *heading("Uncertainty"),
        para(UNCERTAINTY),
        *heading("Scope"),
        para(f"{SCOPE} {told}".strip()),
        para(SET_UP),
        gap(8),
        KeepTogether([boxed(closing, width), gap(6), para("— End of certificate —", SMALL)]),
    ]
