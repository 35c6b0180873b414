"""The form of a warranty return."""

from __future__ import annotations

from shopflow.models import Bearer
from shopflow.web.fields import ChoiceField, WordsField
from shopflow.web.forms import EditForm

BEARS = (
    "Where the shop bears it, nothing of the job is charged; work that the customer pays for goes "
    "on a job of its own."
)


class WarrantyForm(EditForm):
    """Why a job came back, and who bears it."""

    reason = WordsField("Why it came back", needed=True)
    borne_by = ChoiceField("Who bears it", Bearer, BEARS)
