"""The form of a decision."""

from __future__ import annotations

from shopflow.models import Choice
from shopflow.web.fields import ChoiceField, WordsField
from shopflow.web.forms import Form

WORDS = {
    "": "Choose",
    Choice.GO_ON.value: "Go on as it is",
    Choice.AGAIN.value: "Do the step again, right after this one",
    Choice.ASK.value: "Ask the customer; the head waits",
}


class DecisionForm(Form):
    """How to go on, and why."""

    choice = ChoiceField("How to go on", WORDS, needed=True)
    reason = WordsField(
        "Reason", "It stands in the job's history and on the work order.", rows=2, needed=True
    )
