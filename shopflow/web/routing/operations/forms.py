"""The forms of operations: planning, changing, signing off, leaving out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from wtforms import BooleanField

from shopflow.models import MeasurementKind, Operation, OperationKind, Routing, Visit
from shopflow.services.measuring import limit_checks
from shopflow.services.routing import like_heads, time_tracking
from shopflow.texts import gettext, lazy, ngettext
from shopflow.web.fields import ChoiceField, CountField, MoneyField, TypedField, WordsField
from shopflow.web.forms import EditForm, Form
from shopflow.web.routing.like_heads import offer_all

INTERNAL = lazy("For the shop only: never printed for the customer.")
PRINTED = lazy("Printed on quotes and invoices under this step.")


class AddForm(Form):
    """One more step of a head's routing."""

    kind_id = ChoiceField(lazy("Step"), {})
    instructions = WordsField(lazy("Instructions"), INTERNAL, rows=2)
    customer_text = TypedField(lazy("Text for the customer (optional)"), PRINTED)
    planned_minutes = CountField(
        lazy("Planned minutes"), lazy("Leave blank for the usual minutes.")
    )
    price = MoneyField(lazy("Price"), lazy("Leave blank for the usual price; 0.00 for no charge."))
    all_heads = BooleanField(lazy("Apply to all heads"))

    @classmethod
    def offering(cls, visit: Visit, kinds: Sequence[OperationKind]) -> AddForm:
        """The form for a head, with these kinds of step on offer."""
        form = cls()
        form.kind_id.choices = {str(kind.id): kind.name for kind in kinds}
        offer_all(form, visit)
        return form


class RoutingForm(Form):
    """Every step of a saved routing at once."""

    routing_id = ChoiceField(lazy("Work plan template"), {})
    all_heads = BooleanField(lazy("Apply to all heads"))

    @classmethod
    def offering(cls, visit: Visit, routings: Sequence[Routing]) -> RoutingForm:
        """The form for a head, with these routings on offer."""
        form = cls()
        offer_all(form, visit)
        form.routing_id.choices = {
            str(routing.id): ngettext(
                "{routing} ({num} step)",
                "{routing} ({num} steps)",
                len(routing.steps),
                routing=routing.name,
            )
            for routing in routings
        }
        return form


class ChangeForm(EditForm):
    """A step, changed."""

    instructions = WordsField(lazy("Instructions"), INTERNAL)
    customer_text = TypedField(lazy("Text for the customer (optional)"), PRINTED)
    planned_minutes = CountField(lazy("Planned minutes"), needed=True)
    price = MoneyField(lazy("Price"), lazy("Leave blank if not priced yet; 0.00 for no charge."))
    notes = WordsField(lazy("Work notes"))
    all_heads = BooleanField(
        lazy("Apply to all heads"),
        description=lazy(
            "Your changes to instructions, texts, minutes and price. Closed steps and work notes "
            "stay as they are."
        ),
    )

    @classmethod
    def of(cls, step: Operation) -> ChangeForm:
        """The form over a step; the box for heads alike where another has this step open."""
        form = cls(obj=step)
        if like_heads.likes(step):
            offer_all(form, step.job_head)
        else:
            del form.all_heads
        return form


class PlaceForm(EditForm):
    """Position of a step among the others."""

    number = ChoiceField(lazy("After which step?"), {})

    @classmethod
    def of(cls, step: Operation) -> PlaceForm:
        """The form, offering each position the step may have."""
        steps = step.job_head.operations
        now = steps.index(step)
        form = cls(data={"number": str(now + 1), "version": step.version})
        form.number.choices = {
            str(index + 1): _place_in_words(steps, now, index)
            for index in range(len(steps))
            if all(between.is_open for between in steps[min(now, index) : max(now, index) + 1])
        }
        return form


def _place_in_words(steps: Sequence[Operation], now: int, index: int) -> str:
    if index == now:
        return gettext("where it is now")
    neighbor = {"number": index + 1, "step": steps[index].kind.name}
    if index < now:
        return gettext("before {number}. {step}", **neighbor)
    return gettext("after {number}. {step}", **neighbor)


class RepeatForm(Form):
    """Reason why a step is repeated."""

    reason = WordsField(lazy("Reason"), rows=2, needed=True)


class SignOffForm(EditForm):
    """Time the work took, and notes on it."""

    actual_minutes = CountField(lazy("Actual minutes"))
    notes = TypedField(lazy("Note (optional)"), lazy("For whoever does the next step."))
    not_measured_because = TypedField(lazy("Reason for not measuring"))

    @classmethod
    def of(
        cls, step: Operation, now: datetime, kinds: Mapping[str, MeasurementKind]
    ) -> SignOffForm:
        """The form, offering the time that ran on the step."""
        minutes = time_tracking.minutes(step, now) if step.stretches else step.actual_minutes
        start = {"actual_minutes": minutes, "notes": step.notes, "version": step.version}
        form = cls(data={**start, "not_measured_because": step.not_measured_because})
        missing = limit_checks.missing(step, kinds)
        if missing:
            form.not_measured_because.description = gettext(
                "Missing: {missing}.", missing=", ".join(missing)
            )
        else:
            del form.not_measured_because
        return form


class SkipForm(EditForm):
    """Reason why a step is skipped."""

    skip_reason = WordsField(lazy("Reason"), rows=2, needed=True)
