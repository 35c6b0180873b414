"""The inspection report: what was found on each head, and what is proposed."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents import cautions
from shopflow.documents.head import HeadIdentity, Tested, identifiers
from shopflow.documents.inspection import InspectedHead, InspectionReport, ProposedStep
from shopflow.papers.blocks import boxed, take_care
from shopflow.papers.language import in_its_language
from shopflow.papers.photos import photo_rows
from shopflow.papers.places import section_tables, values_tables
from shopflow.papers.sheet import Sheet
from shopflow.papers.signed import signed_note
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    SMALL,
    STRONG,
    SUBTITLE,
    gap,
    heading,
    paper_title,
    para,
)
from shopflow.papers.tables import Column, facts, grid
from shopflow.papers.work_order import measured_table, tested_table
from shopflow.texts import gettext, ngettext
from shopflow.units import pretty_text


@in_its_language
def inspection_report(report: InspectionReport) -> bytes:
    """The inspection report as PDF."""
    sheet = Sheet(
        report.shop, report.display, gettext("Inspection report"), report.job.number, report.made_at
    )
    return sheet.build_by_head(_head(report, head, sheet.width) for head in report.heads)


def _head(report: InspectionReport, page: InspectedHead, width: float) -> list[Flowable]:
    story = [
        *_top(report, page, width),
        *_verdict(page, width),
        *heading(gettext("Condition on arrival")),
        *facts(_received(page.head), width),
        *_measurements(page, width),
    ]
    if page.tested:
        rows = tuple(sorted(page.tested, key=_passed))
        story += [*heading(gettext("Leak and crack tests")), tested_table(rows, width)]
    story += _proposed(report, page, width)
    if page.photos:
        story += [*heading(gettext("Photos"), 160), *photo_rows(page.photos, width)]
    unfit = [cautions.UNFIT] if page.outside or page.failed else []
    story += take_care([*unfit, *cautions.INSPECTED], width)
    return [*story, *signed_note(report.signing_key)]


def _passed(test: Tested) -> bool:
    return not test.is_failed


def _top(report: InspectionReport, page: InspectedHead, width: float) -> list[Flowable]:
    head, display = page.head, report.display
    numbers = identifiers(head) or gettext("no casting number or serial")
    rows = [
        (gettext("Customer"), report.customer.name),
        (gettext("Job"), report.job.number),
        (gettext("Received"), display.moment(report.job.booked_in)),
        (gettext("Report of"), display.moment(report.made_at)),
        (gettext("Inspected by"), "\n".join(page.inspected_by) or gettext("not recorded")),
        (gettext("Asked for"), report.job.asked_for),
    ]
    return [
        paper_title(gettext("Inspection of head {tag}", tag=head.tag)),
        para(f"{head.engine_type}, {numbers}", SUBTITLE),
        *facts(rows, width),
    ]


def _verdict(page: InspectedHead, width: float) -> list[Flowable]:
    """The result in short, before the tables."""
    sentences = []
    if page.failed:
        sentences.append(
            ngettext(
                "{num} leak or crack test failed.", "{num} leak or crack tests failed.", page.failed
            )
        )
    if page.outside:
        kinds = [table.kind for table in page.tables if table.outside]
        kinds += [item.what for item in page.others if item.is_outside]
        sentences.append(
            ngettext(
                "{num} value is outside its limits: {kinds}.",
                "{num} values are outside their limits: {kinds}.",
                page.outside,
                kinds=", ".join(dict.fromkeys(kinds)),
            )
        )
    if not sentences:
        sentences = [gettext("No test failed, and no value is outside its limits.")]
    return [gap(6), boxed([para(" ".join(sentences), STRONG)], width)]


def _received(head: HeadIdentity) -> list[tuple[str, str]]:
    return [
        (gettext("Condition"), head.condition or gettext("not recorded")),
        (gettext("Parts"), head.parts_received or gettext("not recorded")),
        (gettext("Came back"), head.came_back_because),
        (gettext("Material"), head.material),
        (gettext("Ports"), head.ports),
        (gettext("Chamber"), head.chamber),
    ]


def _measurements(page: InspectedHead, width: float) -> list[Flowable]:
    """A table for each kind, those with values outside their limits first."""
    title = heading(gettext("Measurements"))
    if not page.tables and not page.others and not page.sections:
        return [*title, para(gettext("Nothing was measured yet."))]
    outside = [table for table in page.tables if table.outside]
    within = [table for table in page.tables if not table.outside]
    others = [gap(5), measured_table(page.others, width)] if page.others else []
    first = any(item.is_outside for item in page.others)
    story = [*title, *values_tables(outside, width)]
    story += others if first else []
    story += values_tables(within, width)
    return [*story, *([] if first else others), *section_tables(page.sections, width)]


def _proposed(report: InspectionReport, page: InspectedHead, width: float) -> list[Flowable]:
    title = heading(gettext("Proposed work"))
    if not page.proposed:
        return [*title, para(gettext("No work is proposed."))]
    priced = any(step.price is not None for step in page.proposed)
    columns = [
        Column(gettext("Step"), share=0.34),
        Column(gettext("Reason"), share=0.5),
        Column(gettext("State"), share=0.16),
    ]
    if priced:
        columns.append(Column(gettext("Price"), figures=True))
    rows = [_step(report, step, priced=priced) for step in page.proposed]
    source = gettext("Prices before tax, as in quote {quote}.", quote=report.quote)
    note = [para(source, SMALL)] if priced else []
    return [*title, *note, grid(columns, rows, width, 2.2)]


def _step(report: InspectionReport, step: ProposedStep, *, priced: bool) -> list[str | Flowable]:
    cells: list[str | Flowable] = [
        para(step.name, CELL_BOLD),
        para(pretty_text(step.reason) or "–", CELL),
        para(step.state or gettext("proposed"), SMALL),
    ]
    if priced:
        cells.append("–" if step.price is None else report.display.money(step.price))
    return cells
