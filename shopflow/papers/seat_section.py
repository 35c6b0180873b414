"""Seat profiles drawn and tabled, the same on paper and on screen."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, KeepTogether

from shopflow.calc.seat_outline import face_line, outline, valve_outline
from shopflow.charts.seat_section import SeatSection, SectionFace, layout_seat
from shopflow.documents.seat import SeatCutRow, SeatSheet
from shopflow.papers.figures import ChartFigure
from shopflow.papers.style import CELL, CELL_BOLD, SMALL, gap, heading, para, subheading
from shopflow.papers.tables import PLAIN, Column, facts, grid, placed
from shopflow.texts import gettext
from shopflow.units import UnitSystem, from_si, pretty

DRAWING = 205.0
"""Width of a drawing on paper, in points."""

BESIDE = 12.0
HEADING_ROOM = 50.0
"""Height of a section's heading and the title of its first profile, with some to spare."""

TYPE = 8.5


def section(sheet: SeatSheet, units: UnitSystem) -> SeatSection:
    """The section of a seat, in the reader's unit."""
    seat, unit = sheet.seat, units.unit("seat")

    def shown(point: tuple[float, float]) -> tuple[float, float]:
        return from_si(point[0], unit), from_si(point[1], unit)

    faces = []
    for row, face in zip(sheet.cuts, seat.faces, strict=True):
        line = face_line(face)
        label = gettext("{angle} seat", angle=row.angle) if row.is_contact else row.angle
        faces.append(
            SectionFace(shown(line.outer), shown(line.inner), label, row.width, row.is_contact)
        )
    points = outline(seat)
    within = min(point[0] for point in points)
    throat = seat.fit.throat_diameter
    return SeatSection(
        title=gettext("{title}: seat in section", title=sheet.title),
        description=sheet.description,
        unit=pretty(unit),
        surface=[shown(point) for point in points],
        faces=faces,
        valve=[shown(point) for point in valve_outline(seat, 0.8 * within)],
        throat=None if throat is None else from_si(throat / 2, unit),
        names=list(_names(sheet, units)),
    )


def _names(sheet: SeatSheet, units: UnitSystem) -> list[tuple[str, str]]:
    fit = sheet.seat.fit
    names = [("metal", gettext("Cut metal")), ("contact", gettext("Contact"))]
    if fit.head_diameter is not None:
        size = units.text(fit.head_diameter, "seat")
        names.append(("valve", gettext("Valve Ø {size}", size=size)))
    if fit.throat_diameter is not None:
        size = units.text(fit.throat_diameter, "seat")
        names.append(("throat", gettext("Throat Ø {size}", size=size)))
    return names


def seat_sheets(
    sheets: Sequence[SeatSheet], units: UnitSystem, width: float, title: str
) -> list[Flowable]:
    """Each profile with its drawing beside its table; nothing where there is none."""
    blocks = [_sheet(sheet, units, width) for sheet in sheets]
    story: list[Flowable] = []
    for index, (block, height) in enumerate(blocks):
        # The heading goes to the next page with the drawing below it.
        story += [gap(8)] if index else heading(title, height + HEADING_ROOM)
        story.append(KeepTogether(block))
    return story


def _sheet(sheet: SeatSheet, units: UnitSystem, width: float) -> tuple[list[Flowable], float]:
    """A profile's drawing beside its table, and the height of the drawing."""
    beside = width - DRAWING - BESIDE
    drawing = ChartFigure(layout_seat(section(sheet, units), DRAWING, TYPE))
    rest: list[Flowable] = [_table(sheet.cuts, beside), gap(3), *facts(list(sheet.facts), beside)]
    if sheet.notes:
        rest.append(para(sheet.notes, SMALL))
    table = placed([[drawing, rest]], colWidths=[DRAWING + BESIDE, beside], hAlign="LEFT")
    table.setStyle([
        *PLAIN,
        *((f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")),
    ])  # fmt: skip
    return [subheading(sheet.title), gap(3), table], drawing.height


def _table(cuts: Sequence[SeatCutRow], width: float) -> Flowable:
    has_blend, has_tool = any(cut.blend_radius for cut in cuts), any(cut.tool for cut in cuts)
    columns = [
        Column(gettext("Cut"), width=44.0),
        Column(gettext("Width"), figures=True),
        Column(gettext("Outer Ø"), figures=True),
        Column(gettext("Inner Ø"), figures=True),
        *([Column(gettext("Radius"), figures=True)] if has_blend else []),
        *([Column(gettext("Cutter or stone"), share=1.0)] if has_tool else []),
    ]
    rows = []
    for cut in cuts:
        seat = gettext("{angle} seat", angle=cut.angle)
        name = para(seat, CELL_BOLD) if cut.is_contact else para(cut.angle, CELL)
        rows.append(
            [name, cut.width, cut.outer_diameter, cut.inner_diameter,
             *([cut.blend_radius or "–"] if has_blend else []),
             *([cut.tool or "–"] if has_tool else [])]
        )  # fmt: skip
    return grid(columns, rows, width, 1.8)
