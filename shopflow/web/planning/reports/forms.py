"""The period of a report; it is in the address."""

from __future__ import annotations

from shopflow.texts import lazy
from shopflow.web.fields import DayField
from shopflow.web.forms import Form


class PeriodForm(Form):
    """From which day to which."""

    class Meta:
        """Nothing is changed by it, so that no token is wanted."""

        csrf = False

    refusal = lazy("Not shown yet.")

    first = DayField(lazy("From"), name="from")
    last = DayField(lazy("To"), name="to")
