"""Report of one engine type, for page and paper: gains by step, the best heads, their photos."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents.engine_type_report import EngineTypeReport, SideOfType
from shopflow.papers.language import in_its_language
from shopflow.papers.photos import photo_rows
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, SUBTITLE, gap, heading, paper_title, para
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem, pretty

UNKNOWN = "–"
ABOUT = (
    lazy(
        "Gains are in mean effective area over the whole lift, from one flow test of a port to "
        "its next, with all steps that cut metal in between. A step done with others counts with "
        "them, never alone."
    ),
    lazy(
        "Expected is what nine of ten further heads should show: this type's own heads weigh most, "
        "those of other types help where it has few. Fewer than five heads say nothing."
    ),
    lazy(
        "A head counts once, by its best test after work. Flows are at 28 inH2O in the standard "
        "air. They are this shop's own tests, and no promise."
    ),
)
"""Method behind the report."""


@in_its_language
def engine_type_report(content: EngineTypeReport) -> bytes:
    """The report as PDF."""
    title = gettext("What worked on this engine type")
    frame = Sheet(content.shop, content.display, title, content.name, content.made_at)
    return frame.build(_story(content, frame.width))


def _story(content: EngineTypeReport, width: float) -> list[Flowable]:
    calculated = (gettext("Calculated"), content.display.moment(content.made_at))
    story: list[Flowable] = [
        paper_title(gettext("What worked: {engine}", engine=content.name)),
        para(gettext("The shop's past heads of this type, by step and by head."), SUBTITLE),
        *facts([*content.facts, calculated], width),
        gap(8),
    ]
    if content.is_empty:
        return [*story, para(gettext("No head of this type was tested after work yet."))]
    if content.gains:
        story += [
            *heading(gettext("Gain by step"), 30 * mm),
            grid(gain_columns(), gain_rows(content), width),
        ]
    for side in content.sides:
        if side.best:
            story += [
                *heading(side_title(side), 40 * mm),
                grid(best_columns(content.display.units), best_rows(content, side), width),
                para(basis(side, content.display.units), NOTE),
            ]
    if content.photos:
        story += [*heading(gettext("Photos of these heads"), 55 * mm)]
        story += photo_rows(content.photos, width)
    return [*story, gap(4), *(para(text, NOTE) for text in ABOUT)]


def gain_columns() -> list[Column]:
    """Columns of `gain_rows`."""
    return [
        Column(gettext("Steps"), share=0.32),
        Column(gettext("Side"), share=0.1),
        Column(gettext("Heads"), figures=True),
        Column(gettext("Gain seen"), share=0.18),
        Column(gettext("Expected of the next"), share=0.32),
    ]


def gain_rows(content: EngineTypeReport) -> list[list[str]]:
    """Each set of steps with what it gained, and what may be expected of it."""
    return [
        [
            gain.steps,
            translated(gain.side).capitalize(),
            str(gain.heads),
            gain.seen,
            f"{gain.expected}, {gain.source}" if gain.expected else gettext("too few heads to say"),
        ]
        for gain in content.gains
    ]


def side_title(side: SideOfType) -> str:
    """Heading of the best heads of a side."""
    return (
        gettext("Best heads, intake") if side.side == "intake" else gettext("Best heads, exhaust")
    )


def best_columns(units: UnitSystem) -> list[Column]:
    """Columns of `best_rows`, with their units."""
    flow, lift, area = (pretty(units.unit(kind)) for kind in ("flow", "lift", "port area"))
    return [
        Column(gettext("Head"), share=0.16),
        Column(gettext("Mean flow, {unit}", unit=flow), figures=True),
        Column(gettext("Peak, {unit}", unit=flow), figures=True),
        Column(gettext("at lift, {unit}", unit=lift), figures=True),
        Column(gettext("Gain"), figures=True),
        Column(gettext("Valve, {unit}", unit=lift), figures=True),
        Column(gettext("Seat"), figures=True),
        Column(gettext("Throat, %"), figures=True),
        Column(gettext("Port, {unit}", unit=area), figures=True),
        Column(gettext("Work"), share=0.2),
    ]


def best_rows(content: EngineTypeReport, side: SideOfType) -> list[list[str]]:
    """Each of the best heads with its flow, sizes and work."""
    units, display = content.display.units, content.display
    return [
        [
            f"{head.place}. {head.tag}, {display.moment(head.tested)}",
            units.number(head.mean_flow, "flow"),
            units.number(head.peak_flow, "flow"),
            units.number(head.peak_lift, "lift"),
            head.gain or UNKNOWN,
            _valve(head.valve_count, units.number(head.valve_diameter, "lift")),
            UNKNOWN if head.seat_angle is None else f"{head.seat_angle:.4g}°",
            UNKNOWN if head.throat_ratio is None else f"{100.0 * head.throat_ratio:.0f}",
            UNKNOWN if head.port_area is None else units.number(head.port_area, "port area"),
            head.steps or UNKNOWN,
        ]
        for head in side.best
    ]


def _valve(count: int, diameter: str) -> str:
    return diameter if count == 1 else f"{count} × {diameter}"


def basis(side: SideOfType, units: UnitSystem) -> str:
    """Basis of the ranking of a side, in a sentence."""
    if side.lifts is None:
        return gettext(
            "Ranked by peak flow: these tests have no range of lift in common. Throat is over "
            "valve head diameter."
        )
    low, high = side.lifts
    return gettext(
        "Mean flow from {low} to {high} of lift, which all of these tests have. Throat is over "
        "valve head diameter.",
        low=units.number(low, "lift"),
        high=units.text(high, "lift"),
    )
