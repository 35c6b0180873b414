"""The form of a warranty return."""

from __future__ import annotations

from shopflow.models import Bearer
from shopflow.web.fields import ChoiceField, WordsField
from shopflow.web.forms import EditForm


class WarrantyForm(EditForm):
    """Why a job came back, and who bears it."""

    reason = WordsField("Why it came back", needed=True)
    borne_by = ChoiceField("Who bears it", Bearer)
