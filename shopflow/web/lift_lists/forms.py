"""The form of a saved list of lifts."""

from __future__ import annotations

from shopflow.models import LiftList
from shopflow.sessionfile.keys import LENGTHS
from shopflow.web.fields import ChoiceField, TypedField, WordsField
from shopflow.web.forms import EditForm


class LiftListForm(EditForm):
    """A list by its name."""

    name = TypedField("Name", "As: small valves, every 0.050.", needed=True)
    unit = ChoiceField("Lifts in", {symbol: symbol for symbol in LENGTHS})
    lifts = WordsField("Lifts", "Rising, with spaces or new lines between: 0.050 0.100 0.150.")

    @classmethod
    def over(cls, row: LiftList) -> LiftListForm:
        """The form filled from a list."""
        return cls(
            data={
                "name": row.name,
                "unit": row.unit,
                "lifts": " ".join(row.lifts),
                "version": str(row.version),
            }
        )
