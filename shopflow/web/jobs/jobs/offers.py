"""Offers for the customer's approval: the lines of a quote, or the work as planned."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Job, Quote
from shopflow.services.billing import approvals, quotes
from shopflow.services.billing.pricing import Charge, Charged


@dataclass(frozen=True)
class Line:
    """A step or line at the price asked for it."""

    row: Charged
    price: Decimal
    extra: bool = False

    @property
    def key(self) -> str:
        """The value of its box."""
        return self.row.key

    @property
    def can_be_declined(self) -> bool:
        """True where the customer may leave it out: a step, until it is begun."""
        return self.row.can_be_declined


@dataclass(frozen=True)
class Offer:
    """The lines asked for, and what tells them from any others."""

    lines: tuple[Line, ...]
    """Lines that the customer says yes or no to."""

    seen: str
    refusal: str = ""
    """Reason why nothing can be approved."""

    along: tuple[Line, ...] = ()
    """Discounts and texts that go along with what is approved."""

    @classmethod
    def of(cls, db: Session, job: Job, quote: Quote | None) -> Offer:
        """The quote that waits for an answer, or the work planned."""
        if quote is not None:
            extra = {line.key for line in quote.lines if line.extra}
            return cls._of(approvals.quoted(job, quote), extra, quote.title)
        if job.approved_at is not None:
            return cls((), "")
        try:
            charges = approvals.priced_work(db, job)
        except RuleError as error:
            return cls((), quotes.work_seen(job), str(error))
        return cls._of(charges, set(), quotes.work_seen(job))

    @classmethod
    def _of(cls, charges: list[Charge], extra: set[str], seen: str) -> Offer:
        lines = [
            Line(charge.row, charge.amount, charge.row.key in extra)
            for charge in charges
        ]  # fmt: skip
        asked = [line for line in lines if approvals.is_on_offer(line.row)]
        along = [line for line in lines if line not in asked]
        return cls(tuple(asked), seen, along=tuple(along))

    @property
    def net(self) -> Decimal:
        """Sum of the lines before tax."""
        return sum((line.price for line in (*self.lines, *self.along)), Decimal(0))
