"""The form of a customer's answer."""

from __future__ import annotations

from shopflow.models import Choice
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, WordsField
from shopflow.web.forms import Form

CHOICES = {
    "": lazy("Choose"),
    Choice.GO_ON.value: lazy("Continue as it is"),
    Choice.AGAIN.value: lazy("Repeat the step right after this one"),
}


class AnswerForm(Form):
    """The customer's decision, in their words."""

    choice = ChoiceField(lazy("The customer wants to"), CHOICES, needed=True)
    reason = WordsField(
        lazy("Answer"),
        lazy(
            "For example by telephone, with whom. Shown in the job's history and on the work order."
        ),
        rows=2,
        needed=True,
    )
