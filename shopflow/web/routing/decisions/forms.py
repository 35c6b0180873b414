"""The form of a decision."""

from __future__ import annotations

from shopflow.models import Choice
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, WordsField
from shopflow.web.forms import Form

WORDS = {
    "": lazy("Choose"),
    Choice.GO_ON.value: lazy("Continue as it is"),
    Choice.AGAIN.value: lazy("Repeat the step right after this one"),
    Choice.ASK.value: lazy("Ask the customer and put the head on hold"),
}


class DecisionForm(Form):
    """Choice of how to continue, and the reason."""

    choice = ChoiceField(lazy("How to continue"), WORDS, needed=True)
    reason = WordsField(
        lazy("Reason"),
        lazy("Shown in the job's history and on the work order."),
        rows=2,
        needed=True,
    )
