"""The forms of certificates."""

from __future__ import annotations

from wtforms import SelectMultipleField, SubmitField
from wtforms.widgets import CheckboxInput, ListWidget

from shopflow.models import BenchSession, JobHead
from shopflow.services.outcomes import session_name
from shopflow.web.fields import WordsField
from shopflow.web.forms import Form


class CertificateForm(Form):
    """Which sessions a certificate states."""

    sessions = SelectMultipleField(
        "Bench sessions",
        description="A later session is compared with the first of the same port.",
        coerce=int,
        widget=ListWidget(prefix_label=False),
        option_widget=CheckboxInput(),
    )
    issue = SubmitField("Issue the certificate")

    @classmethod
    def of(cls, stay: JobHead) -> CertificateForm:
        """The form over a head's sessions, each one ticked to begin with."""
        form = cls(data={"sessions": [row.id for row in stay.sessions]})
        form.sessions.choices = [
            (row.id, f"{row.side.capitalize()}: {session_name(row)}") for row in stay.sessions
        ]
        return form

    def chosen(self, stay: JobHead) -> list[BenchSession]:
        """The sessions ticked."""
        return [row for row in stay.sessions if row.id in (self.sessions.data or [])]


class CorrectionForm(CertificateForm):
    """A new revision, with what it corrects."""

    reason = WordsField("What is corrected, and why", needed=True)
    issue = SubmitField("Issue the new revision")
