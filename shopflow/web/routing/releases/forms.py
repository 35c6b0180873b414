"""The form of a release ahead of approval."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import Operation
from shopflow.texts import lazy
from shopflow.web.fields import TicksField, WordsField
from shopflow.web.forms import Form


class ReleaseForm(Form):
    """Steps to release, and the reason."""

    refusal = lazy("Not released.")

    steps = TicksField(lazy("Steps"))
    reason = WordsField(
        lazy("Reason"),
        lazy("Shown in the job's history and on the work order."),
        rows=2,
        needed=True,
    )

    @classmethod
    def offering(cls, waiting: Sequence[Operation]) -> ReleaseForm:
        """The form with the steps that wait, all of them ticked."""
        form = cls(data={"steps": [str(step.id) for step in waiting]})
        form.steps.choices = {
            str(step.id): f"{step.kind.name}, {step.job_head.tag}" for step in waiting
        }
        return form

    def chosen(self, waiting: Sequence[Operation]) -> list[Operation]:
        """The steps that are ticked."""
        return [step for step in waiting if str(step.id) in (self.steps.data or ())]
