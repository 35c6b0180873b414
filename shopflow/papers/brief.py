"""A certificate's results in brief: each test on a line, and what each change was worth."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.platypus import Flowable

from shopflow.calc.result import Result
from shopflow.calc.results import FLOW_AS_TESTED, FLOW_STANDARD
from shopflow.documents import AreaGain, FlowCertificate, Gain, SessionResult
from shopflow.papers import earlier_results
from shopflow.papers.numbers import changed, figure, stated
from shopflow.papers.style import STRONG, heading, para
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext, listed, translated
from shopflow.units import UnitSystem, pretty


def in_brief(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Each test on a line: its highest flow, its mean area, and what it gained."""
    test, *figures = brief_titles(certificate)
    widths = (50, 56, 36, 40, 74, 36, 60) if _is_as_tested(certificate) else (62, 0, 46, 66, 56)
    columns = [
        Column(test, share=1),
        *(
            Column(title, figures=True, width=wide)
            for title, wide in zip(figures, widths, strict=True)
        ),
    ]
    rows = brief_rows(certificate)
    return [*heading(_title(certificate)), grid(columns, rows, width, 1.2)]


def _title(certificate: FlowCertificate) -> str:
    """The heading, with the flow that the certificate leads with; older ones do not name it."""
    if not certificate.is_in_standard_air:
        return gettext("Results in brief")
    pressures = dict.fromkeys(item.reference_pressure for item in certificate.sessions)
    return gettext(
        "Results in brief: flow at {pressure} in standard air", pressure=listed(pressures)
    )


def conclusion_block(certificate: FlowCertificate) -> list[Flowable]:
    """Each comparison in one sentence; nothing where nothing is compared."""
    sentences = [
        para(f"{translated(gain.side).capitalize()}: {gain.conclusion}", STRONG)
        for gain in certificate.gains
        if gain.conclusion
    ]
    return [*heading(gettext("Conclusion")), *sentences] if sentences else []


def brief_titles(certificate: FlowCertificate) -> tuple[str, ...]:
    """The headings over `brief_rows`."""
    units = certificate.display.units
    flow, area = pretty(units.unit("flow")), pretty(units.unit("port area"))
    lift = gettext("at lift, {unit}", unit=pretty(units.unit("lift")))
    if not _is_as_tested(certificate):
        return (
            gettext("Test"),
            gettext("Highest flow, {flow}", flow=flow),
            "± U",
            lift,
            gettext("Mean flow, {flow}", flow=flow),
            gettext("Mean gain, %"),
        )
    return (
        gettext("Test"),
        gettext("Tested at"),
        gettext("Highest flow, {flow}", flow=flow)
        if certificate.is_in_standard_air
        else gettext("Highest flow as tested, {flow}", flow=flow),
        "± U",
        lift,
        gettext("Mean effective area, {area}", area=area),
        "± U",
        gettext("Gain, %"),
    )


def brief_rows(certificate: FlowCertificate) -> list[list[str]]:
    """Each test's results in brief, in the certificate's own units."""
    units, pairs = certificate.display.units, _with_gains(certificate)
    if not _is_as_tested(certificate):
        return [earlier_results.brief_row(session, gain, units) for session, gain in pairs]
    flow = FLOW_STANDARD if certificate.is_in_standard_air else FLOW_AS_TESTED
    return [_row(session, gain, units, flow) for session, gain in pairs]


def _is_as_tested(certificate: FlowCertificate) -> bool:
    return all(session.is_as_tested for session in certificate.sessions)


def _row(session: SessionResult, gain: Gain | None, units: UnitSystem, flow: Result) -> list[str]:
    best = max(session.points, key=lambda point: point.value(flow.key) or 0.0)
    uncertainty = best.margin(flow.key) if best.margins else None
    return [
        session.title,
        session.test_pressure,
        *stated(units, best.value(flow.key), uncertainty, "flow"),
        figure(units, best.lift, "lift"),
        *stated(units, session.mean_area, session.mean_area_uncertainty, "port area"),
        _gain_with_margin(gain.mean if gain else None),
    ]


def _gain_with_margin(gain: AreaGain | None) -> str:
    if gain is None:
        return "–"
    change, uncertainty = changed(gain.gain, gain.expanded_uncertainty)
    return change if gain.expanded_uncertainty is None else f"{change} ± {uncertainty}"


def _with_gains(certificate: FlowCertificate) -> Iterator[tuple[SessionResult, Gain | None]]:
    """Each session with what it gained, which the first one of a port cannot have."""
    left = list(certificate.gains)
    ports_before: set[tuple[str, str]] = set()
    for session in certificate.sessions:
        port = (session.side, session.cylinder)
        of_it = [item for item in left if (item.side, item.after) == (session.side, session.name)]
        gain = of_it[0] if of_it and port in ports_before else None
        if gain is not None:
            left.remove(gain)
        ports_before.add(port)
        yield session, gain
