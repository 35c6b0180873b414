"""The forms of invoices."""

from __future__ import annotations

from wtforms import SubmitField

from shopflow.web.fields import WordsField
from shopflow.web.forms import Form


class IssueForm(Form):
    """Issuing, once looked at."""

    refusal = "Not issued yet."

    issue = SubmitField("Issue the invoice")


class CreditForm(Form):
    """Taking an invoice back."""

    refusal = "Not issued yet."

    reason = WordsField("Why it is taken back", "Printed on the credit note.", needed=True)
    issue = SubmitField("Issue the credit note")
