"""The forms of a job, once it is booked in."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField, HiddenField
from wtforms import Form as PlainForm

from shopflow.models import CastingState, Induction, Job, Purpose, Visit
from shopflow.services.jobs.jobs import VISIT
from shopflow.services.jobs.received_parts import in_lines
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
    "": "Choose",
    **{
        way: way.capitalize()
        for way in ("telephone", "e-mail", "in person", "signed quote", "private link")
    },
}
"""Ways in which customers approve."""

OF_CASTINGS = (
    "As cast means nobody has worked on its ports, chambers or seats. Only these heads count as "
    "stock in past results."
)
PRIORITIES = {"0": "Normal", "1": "High", "2": "Urgent"}


class JobFields(PlainForm):
    """Work the customer asked for, and the use of the engine."""

    asked_for = WordsField(
        "Asked for", "In the customer's words. Printed at the top of the work order.", rows=4
    )
    purpose = ChoiceField("Purpose", Purpose, default=Purpose.STREET.value)
    induction = ChoiceField("Induction", Induction, default=Induction.NATURAL.value)
    boost = QuantityField(
        "Boost", "pressure", "At the intake valve. For example 20 psi or 1.4 bar."
    )
    rev_limit_rpm = CountField("Rev limit, rpm", least=1)
    fuel = TypedField("Fuel")
    intake_lift = QuantityField(
        "Intake lift", "length", "At the valve. For example 0.450 in or 11.4 mm."
    )
    exhaust_lift = QuantityField(
        "Exhaust lift", "length", "At the valve. For example 0.450 in or 11.4 mm."
    )
    promised_on = DayField("Promised for")
    priority = ChoiceField("Priority", PRIORITIES, default="0")
    notes = WordsField("Notes", "Only the shop sees these notes.", rows=2)


class JobForm(EditForm, JobFields):
    """A job's facts, changed."""


class DepositPart(PlainForm):
    """Money left at the counter: a payment like any other, with a receipt."""

    amount = MoneyField("Deposit taken (optional)", "For example 300.00.")
    method = TypedField("Deposit paid by", "For example cash or card.")
    overpayment_meant = BooleanField("The deposit may exceed the planned work")


class ApproveForm(EditForm):
    """The customer's word that the work may be done."""

    approved_by = TypedField("Approved by", needed=True)
    approved_how = ChoiceField("How", WAYS, needed=True)
    detail = TypedField("Details (optional)", "For example voice mail of 3 March.")
    lines = TicksField("Approved lines", "Untick the lines that the customer declines.")
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
        steps = [step for visit in job.heads for step in visit.operations]
        # A box of an offer answered meanwhile is no fault of the field: the conflict is shown.
        form.lines.choices = {str(step.id): step.kind.name for step in steps}
        form.offer = offer
        return form

    @property
    def how(self) -> str:
        """The way it was said, with what is worth adding."""
        return ", ".join(filter(None, (self.approved_how.data, (self.detail.data or "").strip())))

    @property
    def declined(self) -> list[int]:
        """Keys of the steps on offer whose boxes are clear."""
        return [line.step.id for line in self._clear]

    @property
    def declined_in_words(self) -> str:
        """The names of those steps, to be added to a message."""
        names = ", ".join(line.step.kind.name for line in self._clear)
        return f"; declined: {names}" if names else ""

    @property
    def _clear(self) -> list[Line]:
        return [line for line in self.offer.lines if line.key not in (self.lines.data or ())]


class CancelForm(EditForm):
    """Calling a job off."""

    cancel_reason = WordsField("Reason", "The job and its work stay on record.", needed=True)


class MoveForm(EditForm):
    """Taking a job on to its next state."""

    state = ChoiceField("State", {})

    @classmethod
    def of(cls, job: Job) -> MoveForm:
        """The form, offering only what follows the job's state."""
        form = cls(data={"state": job.state.value, "version": job.version})
        form.state.choices = {state.value: words for state, words in words_for(job)}
        return form


class ConditionForm(EditForm):
    """Condition of a head on arrival for this job."""

    casting_state = ChoiceField("State of the casting", CastingState, OF_CASTINGS)
    condition = WordsField("Condition on arrival", rows=4)
    parts = PartLines("Parts received", "One kind per line. For example 16 valves.", rows=6)
    parts_received = WordsField("Notes on parts", rows=2)
    came_back_because = WordsField("Reason for return", "Leave empty on a first visit.", rows=2)

    @classmethod
    def of(cls, visit: Visit) -> ConditionForm:
        """The form over a visit, its parts one kind a line."""
        values = {name: getattr(visit, name) for name in VISIT if name != "parts"}
        return cls(data={**values, "parts": in_lines(visit), "version": visit.version})
