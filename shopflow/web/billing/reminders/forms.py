"""The form of a stage of reminders."""

from __future__ import annotations

from shopflow.texts import lazy
from shopflow.web.fields import CountField, TypedField, WordsField
from shopflow.web.forms import EditForm


class StageForm(EditForm):
    """Day on which a stage is due, and its words."""

    days_overdue = CountField(lazy("Days overdue"), lazy("For example 7."), least=1)
    subject = TypedField(lazy("Subject"), lazy("For example Friendly reminder."), needed=True)
    body = WordsField(
        lazy("Message (optional)"), lazy("Follows the greeting and the list of invoices."), rows=6
    )
