"""Offers for the customer's approval: the lines of a quote, or the work as planned."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shopflow.errors import RuleError
from shopflow.models import Job, Operation, OperationState, Quote
from shopflow.services.billing import approvals, quotes


@dataclass(frozen=True)
class Line:
    """A step at the price asked for it."""

    step: Operation
    price: Decimal
    extra: bool = False

    @property
    def key(self) -> str:
        """The value of its box."""
        return str(self.step.id)

    @property
    def can_be_declined(self) -> bool:
        """True where the step is not begun yet."""
        return self.step.state is OperationState.PLANNED


@dataclass(frozen=True)
class Offer:
    """The lines asked for, and what tells them from any others."""

    lines: tuple[Line, ...]
    seen: str
    refusal: str = ""
    """Reason why nothing can be approved."""

    @classmethod
    def of(cls, job: Job, quote: Quote | None) -> Offer:
        """The quote that waits for an answer, or the work planned."""
        if quote is not None:
            steps = {step.id: step for visit in job.heads for step in visit.operations}
            lines = (Line(steps[row.operation_id], row.price, row.extra) for row in quote.lines)
            return cls(tuple(line for line in lines if line.step.counts), quote.title)
        if job.approved_at is not None:
            return cls((), "")
        try:
            steps_asked = approvals.priced_work(job)
        except RuleError as error:
            return cls((), quotes.work_seen(job), str(error))
        lines = (Line(step, step.charge or Decimal(0)) for step in steps_asked)
        return cls(tuple(lines), quotes.work_seen(job))

    @property
    def net(self) -> Decimal:
        """Sum of the lines before tax."""
        return sum((line.price for line in self.lines), Decimal(0))
