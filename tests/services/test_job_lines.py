"""Lines of a job: quoted, approved, declined, invoiced once, credited; discounts; tax classes."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.snapshot import from_plain
from shopflow.errors import ValidationError
from shopflow.models import Invoice, Job, JobLine, LineKind, LineState
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    approvals,
    balances,
    credits,
    invoices,
    job_lines,
    payments,
    pricing,
    quotes,
    taxes,
    unsettled,
)
from shopflow.services.jobs import jobs
from shopflow.services.planning import reports
from shopflow.services.registry import customers
from shopflow.services.routing import operation_kinds, operations
from shopflow.services.shop.periods import Period
from shopflow.services.shop.settings import get_shop, zone
from tests import factories
from tests.services.expecting import faults_at, refused

PART: dict[str, Any] = {
    "description": "Valve guide",
    "part_number": "VG-6",
    "quantity": "8",
    "unit": "pc",
}


def add(db: Session, job: Job, kind: LineKind = LineKind.PART, **values: Any) -> JobLine:
    """A line of a job; a part unless told."""
    given = {"description": kind.value, **values}
    return job_lines.add(db, factories.BY, job, kind, given)


def of(invoice: Invoice) -> InvoicePaper:
    """Contents of an invoice."""
    return from_plain(InvoicePaper, invoice.snapshot)


@pytest.fixture
def job(db: Session) -> Job:
    """A job of one head with a step of 100.00 and eight guides at 7.85: 162.80 before tax."""
    shop = {"tax_rate_percent": "8.25", "reduced_tax_rate_percent": "5"}
    factories.create_shop(db, **shop)
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, price="100.00")
    add(db, visit.job, unit_price="7.85", head=visit.tag, **PART)
    return visit.job


def approve(db: Session, by: Actor, job: Job, declined: tuple[str, ...] = ()) -> None:
    """Quote a job and record the customer's answer."""
    sent = issuing.give_quote(db, by, job, {})
    quotes.approve(db, by, sent, "Cal", "telephone", declined=declined)


def finish(db: Session, by: Actor, job: Job) -> None:
    """Sign every open step off."""
    for visit in job.heads:
        for step in visit.operations:
            if step.is_open:
                operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})


def test_a_part_is_quoted_approved_invoiced_and_credited(db: Session, machinist: Actor, job: Job):
    answer = balances.of_job(db, job)
    # 162.80; 8.25 % is 13.431: 176.23.
    assert (answer.left, answer.unapproved.total) == (Decimal(0), Decimal("176.23"))
    approve(db, machinist, job)
    answer = balances.of_job(db, job)
    assert answer.approved.total == answer.left == Decimal("176.23")
    assert not answer.not_approved
    # A line is invoiced once its head is done.
    assert invoices.ready(answer) == []
    finish(db, machinist, job)
    assert unsettled.of_jobs(db, {job.id})[job.id].to_invoice
    invoice = issuing.issue_invoice(db, machinist, job)
    assert invoice.total == Decimal("176.23")
    (_, part) = of(invoice).lines
    assert (part.what, part.part_number, part.quantity) == ("Valve guide", "VG-6", "8 pc")
    assert (part.unit_price, part.price) == (Decimal("7.85"), Decimal("62.80"))
    assert not unsettled.of_jobs(db, {job.id})[job.id].to_invoice
    with refused("nothing of job"):
        issuing.issue_invoice(db, machinist, job)
    (line,) = job.lines
    with refused("on an invoice"):
        job_lines.change(db, machinist, line, {"quantity": "9"})
    with refused("on an invoice"):
        job_lines.remove(db, machinist, line)
    name = f"amount-{line.key}"
    with faults_at(name):
        credits.prepare(db, machinist, invoice, "two came back", {name: "62.81"})
    note = issuing.issue_credit_note(db, machinist, invoice, "two came back", {name: "15.70"})
    # 8.25 % of 15.70 is 1.295: half up 1.30.
    assert (note.tax, note.total) == (Decimal("1.30"), Decimal("17.00"))
    rest = issuing.issue_credit_note(db, machinist, invoice, "all of it")
    assert note.total + rest.total == invoice.total
    assert note.tax + rest.tax == invoice.tax
    assert line in balances.of_job(db, job).to_invoice


def test_a_line_declined_is_not_charged(db: Session, machinist: Actor, job: Job):
    gasket = add(db, job, description="Gasket set", unit_price="214.50")
    sent = issuing.give_quote(db, machinist, job, {})
    with faults_at("lines"):
        quotes.approve(db, machinist, sent, "Cal", "telephone", declined=["line-999"])
    quotes.approve(db, machinist, sent, "Cal", "telephone", declined=[gasket.key])
    assert gasket.state is LineState.DECLINED
    assert approvals.declined_in_words(job) == ("Gasket set",)
    assert approvals.of_job(db, job)[0].total == Decimal("176.23")
    finish(db, machinist, job)
    content = of(issuing.issue_invoice(db, machinist, job))
    assert content.declined == ("Gasket set",)
    assert "Gasket set" not in [line.what for line in content.lines]
    with refused("declined"):
        job_lines.change(db, machinist, gasket, {"quantity": "2"})


def test_a_line_added_or_dearer_after_the_approval_waits_for_another(
    db: Session, machinist: Actor, job: Job
):
    approve(db, machinist, job)
    (guides,) = job.lines
    freight = add(db, job, LineKind.FREIGHT, unit_price="40.00")
    job_lines.change(db, machinist, guides, {"quantity": "9"})
    answer = balances.of_job(db, job)
    assert set(answer.not_approved) == {guides, freight}
    with refused("not approved by the customer"):
        issuing.issue_invoice(db, machinist, job, [freight.key])
    sent = issuing.give_quote(db, machinist, job, {})
    assert {line.key for line in sent.lines if line.extra} == {guides.key, freight.key}
    quotes.approve(db, machinist, sent, "Cal", "telephone")
    assert not balances.of_job(db, job).not_approved
    # Fewer than approved need no other approval.
    job_lines.change(db, machinist, guides, {"quantity": "4"})
    assert not balances.of_job(db, job).not_approved
    job_lines.remove(db, machinist, freight)
    assert freight not in balances.of_job(db, job).to_invoice


def test_a_discount_in_per_cent_follows_what_it_is_taken_of(
    db: Session, machinist: Actor, job: Job
):
    """Of the parts: by hand, 10 % of 62.80 + 214.50 = 277.30 is 27.73; without the gaskets 6.28."""
    gasket = add(db, job, description="Gasket set", unit_price="214.50")
    off = add(db, job, LineKind.DISCOUNT, percent="10", discount_of="parts")
    add(db, job, LineKind.TEXT, description="Own springs fitted")
    sent = issuing.give_quote(db, machinist, job, {})
    assert next(line.price for line in sent.lines if line.key == off.key) == Decimal("-27.73")
    quotes.approve(db, machinist, sent, "Cal", "telephone", declined=[gasket.key])
    (approval,) = approvals.of_job(db, job)
    # 162.80 − 6.28 = 156.52; 8.25 % is 12.9129.
    assert approval.total == Decimal("169.43")
    assert next(row.price for row in approval.lines if row.key == off.key) == Decimal("-6.28")
    finish(db, machinist, job)
    first = issuing.issue_invoice(db, machinist, job, [job.heads[0].operations[0].key])
    assert first.total == Decimal("108.25")
    second = issuing.issue_invoice(db, machinist, job)
    # 62.80 − 6.28 = 56.52; 8.25 % is 4.6629: the two come to the approval.
    assert second.total == Decimal("61.18")
    assert first.total + second.total == approval.total
    assert [line.what for line in of(second).lines] == [
        "Valve guide", "Own springs fitted", "discount",
    ]  # fmt: skip
    note = issuing.issue_credit_note(db, machinist, second, "wrong guides")
    assert (note.tax, note.total) == (second.tax, second.total)


def test_an_approved_discount_can_be_raised_not_lowered_or_removed(
    db: Session, machinist: Actor, job: Job
):
    off = add(db, job, LineKind.DISCOUNT, unit_price="20.00")
    approve(db, machinist, job)
    job_lines.change(db, machinist, off, {"unit_price": "25.00"})
    assert not balances.of_job(db, job).not_approved
    with refused("cannot be removed"):
        job_lines.remove(db, machinist, off)
    with refused("not lowered"):
        job_lines.change(db, machinist, off, {"unit_price": "10.00"})


def test_discounts_beyond_their_lines_are_refused(db: Session, machinist: Actor, job: Job):
    add(db, job, LineKind.DISCOUNT, unit_price="200.00")
    with refused("the discounts come to more"):
        issuing.give_quote(db, machinist, job, {})


@pytest.mark.parametrize(
    ("kind", "values", "field"),
    [
        (LineKind.PART, {"description": ""}, "description"),
        (LineKind.PART, {"quantity": "0"}, "quantity"),
        (LineKind.PART, {"quantity": "1.2345"}, "quantity"),
        (LineKind.PART, {"unit_price": "-1"}, "unit_price"),
        (LineKind.PART, {"unit_price": "1.005"}, "unit_price"),
        (LineKind.PART, {"tax_class": "luxury"}, "tax_class"),
        (LineKind.PART, {"head": "2020-0001-A"}, "head"),
        (LineKind.DISCOUNT, {}, "percent"),
        (LineKind.DISCOUNT, {"percent": "101"}, "percent"),
        (LineKind.DISCOUNT, {"percent": "5", "unit_price": "5"}, "percent"),
    ],
)
def test_wrong_values_are_refused_at_their_field(
    db: Session, job: Job, kind: LineKind, values: dict[str, str], field: str
):
    with pytest.raises(ValidationError) as caught:
        add(db, job, kind, **values)
    assert [fault.key for fault in caught.value.faults] == [field]


def test_each_line_is_taxed_in_its_class(db: Session, machinist: Actor, job: Job):
    """EN 16931-1, BR-CO-14, BR-CO-17 and BR-S-8: 162.80 at 8.25 % is 13.431, 10.05 at 5 % 0.5025,
    64.00 is exempt; 13.43 + 0.50."""
    add(db, job, LineKind.FREIGHT, unit_price="64.00", tax_class="exempt")
    add(db, job, LineKind.FEE, unit_price="10.05", tax_class="reduced")
    approve(db, machinist, job)
    finish(db, machinist, job)
    invoice = issuing.issue_invoice(db, machinist, job)
    tax = of(invoice).tax
    assert [(part.code, part.rate_percent, part.net, part.tax) for part in tax.parts] == [
        ("S", Decimal("8.25"), Decimal("162.80"), Decimal("13.43")),
        ("S", Decimal(5), Decimal("10.05"), Decimal("0.50")),
        ("E", Decimal(0), Decimal("64.00"), Decimal(0)),
    ]
    assert tax.parts[2].exemption
    assert (invoice.tax, invoice.total) == (Decimal("13.93"), Decimal("250.78"))
    assert [line.tax_mark for line in of(invoice).lines] == ["8.25 %"] * 2 + ["exempt", "5 %"]
    fee = next(line for line in credits.open_lines(invoice) if line.printed.what == "fee")
    note = issuing.issue_credit_note(db, machinist, invoice, "not due", {fee.name: "10.05"})
    assert (note.tax, note.total) == (Decimal("0.50"), Decimal("10.55"))
    rest = issuing.issue_credit_note(db, machinist, invoice, "all")
    assert rest.total + note.total == invoice.total
    day = factories.NOW.date()
    rows = reports.tax_by_month(db, Period(day, day, zone(get_shop(db))))
    assert {row.name: (row.net, row.tax) for row in rows} == {
        name: (Decimal(0), Decimal(0)) for name in ("Tax 8.25 %", "Tax 5 %", "Tax, exempt")
    }


def test_the_class_of_work_is_that_of_its_type_of_step(db: Session, job: Job):
    kind = job.heads[0].operations[0].kind
    operation_kinds.change(db, factories.BY, kind, {"tax_class": "zero"})
    tax = pricing.tax(db, job, pricing.charged(job))
    assert [(part.code, part.net) for part in tax.parts] == [
        ("S", Decimal("62.80")), ("Z", Decimal("100.00")),
    ]  # fmt: skip


def test_a_certificate_of_exemption_is_printed_and_warned_of_once_out_of_date(
    db: Session, machinist: Actor, job: Job
):
    values = {"tax_exemption": "Resale", "exemption_certificate": "TX-0042",
              "exemption_valid_until": "2026-03-04"}  # fmt: skip
    customers.change(db, machinist, job.customer, values)
    approve(db, machinist, job)
    finish(db, machinist, job)
    content = of(issuing.issue_invoice(db, machinist, job))
    assert content.tax.tax == 0
    assert "Resale, certificate TX-0042, valid until" in content.tax.exemption
    assert taxes.outdated(job.customer, date(2026, 3, 5)) == date(2026, 3, 4)
    assert taxes.outdated(job.customer, date(2026, 3, 4)) is None


def test_lines_are_added_to_open_jobs_alone(db: Session, machinist: Actor, job: Job):
    approve(db, machinist, job)
    finish(db, machinist, job)
    issuing.issue_invoice(db, machinist, job)
    due = balances.of_job(db, job).balance
    payments.record(db, machinist, job, {"amount": str(due), "method": "cash"})
    jobs.cancel(db, machinist, job, "sold")
    with refused("no line can be changed"):
        add(db, job)
