"""The work order: a page per head that survives a greasy bench."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from shopflow.documents import (
    Display,
    HeadIdentity,
    JobFacts,
    Measured,
    Step,
    Tested,
    WorkOrder,
    WorkOrderHead,
    cautions,
)
from shopflow.documents.head import identifiers
from shopflow.documents.session import SIDES
from shopflow.papers.bench_lines import bench_lines
from shopflow.papers.blocks import boxed, take_care
from shopflow.papers.language import in_its_language
from shopflow.papers.photos import photo_rows
from shopflow.papers.places import (
    TALL_BOX_HEIGHT,
    blanks_tables,
    section_tables,
    values_tables,
)
from shopflow.papers.qr_code import Corner, ScanCode
from shopflow.papers.seat_section import seat_sheets
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    SMALL,
    STRONG,
    SUBTITLE,
    TITLE,
    beside,
    gap,
    heading,
    paper_title,
    para,
)
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitError, pretty, pretty_text, split

CODE = 25 * mm
UNAPPROVED = lazy("Not approved yet: cut nothing before it is")


@in_its_language
def work_order(order: WorkOrder) -> bytes:
    """The work order as PDF."""
    sheet = Sheet(
        order.shop, order.display, gettext("Work order"), order.job.number, order.printed_at
    )
    return sheet.build_by_head(_head(order, head, sheet.width) for head in order.heads)


def _head(order: WorkOrder, page: WorkOrderHead, width: float) -> list[Flowable]:
    story = [
        *_top(order, page, width),
        *heading(gettext("Asked for")),
        para(order.job.asked_for or gettext("Not recorded")),
        *heading(gettext("As received")),
        *facts(_received(page.head), width),
        *heading(gettext("Work plan")),
        _routing(page.steps, order.display, width),
        *_lines(order, page, width),
    ]
    story += _by_place(page.steps, width)
    blanks = [
        (str(number), blank)
        for number, step in enumerate(page.steps, start=1)
        for blank in step.blanks
    ]
    if blanks:
        story += [*heading(gettext("Still to measure")), _blanks(blanks, width)]
    story += seat_sheets(page.seats, order.display.units, width, gettext("Seats"))
    if page.measured or page.tables or page.sections:
        story += heading(gettext("Measured so far"))
        story += values_tables(page.tables, width)
        story += [gap(4), measured_table(page.measured, width)] if page.measured else []
        story += section_tables(page.sections, width)
    if page.tested:
        story += [*heading(gettext("Pressure and crack tests")), tested_table(page.tested, width)]
    if page.photos:
        story += [*heading(gettext("Photos"), 60 * mm), *photo_rows(page.photos, width)]
    return [*story, *take_care(cautions.texts(page.cautions), width)]


def _lines(order: WorkOrder, page: WorkOrderHead, width: float) -> list[Flowable]:
    """Lines of the head; on the first one those of the whole job too."""
    display = order.display
    story = bench_lines(page.lines, display, width, gettext("Parts"))
    if page is order.heads[0]:
        story += bench_lines(order.lines, display, width, gettext("Parts of the whole job"))
    return story


def _by_place(steps: tuple[Step, ...], width: float) -> list[Flowable]:
    """Boxes for each place, step by step."""
    story: list[Flowable] = []
    for number, step in enumerate(steps, start=1):
        if step.tables:
            title = gettext("Measure in step {number}, {step}", number=number, step=step.name)
            # The first table is kept whole: the heading stays with it.
            room = 32 * mm + len(step.tables[0].rows) * TALL_BOX_HEIGHT
            story += [*heading(title, room), *blanks_tables(step.tables, width)]
    return story


def _top(order: WorkOrder, page: WorkOrderHead, width: float) -> list[Flowable]:
    """The head with its numbers, the job, and the QR code of its page."""
    aside = CODE + 6 * mm if page.url else 0.0
    top: list[Flowable] = [Corner(ScanCode(page.url, CODE), width)] if page.url else []
    numbers = identifiers(page.head) or gettext("no casting number or serial")
    top += [
        paper_title(gettext("Head {head}", head=page.head.tag), beside(TITLE, aside)),
        para(f"{page.head.engine_type}, {numbers}", beside(SUBTITLE, aside)),
        *facts(_job_rows(order), width - aside),
    ]
    if not order.job.approval:
        released = any(step.released for step in page.steps)
        warning = (
            gettext("Not approved yet: cut nothing before it is, but the steps released below.")
            if released
            else gettext("Not approved yet: cut nothing before it is.")
        )
        top += [gap(5), boxed([para(warning, STRONG)], width - aside)]
    return top


def job_rows(job: JobFacts) -> list[tuple[str, str]]:
    """Use of the engine, as rows of facts."""
    induction = job.induction
    if job.boost:
        induction = gettext("{induction}, {boost} boost", induction=job.induction, boost=job.boost)
    elif induction == translated("natural"):
        induction = gettext("naturally aspirated")
    lifts = [
        f"{translated(side)} {lift}"
        for side, lift in zip(SIDES, (job.intake_lift, job.exhaust_lift), strict=True)
        if lift
    ]
    return [
        (gettext("Purpose"), job.purpose),
        (gettext("Induction"), induction),
        (gettext("Rev limit"), job.rev_limit),
        (gettext("Fuel"), job.fuel),
        (gettext("Valve lift"), ", ".join(lifts)),
    ]


def _job_rows(order: WorkOrder) -> list[tuple[str, str]]:
    job, display = order.job, order.display
    return [
        (gettext("Customer"), order.customer.name),
        (gettext("Telephone"), order.customer.phone),
        (gettext("Booked in"), display.moment(job.booked_in)),
        (gettext("Promised"), display.day(job.promised_on)),
        (gettext("Approved"), job.approval or gettext("not yet")),
        *job_rows(job),
    ]


def _received(head: HeadIdentity) -> list[tuple[str, str]]:
    return [
        (gettext("Condition"), head.condition or gettext("not recorded")),
        (gettext("Parts"), head.parts_received or gettext("not recorded")),
        (gettext("Came back"), head.came_back_because),
        (gettext("Material"), head.material),
        (gettext("Ports"), head.ports),
        (gettext("Chamber"), head.chamber),
    ]


def _routing(steps: tuple[Step, ...], display: Display, width: float) -> Flowable:
    if not steps:
        return para(gettext("No steps planned yet."))
    columns = [
        Column("", width=7 * mm),
        Column(gettext("Step"), share=1),
        Column(gettext("Plan, min"), figures=True, width=44),
        Column(gettext("Done by"), width=36 * mm, boxed=True),
        Column(gettext("Date"), width=24 * mm, boxed=True),
        Column(gettext("Took, min"), width=15 * mm, boxed=True),
    ]
    rows = [
        [str(number), _step(step), step.planned_minutes or "–", *_signed(step, display), ""]
        for number, step in enumerate(steps, start=1)
    ]
    return grid(columns, rows, width, padding=3.2, row_height=8 * mm)


def _step(step: Step) -> list[Flowable]:
    blocks: list[Flowable] = [para(step.name, CELL_BOLD)]
    if step.instructions:
        blocks.append(para(step.instructions, CELL))
    blocks += [para(remark, CELL_BOLD) for remark in step.remarks]
    brief = "; ".join(cautions.in_brief(step.cautions))
    if brief:
        blocks.append(para(gettext("Take care: {cautions}.", cautions=brief), SMALL))
    if step.note:
        blocks.append(para(step.note, SMALL))
    return blocks


def _signed(step: Step, display: Display) -> list[str]:
    """User who did a step, and the date."""
    if step.state == "done":
        return [step.by, display.moment(step.at)]
    if step.state == "skipped":
        return [gettext("skipped"), ""]
    if step.state == "declined":
        return [gettext("declined, do not do"), ""]
    return [gettext("Started by {by}", by=step.by) if step.state == "started" else "", ""]


def _blanks(blanks: list[tuple[str, str]], width: float) -> Flowable:
    """Boxes to write measurements in."""
    columns = [
        Column(gettext("Step"), width=9 * mm),
        Column(gettext("Measurement"), share=1),
        Column(gettext("Where"), width=46 * mm, boxed=True),
        Column(gettext("Value and unit"), width=46 * mm, boxed=True),
        Column(gettext("By"), width=22 * mm, boxed=True),
    ]
    return grid(columns, [[*blank, "", "", ""] for blank in blanks], width, row_height=7 * mm)


def measured_table(measured: tuple[Measured, ...], width: float) -> Flowable:
    """Measured figures with their limits and verdicts."""
    columns = [
        Column(gettext("Measured"), share=0.22),
        Column(gettext("Where"), share=0.2),
        Column(gettext("Taken"), share=0.1),
        Column(gettext("Value"), figures=True),
        Column("", close=True),
        Column(gettext("Limits"), share=0.2),
        Column(gettext("Verdict"), share=0.28 if any(item.decision for item in measured) else 0.19),
    ]
    rows = [
        [
            item.what,
            item.where or "–",
            item.when,
            *_number_and_unit(item.value),
            pretty_text(item.limits) or "–",
            _verdict(item),
        ]
        for item in measured
    ]
    return grid(columns, rows, width)


def tested_table(tested: tuple[Tested, ...], width: float) -> Flowable:
    """Pressure, vacuum, leak and crack tests with their conditions and results."""
    columns = [
        Column(gettext("Test"), share=0.18),
        Column(gettext("Part tested"), share=0.2),
        Column(gettext("Conditions"), share=0.36),
        Column(gettext("Result"), share=0.26),
    ]
    rows = [
        [
            item.what,
            item.where or gettext("whole head"),
            pretty_text(item.conditions),
            _result(item),
        ]
        for item in tested
    ]
    return grid(columns, rows, width)


def _result(item: Tested) -> list[Flowable]:
    """A test's result, its note, and what was decided on it."""
    style = CELL_BOLD if item.is_failed else CELL
    remarks = [para(text, SMALL) for text in (item.notes, item.decision) if text]
    return [para(item.result.capitalize(), style), *remarks]


def _verdict(item: Measured) -> list[Flowable]:
    """A figure's verdict, and what was decided on it."""
    style = CELL_BOLD if item.is_outside else CELL
    decided = [para(item.decision, SMALL)] if item.decision else []
    return [para(item.verdict or "–", style), *decided]


def _number_and_unit(value: str) -> tuple[str, str]:
    """A typed figure in two parts, so that numbers stand under each other."""
    try:
        number, unit = split(value)
    except UnitError:
        return value, ""
    return number, pretty(unit)
