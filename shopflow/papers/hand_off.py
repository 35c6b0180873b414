"""The hand-off sheet: what the assembler must know to not break an engine with the head."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether

from shopflow.documents import Figure, HandOff, ValveFigures, cautions
from shopflow.documents.head import identifiers
from shopflow.papers.blocks import boxed, signatures, take_care
from shopflow.papers.by_valve import by_valve_story
from shopflow.papers.chambers import chambers_story
from shopflow.papers.language import in_its_language
from shopflow.papers.seat_section import seat_sheets
from shopflow.papers.sheet import Sheet
from shopflow.papers.signed import signed_note
from shopflow.papers.springs import record_story, side_story
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    SMALL,
    STRONG,
    SUBTITLE,
    bullets,
    gap,
    heading,
    paper_title,
    para,
    subheading,
)
from shopflow.papers.tables import Column, facts, grid
from shopflow.papers.work_order import job_rows, measured_table, tested_table
from shopflow.texts import gettext, lazy, listed, translated
from shopflow.units import pretty_text

STANDARD_CHECKS = (
    lazy("Valve to piston clearance, intake and exhaust, at the cam timing that will be run."),
    lazy("Coil bind and retainer to guide clearance at full lift, on every valve."),
    lazy("Installed height and seat load of every spring against the values on this sheet."),
    lazy("Head gasket, fasteners and torque as the engine builder gives them."),
)


@in_its_language
def hand_off(*sheets: HandOff) -> bytes:
    """The hand-off sheets of one job's heads as one PDF."""
    first = sheets[0]
    number = first.head.tag if len(sheets) == 1 else first.job.number
    frame = Sheet(first.shop, first.display, gettext("Hand-off sheet"), number, first.written_at)
    return frame.build_by_head(_sheet(sheet, frame.width) for sheet in sheets)


def _sheet(note: HandOff, width: float) -> list[Flowable]:
    story = _top(note, width)
    for pair in _pairs(note.valves):
        story += _valves(pair, width)
    for springs in note.springs:
        if springs.curve is not None:
            story += record_story(springs, width)
        story += side_story(springs, width)
    if note.by_valve is not None:
        story += by_valve_story(note.by_valve, width)
    if note.chambers is not None:
        story += chambers_story(note.chambers, width)
    story += seat_sheets(note.seats, note.display.units, width, gettext("Seats as cut"))
    if note.figures:
        story += [*heading(gettext("Other values")), _figures(note.figures, width)]
    if note.measured:
        story += [*heading(gettext("As measured")), measured_table(note.measured, width)]
    if note.tested:
        story += [*heading(gettext("Pressure and crack tests")), tested_table(note.tested, width)]
    if note.notes:
        story += [*heading(gettext("Notes")), para(note.notes)]
    checks = [*note.to_check, *STANDARD_CHECKS]
    story += [*heading(gettext("Check before first start")), *bullets(checks, "☐")]
    boosted = [cautions.BOOSTED] if note.boosted else []
    warned = [*note.cautions, *cautions.ASSEMBLY, *boosted, cautions.BY_HAZARD["springs"]]
    *room, box = take_care(warned, width)
    # Nobody signs on a page that says nothing.
    signed = [*_signatures(note, width), *signed_note(note.signing_key)]
    return [*story, *room, KeepTogether([box, *signed])]


def _top(note: HandOff, width: float) -> list[Flowable]:
    head, display = note.head, note.display
    return [
        paper_title(note.title),
        para(_addressed(note), SUBTITLE),
        *facts(
            [
                (gettext("For"), note.addressee or gettext("the assembler of this engine")),
                (gettext("Customer"), note.customer.name),
                (gettext("Engine type"), head.engine_type),
                (gettext("Known by"), identifiers(head) or gettext("not recorded")),
                (gettext("Written"), display.moment(note.written_at)),
                *job_rows(note.job),
            ],
            width,
        ),
        *_remaining(note, width),
        *([gap(6), para(note.springs_to_check, STRONG)] if note.springs_to_check else []),
        *([*heading(gettext("Work done")), para(", ".join(note.done))] if note.done else []),
    ]


def _addressed(note: HandOff) -> str:
    """The first line: to whom, and that the head is not finished where it is not."""
    if note.remaining:
        return gettext(
            "Part-finished: see Remaining work. To whoever assembles the engine: set it to these "
            "values, and check it by them."
        )
    return gettext("To whoever assembles the engine: set it to these values, and check it by them.")


def _remaining(note: HandOff, width: float) -> list[Flowable]:
    if not note.remaining:
        return []
    content = [
        subheading(gettext("Remaining work, not done by this shop yet"), level=2),
        *bullets(note.remaining),
    ]
    return [gap(8), boxed(content, width)]


def _pairs(valves: Sequence[ValveFigures]) -> list[Sequence[ValveFigures]]:
    """Two sides at a time stand beside each other."""
    return [valves[start : start + 2] for start in range(0, len(valves), 2)]


def _valves(sides: Sequence[ValveFigures], width: float) -> list[Flowable]:
    """The sides' figures beside each other, each with its source."""
    names = _merged([figure.name for figure in side.figures] for side in sides)
    columns = [
        Column(gettext("Value"), share=0.26),
        *(Column(translated(side.side).capitalize(), share=0.74 / len(sides)) for side in sides),
    ]
    rows = [[para(name, CELL), *(_set_up(side, name) for side in sides)] for name in names]
    title = gettext(
        "Valves and springs, {sides}", sides=listed(translated(side.side) for side in sides)
    )
    return [*heading(title, 60 * mm), grid(columns, rows, width)]


def _merged(lists: Iterable[Sequence[str]]) -> list[str]:
    """Every name once, in an order that keeps to each list's own.

    >>> _merged([["base", "boost", "sum"], ["base", "back pressure", "sum"]])
    ['base', 'back pressure', 'boost', 'sum']
    """
    merged: list[str] = []
    for names in lists:
        index = 0
        for name in names:
            if name not in merged:
                merged.insert(index, name)
            index = merged.index(name) + 1
    return merged


def _set_up(side: ValveFigures, name: str) -> list[Flowable]:
    matching = [figure for figure in side.figures if figure.name == name]
    if not matching and name in side.by_valve:
        return [para(gettext("see each valve"), CELL)]
    return [piece for figure in matching for piece in _value(figure)] or [para("–", CELL)]


def _value(figure: Figure) -> list[Flowable]:
    """A figure over its working."""
    value = para(pretty_text(figure.value), CELL_BOLD if figure.decisive else CELL)
    return [value, para(pretty_text(figure.working), SMALL)] if figure.working else [value]


def _figures(figures: Sequence[Figure], width: float) -> Flowable:
    columns = [
        Column(gettext("Value"), share=0.26),
        Column(gettext("Value"), share=0.2),
        Column(gettext("Source"), share=0.54),
    ]
    rows = [
        [
            figure.name,
            para(pretty_text(figure.value), CELL_BOLD if figure.decisive else CELL),
            pretty_text(figure.working) or gettext("not recorded"),
        ]
        for figure in figures
    ]
    return grid(columns, rows, width)


def _signatures(note: HandOff, width: float) -> list[Flowable]:
    day = note.display.moment(note.signed_at) if note.signed_at else ""
    lines = [
        (
            gettext("Handed on for {shop}", shop=note.shop.name),
            note.signed_by if note.signed_at else "",
            0.36,
        ),
        (gettext("Date"), day, 0.16),
        (gettext("Received by"), "", 0.32),
        (gettext("Date"), "", 0.16),
    ]
    remark = [] if note.signed_at else [para(gettext("Not signed yet by the shop."), SMALL)]
    return [gap(12), *remark, signatures(lines, width)]
