"""Form of a hold on a head."""

from __future__ import annotations

from shopflow.models import WaitFor
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, DayField, TypedField
from shopflow.web.forms import EditForm


class WaitForm(EditForm):
    """Whom or what it waits for, since when, until when."""

    wait_for = ChoiceField(lazy("Waiting for"), WaitFor)
    what = TypedField(
        lazy("Details"), lazy("For example eight exhaust valves, ordered."), needed=True
    )
    since = DayField(lazy("Since"), needed=True)
    expected_on = DayField(lazy("Expected on"), lazy("Leave empty if nobody knows."))
