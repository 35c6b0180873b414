"""The work order: a page per head that survives a greasy bench."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak

from shopflow.papers import cautions
from shopflow.papers.data import HeadIdentity, JobFacts, Measured, Step, WorkOrder, WorkOrderHead
from shopflow.papers.scan import ScanCode
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    SMALL,
    TITLE,
    Sheet,
    beside,
    day,
    facts,
    gap,
    grid,
    heading,
    para,
    take_care,
    when,
)
from shopflow.units import pretty_text

BLANK = "____________"


def work_order(order: WorkOrder) -> bytes:
    """The work order as PDF."""
    sheet = Sheet(order.shop, order.display, "Work order", order.job.number, order.printed_at)
    story: list[Flowable] = []
    for place, head in enumerate(order.heads):
        if place:
            story.append(PageBreak())
        story += _head(order, head, sheet)
    return sheet.build(story)


def _head(order: WorkOrder, page: WorkOrderHead, sheet: Sheet) -> list[Flowable]:
    width = sheet.width
    top = [
        para(f"Head {page.head.tag}", TITLE),
        para(f"{page.head.engine_type} · {_identity(page.head)}"),
        gap(4),
        facts(_job_rows(order), width - 30 * mm),
    ]
    story: list[Flowable] = [
        beside(top, ScanCode(page.url, 24 * mm), width, 27 * mm) if page.url else top[0]
    ]
    if not page.url:
        story += top[1:]
    story += [
        *heading("Asked for"),
        para(order.job.asked_for or "Not recorded"),
        *heading("As received"),
        facts(_received(page.head), width, 1),
        *heading("Routing"),
        _routing(page.steps, order, width),
    ]
    if page.measured:
        story += [*heading("Measured so far"), measured_table(page.measured, width)]
    warned = cautions.texts(page.cautions)
    if warned:
        story += take_care(warned, width)
    return story


def _identity(head: HeadIdentity) -> str:
    known = [
        f"casting {head.casting_number}" if head.casting_number else "",
        f"serial {head.serial}" if head.serial else "",
    ]
    return ", ".join(text for text in known if text) or "no casting number or serial"


def job_rows(job: JobFacts) -> list[tuple[str, str]]:
    """What the engine is for, as rows of facts."""
    induction = f"{job.induction}, {job.boost} boost" if job.boost else job.induction
    lifts = [
        f"{side} {lift}"
        for side, lift in (("intake", job.intake_lift), ("exhaust", job.exhaust_lift))
        if lift
    ]
    return [
        ("Purpose", job.purpose),
        ("Induction", induction),
        ("Rev limit", job.rev_limit),
        ("Fuel", job.fuel),
        ("Valve lift", ", ".join(lifts)),
    ]


def _job_rows(order: WorkOrder) -> list[tuple[str, str]]:
    return [
        ("Customer", order.customer.name),
        ("Telephone", order.customer.phone),
        ("Booked in", when(order.job.booked_in, order.display)),
        ("Promised", day(order.job.promised_on)),
        ("Approved", order.job.approval or "not yet"),
        *job_rows(order.job),
    ]


def _received(head: HeadIdentity) -> list[tuple[str, str]]:
    return [
        ("Condition", head.condition or "Not recorded"),
        ("Parts", head.parts_received or "Not recorded"),
        ("Came back", head.came_back_because),
        ("Material", head.material),
        ("Ports", head.ports),
        ("Chamber", head.chamber),
    ]


def _routing(steps: tuple[Step, ...], order: WorkOrder, width: float) -> Flowable:
    if not steps:
        return para("No operations planned yet.")
    rows = []
    for place, step in enumerate(steps, start=1):
        what = [para(step.name, CELL_BOLD)]
        if step.instructions:
            what.append(para(step.instructions, CELL))
        if step.note:
            what.append(para(step.note, SMALL))
        what += [para(f"{blank}  {BLANK}", CELL) for blank in step.blanks]
        rows.append([str(place), what, str(step.planned_minutes or ""), _signed(step, order), ""])
    widths = [8 * mm, width - 74 * mm, 14 * mm, 38 * mm, 14 * mm]
    return grid(["", "Operation", "Minutes", "Done by, date", "Took"], rows, widths, (2,), 4)


def _signed(step: Step, order: WorkOrder) -> list[Flowable]:
    if step.state == "done":
        return [para(f"{step.by}\n{when(step.at, order.display)}", CELL)]
    if step.state == "skipped":
        return [para("left out", CELL)]
    started = f"{step.by} has it in hand" if step.state == "started" else ""
    return [para(f"{started}\n{BLANK * 1}____" if started else f"\n{BLANK}____", CELL)]


def measured_table(measured: tuple[Measured, ...], width: float) -> Flowable:
    """Measured figures with their limits and verdicts."""
    rows = [
        [
            item.what,
            item.where or "–",
            item.when,
            pretty_text(item.value),
            pretty_text(item.limits) or "–",
            para(item.verdict or "–", CELL_BOLD if item.verdict.startswith("out") else CELL),
        ]
        for item in measured
    ]
    shares = (0.23, 0.19, 0.08, 0.13, 0.21, 0.16)
    return grid(
        ["Measured", "Where", "Taken", "Value", "Limits", "Verdict"],
        rows,
        [width * share for share in shares],
    )
