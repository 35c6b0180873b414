"""The form of labels."""

from __future__ import annotations

from typing import Any

from shopflow.documents.labels import LABELS
from shopflow.services.paperwork.labels import MOST_COPIES
from shopflow.web.fields import ChoiceField, CountField
from shopflow.web.forms import Form


class TagsForm(Form):
    """Label stock to print on."""

    refusal = "Not printed yet."

    label = ChoiceField("Labels", {code: label.name for code, label in LABELS.items()})
    start = CountField(
        "First free label",
        "On a used sheet, counted along the rows; 1 on a roll.",
        least=1,
        default=1,
    )
    copies = CountField("Labels per head", f"From 1 to {MOST_COPIES}.", least=1, default=1)

    @property
    def printing(self) -> dict[str, Any]:
        """Arguments for printing the labels."""
        return {
            "label": self.label.data,
            "start": int(self.start.data or 1),
            "copies": int(self.copies.data or 1),
        }
