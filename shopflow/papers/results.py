"""A certificate's tables: results in brief, each session's, and gains."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.papers.budget import budget_block
from shopflow.papers.data import Display, FlowCertificate, Gain, GainPoint, SessionResult
from shopflow.papers.port import along_port_block
from shopflow.papers.style import HEADING, NOTE, SMALL, STRONG, gap, heading, para
from shopflow.papers.tables import Column, facts, grid
from shopflow.units import UnitSystem, pretty

NOT_SHOWN = "not shown to differ"


def in_brief(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Each session on a line: its best flow, its mean, and what it gained over the first."""
    session, *figures = brief_titles(certificate.display.units)
    widths = (62, 0, 46, 66, 56)
    columns = [
        Column(session, share=1),
        *(
            Column(title, figures=True, width=wide)
            for title, wide in zip(figures, widths, strict=True)
        ),
    ]
    rows = brief_rows(certificate)
    return [*heading("Results in brief"), grid(columns, rows, width, 2.2)]


def brief_titles(units: UnitSystem) -> tuple[str, ...]:
    """The headings over `brief_rows`."""
    flow = pretty(units.unit("flow"))
    return (
        "Session",
        f"Highest flow, {flow}",
        "± U",
        f"at lift, {pretty(units.unit('lift'))}",
        f"Mean over lifts, {flow}",
        "Mean gain, %",
    )


def brief_rows(certificate: FlowCertificate) -> list[list[str]]:
    """Each session's results in brief, in the certificate's own units."""
    units = certificate.display.units
    rows = []
    for session, gain in _with_gains(certificate):
        best = max(session.points, key=lambda point: point.flow)
        rows.append(
            [
                _title(session),
                figure(units, best.flow, "flow"),
                margin(units, best.expanded_uncertainty),
                figure(units, best.lift, "lift"),
                figure(units, session.mean_flow, "flow"),
                percent(gain.mean_gain_percent if gain else None),
            ]
        )
    return rows


def _with_gains(certificate: FlowCertificate) -> Iterator[tuple[SessionResult, Gain | None]]:
    """Each session with what it gained, which the first one of a port cannot have."""
    left = list(certificate.gains)
    seen: set[tuple[str, str]] = set()
    for session in certificate.sessions:
        port = (session.side, session.cylinder)
        of_it = [item for item in left if (item.side, item.after) == (session.side, session.name)]
        gain = of_it[0] if of_it and port in seen else None
        if gain is not None:
            left.remove(gain)
        seen.add(port)
        yield session, gain


def session_block(session: SessionResult, display: Display, width: float) -> list[Flowable]:
    """One session: how it was made, its results, what was left out."""
    story: list[Flowable] = [
        CondPageBreak(90 * mm),
        para(_title(session), HEADING),
        *facts(_conditions(session, display), width),
        gap(2),
        para(
            f"Calibration relied on: {session.calibration or 'not recorded'}",
            STRONG if session.calibration_overdue else SMALL,
        ),
        gap(4),
        _results(session, display.units, width),
    ]
    left_out = [
        f"Left out: reading {item.flow} at {item.lift}. Reason: {item.reason}"
        for item in session.excluded
    ]
    remarks = [f"Remark: {text}" for text in session.warnings]
    opinions = [f"Opinion of the shop, not a result: {text}" for text in session.opinions]
    story += [para(text, NOTE) for text in [*left_out, *remarks, *opinions]]
    story += budget_block(session.budget, display, width)
    if session.along_port is not None:
        story += [gap(6), *along_port_block(session.along_port, display.units, width)]
    return story


def _title(session: SessionResult) -> str:
    return f"{session.side.capitalize()}: {session.name}"


def _conditions(session: SessionResult, display: Display) -> list[tuple[str, str]]:
    units = display.units
    return [
        *((name, value or "not recorded") for name, value in session.conditions),
        ("Air density", units.text(session.air_density, "density")),
        ("Tested", display.moment(session.measured_at, clock=True)),
        ("Operator", session.operator or "not recorded"),
        ("Flow stated at", f"{session.reference_pressure}, room-air density"),
        ("Mean over lifts", units.text(session.mean_flow, "flow")),
    ]


def _results(session: SessionResult, units: UnitSystem, width: float) -> Flowable:
    def column(name: str, kind: str) -> Column:
        return Column(f"{name}, {pretty(units.unit(kind))}", figures=True)

    columns = [
        column("Lift", "lift"),
        Column("L/D", figures=True),
        Column("Runs", figures=True),
        column("Flow", "flow"),
        column("± U", "flow"),
        Column("Cd curtain", figures=True),
        Column("Cd head", figures=True),
        Column("Cd least area", figures=True),
        column("Velocity", "velocity"),
        column("Kinetic energy flux", "power"),
    ]
    rows = [
        [
            units.number(point.lift, "lift"),
            coefficient(point.lift_over_diameter),
            str(point.runs),
            figure(units, point.flow, "flow"),
            margin(units, point.expanded_uncertainty),
            coefficient(point.cd_curtain),
            coefficient(point.cd_head),
            coefficient(point.cd_least_area),
            figure(units, point.velocity, "velocity"),
            figure(units, point.kinetic_energy_flux, "power"),
        ]
        for point in session.points
    ]
    return grid(columns, rows, width, 1.8)


def gain_block(gain: Gain, display: Display, width: float) -> list[Flowable]:
    """What a change was worth, lift by lift."""
    units = display.units
    flow = pretty(units.unit("flow"))
    columns = [
        Column(f"Lift, {pretty(units.unit('lift'))}", figures=True),
        Column(f"Before, {flow}", figures=True),
        Column(f"After, {flow}", figures=True),
        Column(f"Gain, {flow}", figures=True),
        Column(f"± U, {flow}", figures=True),
        Column("Gain, %", figures=True),
        Column("Finding", width=96),
    ]
    title = f"{gain.side.capitalize()}: {gain.after} against {gain.before}"
    story: list[Flowable] = [CondPageBreak(60 * mm), para(title, HEADING)]
    if not gain.points:
        return [*story, para("The two sessions have no lifts in common to compare.")]
    rows = [
        [
            units.number(point.lift, "lift"),
            figure(units, point.before, "flow"),
            figure(units, point.after, "flow"),
            signed(figure(units, point.gain, "flow")),
            margin(units, point.expanded_uncertainty),
            percent(point.gain_percent),
            _finding(point),
        ]
        for point in gain.points
    ]
    mean = f"Mean gain over the lifts in common: {percent(gain.mean_gain_percent)} %"
    said = [gap(3), para(mean, STRONG)] if gain.mean_gain_percent is not None else []
    return [*story, grid(columns, rows, width, 1.8), *said]


def _finding(point: GainPoint) -> str:
    if not point.expanded_uncertainty:
        return "uncertainty not stated"
    if not point.significant:
        return NOT_SHOWN
    return "gain" if point.gain > 0 else "loss"


def figure(units: UnitSystem, si: float | None, kind: str) -> str:
    """A figure without its unit, a true minus before what is negative."""
    return units.number(si, kind).replace("-", "−")


def margin(units: UnitSystem, expanded: float) -> str:
    """An expanded uncertainty of a flow; a dash where none was stated, which is not none at all."""
    return figure(units, expanded or None, "flow")


def signed(number: str) -> str:
    """A number with its sign, where it is not nought.

    >>> signed("4.6"), signed("−0.4"), signed("−0.0")
    ('+4.6', '−0.4', '0.0')
    """
    bare = number.lstrip("−")
    if not bare.strip("0."):
        return bare
    return number if number.startswith("−") else f"+{number}"


def percent(value: float | None) -> str:
    """A change in percent with its sign; a dash where there is none."""
    return "–" if value is None else signed(f"{value:.1f}".replace("-", "−"))


def coefficient(value: float | None) -> str:
    """A bare ratio to three decimals; a dash where there is none."""
    return "–" if value is None else f"{value:.3f}"
