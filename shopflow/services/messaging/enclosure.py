"""A document to send by e-mail."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shopflow.models import Customer, Job, Supplier


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A paper to send: the job it is of, what to call it, and the source of its PDF."""

    job: Job | None
    """None of a paper of several jobs, or of none."""

    title: str
    file_name: str
    pdf: Callable[[], bytes]
    of_customer: Customer | None = None
    supplier: Supplier | None = None
    """Recipient of a paper that is of no job."""

    @property
    def customer(self) -> Customer | None:
        """The customer it goes to; none where it goes to a supplier."""
        return self.job.customer if self.job is not None else self.of_customer

    @property
    def addressee(self) -> Customer | Supplier:
        """The recipient."""
        addressee = self.customer or self.supplier
        assert addressee is not None
        return addressee
