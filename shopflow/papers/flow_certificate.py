"""The flow certificate: what was tested, how, with what result, and what the result is worth."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, HRFlowable, KeepTogether

from shopflow.calc.results import FLOW_STANDARD
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.charts import Chart, layout
from shopflow.charts.paper import ChartFlowable
from shopflow.documents import FlowCertificate, SessionResult
from shopflow.papers.brief import conclusion_block, in_brief
from shopflow.papers.budget import budget_block
from shopflow.papers.conditions import conditions_block
from shopflow.papers.curves import MOST_CURVES, batches, coefficient_chart, flow_chart
from shopflow.papers.description import Attachment
from shopflow.papers.explained import explained_block
from shopflow.papers.flow_test import coefficients_block, flows_note, session_block
from shopflow.papers.gains import gain_block, gain_chart
from shopflow.papers.qr_code import Corner, ScanCode
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import (
    BODY,
    CENTRED,
    HEADING,
    RULE,
    SMALL,
    SMALLEST,
    STRONG,
    SUBTITLE,
    TITLE,
    beside,
    gap,
    heading,
    one_line,
    para,
    paragraphs,
)
from shopflow.papers.tables import beside_each_other, boxed, facts, half_of
from shopflow.papers.tested_ports import tested_ports_block
from shopflow.papers.work_order import job_rows
from shopflow.units import pretty

CROWDED = (
    "Drawn in several charts to keep the curves apart. Of a port with more than eight tests the "
    "first and the latest seven are drawn; the tables list all of them."
)
CODE = 22 * mm
CHART_HEIGHT = 150.0
GAIN_HEIGHT = 92.0
"""Points; the first page holds the gain and who authorized it."""

CHART_TYPE = SMALLEST


def flow_certificate(certificate: FlowCertificate, *, draft: bool = False) -> bytes:
    """The certificate as PDF, its session files attached.

    A draft is marked as one on every page, and has neither code nor authorisation.
    """
    head = certificate.head
    sheet = Sheet(
        certificate.shop,
        certificate.display,
        "Flow certificate",
        certificate.title,
        certificate.issued_at,
        subject=f"Flow test of {head.engine_type}, head {head.tag}",
        keywords=_keywords(certificate),
        mark="Draft, not issued" if draft else "",
    )
    width = sheet.width
    story = [
        *_top(certificate, width),
        *conclusion_block(certificate),
        *in_brief(certificate, width),
        *tested_ports_block(certificate, width),
        *_gain_drawn(certificate, width),
        *_authority_block(certificate, width, draft=draft),
        *_flow_charts(certificate, width),
    ]
    for gain in certificate.gains:
        story += gain_block(gain, certificate.display, width)
    story += conditions_block(certificate.sessions, certificate.display, width)
    story += flows_note(certificate.sessions)
    for session in certificate.sessions:
        story += session_block(session, certificate.display, width)
    story += [*_terms(certificate, width), *_end_mark(certificate), *_annex(certificate, width)]
    return sheet.build(story, _attachments(certificate.sessions))


def _keywords(certificate: FlowCertificate) -> tuple[str, ...]:
    """Keywords by which a reader may search for this certificate."""
    head = certificate.head
    named = (certificate.number, certificate.job.number, head.tag, head.casting_number, head.serial)
    return ("flow certificate", *(text for text in (*named, head.engine_type) if text))


def _attachments(sessions: Sequence[SessionResult]) -> list[Attachment]:
    """The session files, each under a name of its own."""
    texts: dict[str, str] = {}
    for number, session in enumerate(sessions, start=1):
        name = session.file_name or f"session-{number}.toml"
        texts[name if name not in texts else f"{number}-{name}"] = session.file_text
    return [Attachment(name, text) for name, text in texts.items()]


def _top(certificate: FlowCertificate, width: float) -> list[Flowable]:
    top: list[Flowable] = []
    aside = 0.0
    if certificate.url:
        top.append(Corner(ScanCode(certificate.url, CODE), width))
        aside = CODE + 6 * mm
    head = certificate.head
    top += [
        para("Flow certificate", beside(TITLE, aside)),
        para(f"{head.engine_type}, head {head.tag}", beside(SUBTITLE, aside)),
    ]
    if certificate.revision > 1:
        before = certificate.revision - 1
        text = f"Revision {certificate.revision}; replaces revision {before}."
        reason = certificate.revision_reason or "not recorded"
        top += [boxed([para(f"{text} Reason: {reason}", STRONG)], width - aside), gap(4)]
    return [*top, *facts(_item(certificate), width - aside)]


def _item(certificate: FlowCertificate) -> list[tuple[str, str]]:
    """Item tested, with customer, date and place."""
    head, display = certificate.head, certificate.display
    location = ", ".join(
        text for text in (certificate.shop.name, one_line(certificate.shop.address)) if text
    )
    return [
        ("Customer", certificate.customer.name),
        ("Address", one_line(certificate.customer.address)),
        ("Job", certificate.job.number),
        ("Received", display.moment(certificate.job.booked_in)),
        ("Tested", tested(certificate)),
        ("Issued", display.moment(certificate.issued_at) if certificate.issued_by else "not yet"),
        ("Place of work", location),
        ("Casting number", head.casting_number or "not recorded"),
        ("Serial", head.serial or "not recorded"),
        ("Also known by", certificate.identification),
        ("Material", head.material),
        ("Ports", head.ports),
        ("Chamber", head.chamber),
        ("Condition", f"as received: {head.condition}" if head.condition else "not recorded"),
    ]


def tested(certificate: FlowCertificate) -> str:
    """The day of its first and of its last test."""
    moments = sorted(item.measured_at for item in certificate.sessions if item.measured_at)
    days = dict.fromkeys(certificate.display.moment(value) for value in moments[:1] + moments[-1:])
    return " to ".join(days) or "not recorded"


def _gain_drawn(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """The gain of each port lift by lift, where any is stated."""
    chart = gain_chart(certificate.gains, certificate.display.units)
    if not chart.series:
        return []
    return [KeepTogether(_chart_under(chart.title, chart, width, GAIN_HEIGHT))]


def _flow_charts(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Flow of each side with its uncertainty, two charts beside each other."""
    crowded = len(certificate.sessions) > MOST_CURVES
    blocks: list[list[Flowable]] = []
    for batch in _by_side(certificate):
        title = f"{_flow_title(batch)}{_ports(batch) if crowded else ''}"
        chart = flow_chart(
            f"{title} of head {certificate.head.tag}", batch, certificate.display.units
        )
        blocks.append(_chart_under(f"{title}, with its uncertainty", chart, half_of(width)))
    note = [para(CROWDED, SMALL)] if crowded else []
    return [*beside_each_other(blocks, width), *note]


def _coefficient_charts(certificate: FlowCertificate, width: float) -> list[Flowable]:
    crowded = len(certificate.sessions) > MOST_CURVES
    blocks: list[list[Flowable]] = []
    for batch in _by_side(certificate):
        title = f"Discharge coefficient on curtain area: {batch[0].side}"
        title += _ports(batch) if crowded else ""
        blocks.append(_chart_under(title, coefficient_chart(batch), half_of(width)))
    return beside_each_other(blocks, width)


def _by_side(certificate: FlowCertificate) -> list[list[SessionResult]]:
    """The tests of each side, as many together as one chart shows."""
    sides = [
        [item for item in certificate.sessions if item.side == side]
        for side in ("intake", "exhaust")
    ]
    return [batch for sessions in sides for batch in batches(sessions)]


STANDARD_AIR = f"air of {STANDARD_DENSITY} {pretty('kg/m3')}"


def _flow_title(batch: Sequence[SessionResult]) -> str:
    """Title of a chart of flow: the flow that verdicts rest on, or of older tests the flow by the
    root."""
    stated = dict.fromkeys(session.reference_pressure for session in batch)
    at = f"{batch[0].side.capitalize()} flow at {' and '.join(stated)}"
    is_standard = all(point.value(FLOW_STANDARD.key) for item in batch for point in item.points)
    return f"{at} in {STANDARD_AIR}" if is_standard else f"{at} by the root"


def _ports(batch: Sequence[SessionResult]) -> str:
    named = dict.fromkeys(session.cylinder for session in batch if session.cylinder)
    return f", cylinder {', '.join(named)}" if named else ""


def _chart_under(
    title: str, chart: Chart, width: float, height: float = CHART_HEIGHT
) -> list[Flowable]:
    drawing = layout(chart, width, height, CHART_TYPE)
    return [para(title, HEADING), ChartFlowable(drawing)]


def _terms(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Statements on the results: departures, doubts, opinions, scope."""
    stated = [(name, value) for name, value in job_rows(certificate.job) if value]
    return [
        *heading("Changes from the standard method, and set-up"),
        *paragraphs((certificate.departures, certificate.set_up)),
        *_answers(certificate),
        *_opinions(certificate),
        *heading("Stated by the customer, not verified"),
        *(facts(stated, width) or [para("Nothing was recorded.")]),
        *heading("Scope"),
        *paragraphs(certificate.scope),
    ]


def _annex(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Method, uncertainty with each test's budget, and how the numbers are made."""
    story: list[Flowable] = [
        gap(10),
        CondPageBreak(60 * mm),
        para(f"Annex to certificate {certificate.title}", TITLE),
        *_coefficients(certificate, width),
        *heading("Method"),
        *paragraphs((*certificate.method, certificate.compared_with)),
        *heading("Uncertainty"),
        *paragraphs(certificate.uncertainty),
    ]
    for session in _budgeted(certificate.sessions):
        story += budget_block(session, certificate.display, width)
    return [*story, *explained_block(certificate.explained)]


def _budgeted(sessions: Sequence[SessionResult]) -> list[SessionResult]:
    """The tests whose budgets are printed: of many the one with the highest flow of each side.

    The others' follow from their files, which are attached.
    """
    if len(sessions) <= MOST_CURVES:
        return list(sessions)
    sides = dict.fromkeys(item.side for item in sessions)
    return [
        max((item for item in sessions if item.side == side), key=_highest_flow) for side in sides
    ]


def _highest_flow(session: SessionResult) -> float:
    return max(point.flow for point in session.points)


def _coefficients(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Coefficients, velocity and energy of each test, with their charts."""
    tables = [
        part
        for session in certificate.sessions
        for part in coefficients_block(session, certificate.display, width)
    ]
    charts = _coefficient_charts(certificate, width)
    return [*heading("Coefficients, velocity and energy"), *charts, *tables]


def _answers(certificate: FlowCertificate) -> list[Flowable]:
    if not certificate.answers:
        return []
    sentences = [f"{item.doubt} Answer: {item.answer}" for item in certificate.answers]
    return [*heading("Doubtful results, and what the shop says of them"), *paragraphs(sentences)]


def _opinions(certificate: FlowCertificate) -> list[Flowable]:
    if not certificate.opinions:
        return []
    return [
        *heading("Opinions of the shop"),
        para("What follows is opinion. It was not measured.", SMALL),
        *paragraphs(certificate.opinions),
    ]


def _authority_block(certificate: FlowCertificate, width: float, *, draft: bool) -> list[Flowable]:
    """Authority and verification of the certificate."""
    content = [para("Not issued", STRONG)] if draft else _authority(certificate)
    return [gap(5), KeepTogether([boxed(content, width)])]


def _authority(certificate: FlowCertificate) -> list[Flowable]:
    day = certificate.display.moment(certificate.issued_at)
    return [
        para(f"Authorized by {certificate.issued_by}", STRONG),
        para(f"{certificate.shop.name}, {day}. Certificate {certificate.title}.", BODY),
        *(para(text, BODY) for text in _checked(certificate)),
        para(f"Verification code {certificate.verification_code}", BODY),
        para(_verifying(certificate), SMALL),
        para(
            f"Made with shopflow {certificate.software}. The test files are attached inside this "
            "PDF; anyone can calculate the results again from them.",
            SMALL,
        ),
    ]


def _checked(certificate: FlowCertificate) -> list[str]:
    """User who checked it, with the statement where the writer did."""
    if not certificate.checked_by:
        return []
    day = certificate.display.moment(certificate.checked_at)
    who = f"Checked by {certificate.checked_by}, {day}"
    if certificate.checked_by == certificate.drafted_by:
        who += ", who drafted it too"
    statement = f": “{certificate.check_statement}”" if certificate.check_statement else ""
    return [f"{who}{statement}." if not statement else f"{who}{statement}"]


def _verifying(certificate: FlowCertificate) -> str:
    if certificate.verify_at:
        location = f"at {certificate.verify_at}, or scan the code on the first page"
    else:
        location = "with the shop that issued it"
    return f"To verify it, give its number and this code, or the PDF itself, {location}."


def _end_mark(certificate: FlowCertificate) -> list[Flowable]:
    return [
        gap(10),
        HRFlowable(width="100%", thickness=0.6, color=RULE, spaceBefore=0, spaceAfter=4),
        para(f"End of certificate {certificate.title}", CENTRED),
    ]
