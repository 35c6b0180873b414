"""The form that withdraws a certificate."""

from __future__ import annotations

from shopflow.texts import lazy
from shopflow.web.fields import TypedField
from shopflow.web.forms import Form


class WithdrawForm(Form):
    """Reason why a certificate must not be relied on."""

    reason = TypedField(
        lazy("Why"), lazy("Anyone who verifies the certificate reads this."), needed=True
    )
