"""The quote: what is to be done, what it costs, what the customer is asked to approve."""

from __future__ import annotations

from decimal import Decimal

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.documents.money import MoneyLine
from shopflow.documents.quote import Quote
from shopflow.papers.blocks import boxed, signatures
from shopflow.papers.language import in_its_language
from shopflow.papers.money import (
    addressed,
    exemptions,
    lines_table,
    lines_title,
    rounding,
    sums,
    tax_rows,
)
from shopflow.papers.sheet import Sheet
from shopflow.papers.signed import signed_note
from shopflow.papers.style import NOTE, STRONG, gap, heading, paper_title, para, paragraphs
from shopflow.papers.tables import facts
from shopflow.texts import gettext, lazy

DRAFT = lazy("Draft, not given to the customer")


@in_its_language
def quote(content: Quote) -> bytes:
    """The quote as PDF."""
    number = str(DRAFT) if content.draft else content.title
    sheet = Sheet(content.shop, content.display, gettext("Quote"), number, content.given_at)
    width = sheet.width
    story: list[Flowable] = [
        paper_title(gettext("Quote")),
        addressed(content.customer, width * 0.6),
        gap(4),
        *facts(_facts(content), width),
        *_work(content, width),
        *_sums(content, width),
        *exemptions(content.tax),
        rounding(content.tax),
        *_forecasts(content),
        *_terms(content, width),
        *_approval(content, width),
        *signed_note(content.signing_key),
    ]
    return sheet.build(story)


def _facts(content: Quote) -> list[tuple[str, str]]:
    day = content.display.day
    return [
        (gettext("Quote"), content.title),
        (gettext("Given"), content.display.moment(content.given_at)),
        (gettext("Valid until"), day(content.valid_until)),
        (gettext("Job"), content.job.number),
        (gettext("Your order"), content.job.order_number),
        (gettext("Promised"), day(content.job.promised_on) if content.job.promised_on else ""),
        (gettext("Agreed before"), content.agreed),
        (gettext("Heads"), "\n".join(content.heads)),
        (gettext("Asked for"), content.job.asked_for),
        (gettext("Declined, not done"), "\n".join(content.declined)),
    ]


def _work(content: Quote, width: float) -> list[Flowable]:
    display = content.display
    minutes = any(line.minutes for line in (*content.lines, *content.extras))

    def table(lines: tuple[MoneyLine, ...]) -> Flowable:
        return lines_table(lines, display, width, heads=content.heads, minutes=minutes)

    if not content.agreed:
        return [
            *heading(lines_title(content.lines)),
            table(content.lines) if content.lines else para(gettext("None yet.")),
        ]
    story = [*heading(gettext("Work agreed before"))] if content.lines else []
    if content.lines:
        story.append(table(content.lines))
    story += heading(gettext("Extra work, or work that costs more: not done until you approve it"))
    return [*story, table(content.extras) if content.extras else para(gettext("None."))]


def _sums(content: Quote, width: float) -> list[Flowable]:
    money = content.display.money
    rows = tax_rows(content.tax, content.display)
    if content.agreed:
        before, extra = (
            sum((line.price for line in lines), Decimal(0))
            for lines in (content.lines, content.extras)
        )
        rows = [
            (gettext("Agreed before"), money(before)),
            (gettext("Extra work"), money(extra)),
            *rows,
        ]
    return [sums(rows, (gettext("Total"), money(content.tax.total)), width)]


def _forecasts(content: Quote) -> list[Flowable]:
    if not content.forecasts:
        return []
    return [
        *heading(gettext("Forecast")),
        *paragraphs(content.forecasts),
        para(content.forecast_note, NOTE),
    ]


def _terms(content: Quote, width: float) -> list[Flowable]:
    request = ""
    if content.deposit:
        request = gettext(
            "Before work starts we ask for a deposit of {deposit}.",
            deposit=content.display.money(content.deposit),
        )
    rows = [
        (gettext("Deposit"), request),
        (gettext("Payment"), content.payment_terms),
        (gettext("Conditions"), content.conditions),
    ]
    table = facts(rows, width, columns=1)
    return [*heading(gettext("Terms"), 20 * mm), *table] if table else []


def _approval(content: Quote, width: float) -> list[Flowable]:
    if content.draft:
        return [gap(10), boxed([para(f"{DRAFT}.", STRONG)], width)]
    request = (
        gettext(
            "Please do the extra work above at these prices. No metal is cut before you say so."
        )
        if content.agreed
        else gettext("Please do the work above at these prices. No metal is cut before you say so.")
    )
    lines = (
        (gettext("Name"), "", 0.36),
        (gettext("Signature"), "", 0.4),
        (gettext("Date"), "", 0.24),
    )
    return [
        CondPageBreak(32 * mm),
        *heading(gettext("Your approval")),
        para(request),
        signatures(lines, width),
    ]
