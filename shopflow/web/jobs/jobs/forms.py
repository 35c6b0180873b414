"""The forms of a job, once it is booked in."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField, HiddenField
from wtforms import Form as PlainForm

from shopflow.models import CastingState, Induction, Job, JobState, Purpose, Visit
from shopflow.services.billing import pricing
from shopflow.services.jobs.jobs import VISIT, untouched
from shopflow.services.jobs.received_parts import in_lines
from shopflow.texts import gettext_noop, lazy
from shopflow.web.fields import (
    ChoiceField,
    CountField,
    DayField,
    MoneyField,
    QuantityField,
    TicksField,
    TypedField,
    WordsField,
)
from shopflow.web.forms import EditForm
from shopflow.web.jobs.jobs.moves import words_for
from shopflow.web.jobs.jobs.offers import Line, Offer
from shopflow.web.jobs.jobs.receiving import PartLines

WAYS = {
    "": lazy("Choose"),
    gettext_noop("telephone"): lazy("Telephone"),
    gettext_noop("e-mail"): lazy("E-mail"),
    gettext_noop("in person"): lazy("In person"),
    gettext_noop("signed quote"): lazy("Signed quote"),
    gettext_noop("private link"): lazy("Private link"),
}
"""Ways in which customers approve."""

OF_CASTINGS = lazy(
    "As cast means nobody has worked on its ports, chambers or seats. Only these heads count as "
    "stock in past results."
)
PRIORITIES = {"0": lazy("Normal"), "1": lazy("High"), "2": lazy("Urgent")}


class JobFields(PlainForm):
    """Work the customer asked for, and the use of the engine."""

    asked_for = WordsField(
        lazy("Asked for"),
        lazy("In the customer's words. Printed at the top of the work order."),
        rows=4,
    )
    purpose = ChoiceField(lazy("Purpose"), Purpose, default=Purpose.STREET.value)
    induction = ChoiceField(lazy("Induction"), Induction, default=Induction.NATURAL.value)
    boost = QuantityField(
        lazy("Boost"), "pressure", lazy("At the intake valve. For example 20 psi or 1.4 bar.")
    )
    rev_limit_rpm = CountField(lazy("Rev limit, rpm"), least=1)
    fuel = TypedField(lazy("Fuel"))
    intake_lift = QuantityField(
        lazy("Intake lift"), "length", lazy("At the valve. For example 0.450 in or 11.4 mm.")
    )
    exhaust_lift = QuantityField(
        lazy("Exhaust lift"), "length", lazy("At the valve. For example 0.450 in or 11.4 mm.")
    )
    promised_on = DayField(lazy("Promised for"))
    priority = ChoiceField(lazy("Priority"), PRIORITIES, default="0")
    order_number = TypedField(
        lazy("Customer's order number (optional)"), lazy("Printed on quotes and invoices.")
    )
    notes = WordsField(lazy("Notes"), lazy("Only the shop sees these notes."), rows=2)


class JobForm(EditForm, JobFields):
    """A job's facts, changed."""


class DepositPart(PlainForm):
    """Money left at the counter: a payment like any other, with a receipt."""

    amount = MoneyField(lazy("Deposit taken (optional)"), lazy("For example 300.00."))
    method = TypedField(lazy("Deposit paid by"), lazy("For example cash or card."))
    overpayment_meant = BooleanField(lazy("The deposit may exceed the planned work"))


class ApproveForm(EditForm):
    """The customer's word that the work may be done."""

    approved_by = TypedField(lazy("Approved by"), needed=True)
    approved_how = ChoiceField(lazy("How"), WAYS, needed=True)
    detail = TypedField(lazy("Details (optional)"), lazy("For example voice mail of 3 March."))
    lines = TicksField(lazy("Approved lines"), lazy("Untick the lines that the customer declines."))
    quote = HiddenField()
    offer: Offer

    @classmethod
    def over(cls, job: Job, offer: Offer) -> ApproveForm:
        """The form of a job, every line on offer ticked.

        Where nothing waits for approval it shows what is on record.
        """
        start: dict[str, Any] = {"approved_by": job.customer.name, "version": job.version}
        start |= {"quote": offer.seen, "lines": [line.key for line in offer.lines]}
        if job.approved_at is not None and not offer.lines:
            way, _, detail = job.approved_how.partition(", ")
            start |= {"approved_by": job.approved_by, "approved_how": way, "detail": detail}
        form = cls(data=start)
        # A box of an offer answered meanwhile is no fault of the field: the conflict is shown.
        form.lines.choices = {row.key: row.title for row in pricing.all_rows(job)}
        form.offer = offer
        return form

    @property
    def how(self) -> str:
        """The way it was said, with what is worth adding."""
        return ", ".join(filter(None, (self.approved_how.data, (self.detail.data or "").strip())))

    @property
    def declined(self) -> list[str]:
        """Keys of what is on offer and whose boxes are clear."""
        return [line.key for line in self._clear]

    @property
    def declined_in_words(self) -> str:
        """The names of those, to be added to a message."""
        names = ", ".join(line.row.title for line in self._clear)
        return f"; declined: {names}" if names else ""

    @property
    def _clear(self) -> list[Line]:
        return [line for line in self.offer.lines if line.key not in (self.lines.data or ())]


class CancelForm(EditForm):
    """Calling a job off."""

    cancel_reason = WordsField(
        lazy("Reason"), lazy("The job and its work stay on record."), needed=True
    )


class MoveForm(EditForm):
    """Taking a job on to its next state."""

    state = ChoiceField(lazy("State"), {})
    untouched_because = WordsField(
        lazy("Why nothing was done"), lazy("Recorded on each head named."), rows=2
    )

    @classmethod
    def of(cls, job: Job) -> MoveForm:
        """The form, offering only what follows the job's state; it asks why heads are untouched."""
        form = cls(data={"state": job.state.value, "version": job.version})
        form.state.choices = {state.value: words for state, words in words_for(job)}
        leaves = JobState.READY.value in form.state.choices
        if not leaves or not untouched(job):
            del form.untouched_because
        return form

    @property
    def untouched_reason(self) -> str:
        """Reason entered; empty where none is asked for."""
        return (self.untouched_because.data or "") if "untouched_because" in self else ""


class ConditionForm(EditForm):
    """Condition of a head on arrival for this job."""

    casting_state = ChoiceField(lazy("State of the casting"), CastingState, OF_CASTINGS)
    condition = WordsField(lazy("Condition on arrival"), rows=4)
    parts = PartLines(
        lazy("Parts received"), lazy("One kind per line. For example 16 valves."), rows=6
    )
    parts_received = WordsField(lazy("Notes on parts"), rows=2)
    came_back_because = WordsField(
        lazy("Reason for return"), lazy("Leave empty on a first visit."), rows=2
    )

    @classmethod
    def of(cls, visit: Visit) -> ConditionForm:
        """The form over a visit, its parts one kind a line."""
        values = {name: getattr(visit, name) for name in VISIT if name != "parts"}
        return cls(data={**values, "parts": in_lines(visit), "version": visit.version})
