"""The hand-off sheet: what the assembler must know to not break an engine with the head."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, PageBreak

from shopflow.papers import cautions
from shopflow.papers.data import Figure, HandOff
from shopflow.papers.style import (
    CELL_BOLD,
    TITLE,
    Sheet,
    bullets,
    facts,
    gap,
    grid,
    heading,
    para,
    take_care,
    when,
)
from shopflow.papers.work_order import job_rows, measured_table

STANDARD_CHECKS = (
    "Valve to piston clearance, intake and exhaust, at the cam timing that will be run.",
    "Coil bind and retainer to guide clearance at full lift, on every valve.",
    "Installed height and seat load of every spring against the figures on this sheet.",
    "Head gasket, fasteners and torque as the engine builder gives them.",
)


def hand_off(*sheets: HandOff) -> bytes:
    """The hand-off sheets of one job's heads as one PDF."""
    first = sheets[0]
    number = first.head.tag if len(sheets) == 1 else first.job.number
    frame = Sheet(first.shop, first.display, "Hand-off sheet", number, first.written_at)
    story: list[Flowable] = []
    for place, sheet in enumerate(sheets):
        if place:
            story.append(PageBreak())
        story += _sheet(sheet, frame.width)
    return frame.build(story)


def _sheet(note: HandOff, width: float) -> list[Flowable]:
    head = note.head
    known = ", ".join(
        text
        for text in (
            f"casting {head.casting_number}" if head.casting_number else "",
            f"serial {head.serial}" if head.serial else "",
        )
        if text
    )
    story: list[Flowable] = [
        para("To the assembler", TITLE),
        facts(
            [
                ("For", note.addressee or "the assembler of this engine"),
                ("Customer", note.customer.name),
                ("Head", f"{head.tag}, {head.engine_type}"),
                ("Known by", known),
                *job_rows(note.job),
            ],
            width,
        ),
    ]
    for valve in note.valves:
        story += _figures(f"{valve.side.capitalize()} valves and springs", valve.figures, width)
    if note.figures:
        story += _figures("Other figures", note.figures, width)
    if note.measured:
        story += [*heading("As measured"), measured_table(note.measured, width)]
    checks = [*note.to_check, *STANDARD_CHECKS]
    story += [*heading("Check before first start"), *bullets(checks, "☐")]
    warned = [*note.cautions, *cautions.ASSEMBLY, cautions.BY_HAZARD["springs"]]
    story += take_care(warned, width)
    if note.notes:
        story += [*heading("Notes"), para(note.notes)]
    story.append(KeepTogether(_signatures(note, width)))
    return story


def _figures(title: str, figures: tuple[Figure, ...], width: float) -> list[Flowable]:
    rows = [[figure.name, para(figure.value, CELL_BOLD), figure.working] for figure in figures]
    widths = [width * 0.28, width * 0.2, width * 0.52]
    return [*heading(title), grid(["Figure", "Value", "How it was come by"], rows, widths)]


def _signatures(note: HandOff, width: float) -> list[Flowable]:
    signed = (
        f"{note.signed_by}, {when(note.signed_at, note.display)}"
        if note.signed_at
        else "not signed yet"
    )
    rows = [[signed, "", ""]]
    widths = [width * 0.4, width * 0.35, width * 0.25]
    return [
        gap(10),
        grid(
            [f"Handed on for {note.shop.name} by", "Received by", "Date"],
            rows,
            widths,
            padding=5 * mm,
        ),
    ]
