"""The form of a saved list of lifts."""

from __future__ import annotations

from shopflow.models import LiftList
from shopflow.services.registry import lift_lists
from shopflow.testfile.keys import LENGTHS
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, TypedField, WordsField
from shopflow.web.forms import EditForm


class LiftsField(WordsField):
    """A rising row of lifts."""

    reader = staticmethod(lift_lists.lifts)


class LiftListForm(EditForm):
    """A list by its name."""

    name = TypedField(lazy("Name"), lazy("For example small valves, every 0.050."), needed=True)
    unit = ChoiceField(lazy("Unit"), {symbol: symbol for symbol in LENGTHS})
    lifts = LiftsField(
        lazy("Lifts"),
        lazy("Rising, separated by spaces or new lines. For example 0.050 0.100 0.150."),
        needed=True,
    )

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
