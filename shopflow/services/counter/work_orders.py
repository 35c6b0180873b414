"""The work order with the job's lines: routing knows the steps, and nothing of parts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sqlalchemy.orm import Session

from shopflow.documents import WorkOrder
from shopflow.documents.bench_lines import BenchLines, PartToFit, WorkOutside
from shopflow.files import FileStore
from shopflow.models import Job, JobLine, LineKind, OutsideWork
from shopflow.services.billing import pricing
from shopflow.services.parts import needs, sent_out
from shopflow.services.parts.needs import Need, NeedState
from shopflow.services.routing import work_orders
from shopflow.texts import gettext, translated

OTHERS = (LineKind.FREIGHT, LineKind.FEE, LineKind.DISCOUNT, LineKind.TEXT)


def work_order(db: Session, job: Job, store: FileStore | None = None) -> WorkOrder:
    """A job's work order as things stand, with the lines of each head and of the whole job."""
    order = work_orders.work_order(db, job, store)
    followed = {need.line.id: need for need in needs.of_job(db, job)}
    sent = sent_out.of_job(db, job)

    def lines(tag: str) -> BenchLines:
        rows = [line for line in job.lines if line.counts and line.tag == tag]
        rows.sort(key=lambda line: line.position)
        return BenchLines(
            tuple(_part(line, followed.get(line.id)) for line in rows if _is_part(line)),
            tuple(_outside(rows, sent)),
            tuple(_in_words(line) for line in rows if line.kind in OTHERS),
        )

    heads = (replace(page, lines=lines(page.head.tag)) for page in order.heads)
    return replace(order, heads=tuple(heads), lines=lines(""))


def _is_part(line: JobLine) -> bool:
    return line.kind is LineKind.PART


def _part(line: JobLine, need: Need | None) -> PartToFit:
    quantity = pricing.quantity_in_words(line) or "1"
    part = PartToFit(quantity, line.description, line.part_number)
    if need is None:
        return part
    step = need.row.operation
    is_fitted = need.state is NeedState.FITTED
    state = translated(need.state)
    if need.is_own and need.is_missing:
        state = gettext("customer brings")
    return replace(
        part,
        step=step.title if step is not None else "",
        state=state,
        is_here=need.state is NeedState.HERE,
        is_fitted=is_fitted,
    )


def _outside(rows: Sequence[JobLine], sent: Sequence[OutsideWork]) -> Iterator[WorkOutside]:
    """Work of each line as often as it was sent out; once where it was not yet."""
    for line in rows:
        if line.kind is LineKind.OUTSIDE_WORK:
            out = [row for row in sent if row.job_line_id == line.id]
            yield from (
                WorkOutside(line.title, row.supplier.name, row.sent_on, row.due_on, row.back_on)
                for row in out
            )
            if not out:
                yield WorkOutside(line.title)


def _in_words(line: JobLine) -> str:
    """A line with its kind and quantity; no price."""
    if line.is_text:
        return line.description
    kind = translated(line.kind).capitalize()
    quantity = pricing.quantity_in_words(line)
    words = gettext("{kind}: {what}", kind=kind, what=line.description)
    return f"{words}, {quantity}" if quantity else words
