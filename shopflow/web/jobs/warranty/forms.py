"""The form of a warranty return."""

from __future__ import annotations

from shopflow.models import Bearer
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, WordsField
from shopflow.web.forms import EditForm

BEARS = lazy(
    "If the shop pays, nothing on this job is charged. Book work that the customer pays for on "
    "its own job."
)


class WarrantyForm(EditForm):
    """Reason why a job came back, and who pays."""

    reason = WordsField(lazy("Reason for return"), needed=True)
    borne_by = ChoiceField(lazy("Who pays"), Bearer, BEARS)
