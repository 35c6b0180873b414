"""One balance of a job: invoices - credit notes - payments, work not invoiced told apart."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.models import Job, Role
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    approvals,
    balances,
    credits,
    invoices,
    payment_receipts,
    payments,
    quotes,
)
from shopflow.services.counter import collections, customer_view
from shopflow.services.routing import operations
from tests import factories
from tests.services.expecting import faults_at

RATE = Decimal("8.25")
CASH = {"method": "cash"}


@pytest.fixture
def job(db: Session) -> Job:
    """A job of 150.05 before 8.25 % tax, approved and done: 162.43 with it."""
    factories.create_shop(db, tax_rate_percent="8.25")
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, price="100.00")
    factories.create_operation(db, visit, price="50.05")
    by = factories.someone(db)
    factories.approve(db, by, visit.job)
    for step in visit.operations:
        operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
    return visit.job


def test_a_partial_credit_lowers_what_is_left_to_pay_on_every_page_and_paper(
    db: Session, machinist: Actor, job: Job
):
    invoice = issuing.issue_invoice(db, machinist, job)
    first, _ = credits.open_lines(invoice)
    note = issuing.issue_credit_note(db, machinist, invoice, "a day late", {first.name: "20.00"})
    payments.record(db, machinist, job, {"amount": invoice.total - note.total, **CASH})
    answer = balances.of_job(db, job)
    assert (answer.invoiced, answer.credited) == (Decimal("162.43"), Decimal("21.65"))
    assert answer.balance == answer.left == answer.expected == 0
    assert customer_view.of(db, job, shows_prices=True).balance == answer
    receipt = payment_receipts.receipt(db, payments.of_job(db, job)[0])
    assert receipt.left == 0
    # What was credited does not keep the heads in the shop.
    factories.make_ready(db, machinist, job)
    owner = factories.someone(db, "Orla Finch", Role.OWNER)
    values = {"how": "collected", "handed_on": "2026-03-05", "handed_to": "Cal"}
    assert collections.hand_over(db, owner, job, values, [], []).balance == 0


def test_work_not_invoiced_and_work_not_approved_are_told_apart(
    db: Session, machinist: Actor, job: Job
):
    factories.create_operation(db, job.heads[0], price="10.00")
    answer = balances.of_job(db, job)
    assert (answer.balance, answer.approved.total) == (Decimal(0), Decimal("162.43"))
    assert answer.left == Decimal("162.43")
    assert answer.unapproved.total == Decimal("10.83")
    assert answer.expected == Decimal("173.26")
    issuing.issue_invoice(db, machinist, job)
    answer = balances.of_job(db, job)
    assert (answer.balance, answer.approved.total) == (Decimal("162.43"), Decimal(0))


def test_an_overpayment_must_be_meant_and_no_more_is_paid_back_than_came_in(
    db: Session, machinist: Actor, job: Job
):
    with faults_at("overpayment_meant"):
        payments.record(db, machinist, job, {"amount": "162.44", **CASH})
    payments.record(db, machinist, job, {"amount": "162.43", **CASH})
    with faults_at("overpayment_meant"):
        payments.record(db, machinist, job, {"amount": "0.01", **CASH})
    meant = {"overpayment_meant": True}
    payments.record(db, machinist, job, {"amount": "5.00", **CASH, **meant})
    assert balances.of_job(db, job).left == Decimal("-5.00")
    with faults_at("amount"):
        payments.record(db, machinist, job, {"amount": "-167.44", **CASH})
    payments.record(db, machinist, job, {"amount": "-5.00", **CASH})
    assert balances.of_job(db, job).left == 0


def test_a_deposit_may_be_taken_before_anything_is_priced(db: Session, machinist: Actor):
    job = factories.create_visit(db).job
    row = payments.record(db, machinist, job, {"amount": "300", "is_deposit": True, **CASH})
    assert payment_receipts.receipt(db, row).title == "Deposit receipt"
    with faults_at("overpayment_meant"):
        payments.record(db, machinist, job, {"amount": "300", **CASH})


@dataclass
class Ledger:
    """Ledger of the same acts as a bookkeeper keeps it, independent of the program."""

    invoices: dict[str, dict[int, Decimal]] = field(default_factory=dict)
    """The lines of each invoice, before tax."""

    credited: dict[str, dict[int, Decimal]] = field(default_factory=dict)
    credited_tax: dict[str, Decimal] = field(default_factory=dict)
    received: Decimal = Decimal(0)
    approved: dict[int, Decimal] = field(default_factory=dict)
    prices: dict[int, Decimal] = field(default_factory=dict)
    declined: set[int] = field(default_factory=set)

    @staticmethod
    def tax(net: Decimal) -> Decimal:
        """Tax on a sum, half up to the cent."""
        return (net * RATE / 100).quantize(Decimal("0.01"), ROUND_HALF_UP)

    def with_tax(self, amounts: list[Decimal]) -> Decimal:
        """A sum with its tax."""
        net = sum(amounts, Decimal(0))
        return net + self.tax(net)

    def open_lines(self, number: str) -> dict[int, Decimal]:
        """Balance of each line of an invoice."""
        in_use = self.credited.get(number, {})
        return {key: at - in_use.get(key, 0) for key, at in self.invoices[number].items()}

    def credit(self, number: str, amounts: dict[int, Decimal]) -> None:
        """Take amounts of an invoice's lines back; the last note takes the rest of the tax."""
        total = sum(amounts.values()) == sum(self.open_lines(number).values())
        left = self.tax(sum(self.invoices[number].values(), Decimal(0)))
        left -= self.credited_tax.get(number, Decimal(0))
        tax = left if total else min(self.tax(sum(amounts.values(), Decimal(0))), left)
        self.credited_tax[number] = self.credited_tax.get(number, Decimal(0)) + tax
        in_use = self.credited.setdefault(number, {})
        for key, amount in amounts.items():
            in_use[key] = in_use.get(key, Decimal(0)) + amount

    @property
    def balance(self) -> Decimal:
        """Invoices less credit notes and payments."""
        billed = sum((self.with_tax(list(x.values())) for x in self.invoices.values()), Decimal(0))
        back = sum((sum(x.values(), Decimal(0)) for x in self.credited.values()), Decimal(0))
        return billed - back - sum(self.credited_tax.values(), Decimal(0)) - self.received

    def not_invoiced(self, *, approved: bool) -> list[Decimal]:
        """Prices of the steps on no invoice that stands, approved at them or not."""
        standing = {
            key
            for number, lines in self.invoices.items()
            if any(self.open_lines(number).values())
            for key in lines
        }
        return [
            price
            for key, price in self.prices.items()
            if key not in standing | self.declined
            and (self.approved.get(key, Decimal(-1)) >= price) is approved
        ]


class Shop:
    """The program, driven at random beside the ledger."""

    def __init__(self, db: Session, by: Actor, seed: int) -> None:
        self.db, self.by, self.random = db, by, random.Random(seed)
        self.ledger = Ledger()
        self.visit = factories.create_visit(db)
        self.job = self.visit.job

    def step(self) -> None:
        """One act, any of them."""
        acts = (self.plan, self.plan, self.price, self.quote, self.invoice, self.credit,
                self.pay, self.pay, self.refund)  # fmt: skip
        self.random.choice(acts)()
        self.db.flush()

    def cents(self, most: int = 50_000) -> Decimal:
        return Decimal(self.random.randint(1, most)).scaleb(-2)

    def plan(self) -> None:
        price = self.cents()
        step = factories.create_operation(self.db, self.visit, "seat-cut", price=str(price))
        self.ledger.prices[step.id] = price

    def price(self) -> None:
        planned = [key for key in self.ledger.prices if key not in self.ledger.declined]
        if planned:
            key, price = self.random.choice(planned), self.cents()
            row = operations.get(self.db, key)
            operations.change(self.db, self.by, row, {"price": str(price)})
            self.ledger.prices[key] = price

    def quote(self) -> None:
        wanted = [key for key in self.ledger.prices if key not in self.ledger.declined]
        if not wanted:
            return
        quote = issuing.give_quote(self.db, self.by, self.job, {})
        declined = [key for key in wanted[1:] if self.random.random() < 0.2]
        declined = [key for key in declined if not self.invoiced(key)]
        quotes.approve(self.db, self.by, quote, "Cal", "telephone", declined=declined)
        self.ledger.declined |= set(declined)
        for key in wanted:
            self.ledger.approved[key] = self.ledger.prices[key]

    def invoiced(self, key: int) -> bool:
        return any(key in lines for lines in self.ledger.invoices.values())

    def invoice(self) -> None:
        steps = balances.of_job(self.db, self.job).to_invoice
        chosen = [step.id for step in steps if self.random.random() < 0.7]
        if chosen:
            invoice = issuing.issue_invoice(self.db, self.by, self.job, chosen)
            self.ledger.invoices[invoice.number] = {key: self.ledger.prices[key] for key in chosen}

    def credit(self) -> None:
        standing = [
            number
            for number in self.ledger.invoices
            if any(self.ledger.open_lines(number).values())
        ]
        if not standing:
            return
        number = self.random.choice(standing)
        lines = self.ledger.open_lines(number)
        amounts = {key: left for key, left in lines.items() if left}
        if self.random.random() < 0.7:
            key = self.random.choice(list(amounts))
            amounts = {key: min(amounts[key], self.cents())}
        by_name = {f"amount-{key}": str(amount) for key, amount in amounts.items()}
        issuing.issue_credit_note(
            self.db, self.by, invoices.get(self.db, number), "goodwill", by_name
        )
        self.ledger.credit(number, amounts)

    def pay(self) -> None:
        amount, meant = self.cents(), {"overpayment_meant": True}
        payments.record(self.db, self.by, self.job, {"amount": str(amount), **CASH, **meant})
        self.ledger.received += amount

    def refund(self) -> None:
        if self.ledger.received > 0:
            amount = min(self.cents(), self.ledger.received)
            payments.record(self.db, self.by, self.job, {"amount": str(-amount), **CASH})
            self.ledger.received -= amount


@pytest.mark.parametrize("seed", range(6))
def test_any_sequence_of_money_leaves_the_balance_an_independent_ledger_has(
    db: Session, machinist: Actor, seed: int
):
    factories.create_shop(db, tax_rate_percent=str(RATE))
    shop = Shop(db, machinist, seed)
    for _ in range(30):
        shop.step()
        answer, ledger = balances.of_job(db, shop.job), shop.ledger
        assert answer.balance == ledger.balance
        assert answer.received == ledger.received
        approved = ledger.with_tax(ledger.not_invoiced(approved=True))
        assert answer.approved.total == approved
        assert answer.unapproved.total == ledger.with_tax(ledger.not_invoiced(approved=False))
        assert answer.left == ledger.balance + approved
    assert {step.id for step in approvals.declined(shop.job)} == shop.ledger.declined
