"""A certificate's tables: results in brief, each test's, and gains."""

from __future__ import annotations

from collections.abc import Iterator

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.documents import AreaGain, Display, FlowCertificate, Gain, GainPoint, SessionResult
from shopflow.papers.budget import budget_block
from shopflow.papers.port import along_port_block
from shopflow.papers.style import HEADING, NOTE, SMALL, STRONG, gap, heading, para
from shopflow.papers.tables import Column, facts, grid
from shopflow.units import UnitSystem, pretty

NOT_SHOWN = "not shown to differ"
NOT_STATED = "not stated"


def in_brief(certificate: FlowCertificate, width: float) -> list[Flowable]:
    """Each test on a line: its highest flow, its mean area, and what it gained."""
    test, *figures = brief_titles(certificate)
    widths = (50, 56, 40, 40, 60, 40, 60) if _is_as_tested(certificate) else (62, 0, 46, 66, 56)
    columns = [
        Column(test, share=1),
        *(
            Column(title, figures=True, width=wide)
            for title, wide in zip(figures, widths, strict=True)
        ),
    ]
    rows = brief_rows(certificate)
    return [*heading("Results in brief"), grid(columns, rows, width, 2.2)]


def conclusion_block(certificate: FlowCertificate) -> list[Flowable]:
    """Each comparison in one sentence; nothing where nothing is compared."""
    told = [
        para(f"{gain.side.capitalize()}: {gain.conclusion}", STRONG)
        for gain in certificate.gains
        if gain.conclusion
    ]
    return [*heading("Conclusion"), *told] if told else []


def brief_titles(certificate: FlowCertificate) -> tuple[str, ...]:
    """The headings over `brief_rows`."""
    units = certificate.display.units
    flow, area = pretty(units.unit("flow")), pretty(units.unit("port area"))
    lift = f"at lift, {pretty(units.unit('lift'))}"
    if not _is_as_tested(certificate):
        return ("Test", f"Highest flow, {flow}", "± U", lift, f"Mean flow, {flow}", "Mean gain, %")
    return (
        "Test",
        "Tested at",
        f"Highest flow as tested, {flow}",
        "± U",
        lift,
        f"Mean effective area, {area}",
        "± U",
        "Gain in it, %",
    )


def brief_rows(certificate: FlowCertificate) -> list[list[str]]:
    """Each test's results in brief, in the certificate's own units."""
    row = _as_tested_row if _is_as_tested(certificate) else _earlier_row
    units = certificate.display.units
    return [row(session, gain, units) for session, gain in _with_gains(certificate)]


def _is_as_tested(certificate: FlowCertificate) -> bool:
    return all(session.is_as_tested for session in certificate.sessions)


def _as_tested_row(session: SessionResult, gain: Gain | None, units: UnitSystem) -> list[str]:
    best = max(session.points, key=lambda point: point.flow_as_tested or 0.0)
    return [
        _title(session),
        session.test_pressure,
        figure(units, best.flow_as_tested, "flow"),
        margin(units, best.margins.flow_as_tested if best.margins else None, "flow"),
        figure(units, best.lift, "lift"),
        figure(units, session.mean_area, "port area"),
        margin(units, session.mean_area_uncertainty, "port area"),
        _gain_with_margin(gain.mean if gain else None),
    ]


def _earlier_row(session: SessionResult, gain: Gain | None, units: UnitSystem) -> list[str]:
    """A row of a certificate from before the flow as tested was printed."""
    best = max(session.points, key=lambda point: point.flow)
    return [
        _title(session),
        figure(units, best.flow, "flow"),
        figure(units, best.expanded_uncertainty or None, "flow"),
        figure(units, best.lift, "lift"),
        figure(units, session.mean_flow, "flow"),
        percent(gain.mean_gain_percent if gain else None),
    ]


def _gain_with_margin(gain: AreaGain | None) -> str:
    if gain is None:
        return "–"
    uncertainty = gain.expanded_uncertainty
    stated = "" if uncertainty is None else f" ± {100.0 * uncertainty:.1f}"
    return f"{percent(100.0 * gain.gain)}{stated}"


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
        CondPageBreak(120 * mm),
        para(_title(session), HEADING),
        *facts(_conditions(session, display), width),
        gap(2),
        para(
            f"Calibration relied on: {session.calibration or 'not recorded'}",
            STRONG if session.calibration_overdue else SMALL,
        ),
        gap(4),
        *_results(session, display.units, width),
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
        ("Restated to", session.reference_pressure),
        ("Mean flow by the root", units.text(session.mean_flow, "flow")),
    ]


def _results(session: SessionResult, units: UnitSystem, width: float) -> list[Flowable]:
    """The flows, as tested first; then coefficients and what a port area gives."""
    if not session.is_as_tested:
        return [_earlier_results(session, units, width)]
    return [
        grid(_flow_columns(session, units), _flow_rows(session, units), width, 1.8),
        gap(2),
        para(FLOWS.format(reference=session.reference_pressure), NOTE),
        CondPageBreak(60 * mm),
        gap(3),
        para("Coefficients, velocity and energy", STRONG),
        grid(_coefficient_columns(session, units), _coefficient_rows(session, units), width, 1.8),
    ]


FLOWS = (
    "As tested: corrected, at the test pressure. Isentropic: through the same effective area at "
    "{reference}. Root: at {reference} by the square root of the pressures, a convention. All at "
    "room-air density; U for 95 %."
)


def _headed(name: str, kind: str, units: UnitSystem) -> Column:
    return Column(f"{name}, {pretty(units.unit(kind))}", figures=True)


def _flow_columns(session: SessionResult, units: UnitSystem) -> list[Column]:
    reference = session.reference_pressure
    return [
        _headed("Lift", "lift", units),
        Column("L/D", figures=True),
        Column("Runs", figures=True),
        _headed(f"Flow as tested at {session.test_pressure}", "flow", units),
        Column("± U", figures=True),
        _headed(f"At {reference}, isentropic", "flow", units),
        _headed(f"At {reference}, root", "flow", units),
        _headed("Effective area", "port area", units),
        Column("± U", figures=True),
    ]


def _flow_rows(session: SessionResult, units: UnitSystem) -> list[list[str]]:
    return [
        [
            units.number(point.lift, "lift"),
            coefficient(point.lift_over_diameter),
            str(point.runs),
            figure(units, point.flow_as_tested, "flow"),
            margin(units, point.margins.flow_as_tested if point.margins else None, "flow"),
            figure(units, point.flow_isentropic, "flow"),
            figure(units, point.flow, "flow"),
            f"{figure(units, point.effective_area, 'port area')}{', choked' * point.choked}",
            margin(units, point.margins.effective_area if point.margins else None, "port area"),
        ]
        for point in session.points
    ]


COEFFICIENTS = {
    "cd_curtain": "Cd curtain",
    "cd_head": "Cd head",
    "cd_least_area": "Cd least area",
}
OF_THE_PORT = {
    "velocity": ("Velocity", "velocity"),
    "kinetic_energy_flux": ("Kinetic energy flux", "power"),
}


def _coefficient_columns(session: SessionResult, units: UnitSystem) -> list[Column]:
    columns = [_headed("Lift", "lift", units)]
    for name, title in COEFFICIENTS.items():
        if _has(session, name):
            columns += [Column(title, figures=True), Column("± U", figures=True)]
    for name, (title, kind) in OF_THE_PORT.items():
        if _has(session, name):
            columns += [_headed(title, kind, units), Column("± U", figures=True)]
    return columns


def _coefficient_rows(session: SessionResult, units: UnitSystem) -> list[list[str]]:
    rows = []
    for point in session.points:
        cells = [units.number(point.lift, "lift")]
        for name in COEFFICIENTS:
            if _has(session, name):
                uncertainty = getattr(point.margins, name, None)
                cells.append(coefficient(getattr(point, name)))
                cells.append(NOT_STATED if point.margins is None else coefficient(uncertainty))
        for name, (_, kind) in OF_THE_PORT.items():
            if _has(session, name):
                cells.append(figure(units, getattr(point, name), kind))
                cells.append(margin(units, getattr(point.margins, name, None), kind))
        rows.append(cells)
    return rows


def _has(session: SessionResult, name: str) -> bool:
    return any(getattr(point, name) is not None for point in session.points)


def _earlier_results(session: SessionResult, units: UnitSystem, width: float) -> Flowable:
    """The table of a certificate from before the flow as tested was printed."""
    columns = [
        _headed("Lift", "lift", units),
        Column("L/D", figures=True),
        Column("Runs", figures=True),
        _headed("Flow", "flow", units),
        _headed("± U", "flow", units),
        Column("Cd curtain", figures=True),
        Column("Cd head", figures=True),
        Column("Cd least area", figures=True),
        _headed("Velocity", "velocity", units),
        _headed("Kinetic energy flux", "power", units),
    ]
    rows = [
        [
            units.number(point.lift, "lift"),
            coefficient(point.lift_over_diameter),
            str(point.runs),
            figure(units, point.flow, "flow"),
            figure(units, point.expanded_uncertainty or None, "flow"),
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
    """What a change was worth in effective area, lift by lift, flow beside it."""
    title = f"{gain.side.capitalize()}: {gain.after} against {gain.before}"
    story: list[Flowable] = [CondPageBreak(60 * mm), para(title, HEADING)]
    if not gain.points:
        return [*story, para("The two tests have no lifts in common to compare.")]
    if gain.mean is None:
        return [*story, *_earlier_gain(gain, display.units, width)]
    rows = [
        *(_gain_row(point, display.units) for point in gain.areas),
        ["Mean", *_gain_row(gain.mean, display.units)[1:]],
    ]
    return [
        *story,
        grid(_gain_columns(display.units), rows, width, 1.8),
        gap(2),
        para(f"Flow at {gain.flow_at}. U for 95 %.", NOTE),
        gap(2),
        para(gain.conclusion, STRONG),
        *(para(text, NOTE) for text in gain.reasons),
    ]


def _gain_columns(units: UnitSystem) -> list[Column]:
    return [
        _headed("Lift", "lift", units),
        _headed("Area before", "port area", units),
        _headed("Area after", "port area", units),
        _headed("Flow before", "flow", units),
        _headed("Flow after", "flow", units),
        Column("Gain, %", figures=True),
        Column("± U, %", figures=True),
        Column("Verdict", width=96),
    ]


def _gain_row(gain: AreaGain, units: UnitSystem) -> list[str]:
    uncertainty = gain.expanded_uncertainty
    return [
        units.number(gain.low, "lift"),
        figure(units, gain.area_before, "port area"),
        figure(units, gain.area_after, "port area"),
        figure(units, gain.flow_before, "flow"),
        figure(units, gain.flow_after, "flow"),
        percent(100.0 * gain.gain),
        NOT_STATED if uncertainty is None else f"{100.0 * uncertainty:.1f}",
        gain.finding or gain.verdict,
    ]


def _earlier_gain(gain: Gain, units: UnitSystem, width: float) -> list[Flowable]:
    """The table of a certificate from before gains were judged on the effective area."""
    flow = pretty(units.unit("flow"))
    columns = [
        _headed("Lift", "lift", units),
        Column(f"Before, {flow}", figures=True),
        Column(f"After, {flow}", figures=True),
        Column(f"Gain, {flow}", figures=True),
        Column(f"± U, {flow}", figures=True),
        Column("Gain, %", figures=True),
        Column("Finding", width=96),
    ]
    rows = [
        [
            units.number(point.lift, "lift"),
            figure(units, point.before, "flow"),
            figure(units, point.after, "flow"),
            signed(figure(units, point.gain, "flow")),
            figure(units, point.expanded_uncertainty or None, "flow"),
            percent(point.gain_percent),
            _finding(point),
        ]
        for point in gain.points
    ]
    mean = f"Mean gain over the lifts in common: {percent(gain.mean_gain_percent)} %"
    told = [gap(3), para(mean, STRONG)] if gain.mean_gain_percent is not None else []
    return [grid(columns, rows, width, 1.8), *told]


def _finding(point: GainPoint) -> str:
    if not point.expanded_uncertainty:
        return "uncertainty not stated"
    if not point.significant:
        return NOT_SHOWN
    return "gain" if point.gain > 0 else "loss"


def figure(units: UnitSystem, si: float | None, kind: str) -> str:
    """A figure without its unit, a true minus before what is negative."""
    return units.number(si, kind).replace("-", "−")


def margin(units: UnitSystem, expanded: float | None, kind: str) -> str:
    """An expanded uncertainty in its figure's unit; one not stated is said to be, and is not 0."""
    return NOT_STATED if expanded is None else figure(units, expanded, kind)


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
