"""The form of labels."""

from __future__ import annotations

from typing import Any

from shopflow.documents.labels import LABELS
from shopflow.services.paperwork.labels import MOST_COPIES
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, CountField
from shopflow.web.forms import Form


class TagsForm(Form):
    """Label stock to print on."""

    refusal = lazy("Not printed yet.")

    label = ChoiceField(lazy("Labels"), {code: label.name for code, label in LABELS.items()})
    start = CountField(
        lazy("First free label"),
        lazy("On a used sheet, counted along the rows; 1 on a roll."),
        least=1,
        default=1,
    )
    copies = CountField(
        lazy("Labels per head"), lazy("From 1 to {most}.", most=MOST_COPIES), least=1, default=1
    )

    @property
    def printing(self) -> dict[str, Any]:
        """Arguments for printing the labels."""
        return {
            "label": self.label.data,
            "start": int(self.start.data or 1),
            "copies": int(self.copies.data or 1),
        }
