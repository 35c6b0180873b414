"""The forms of operations: planning, changing, signing off, leaving out."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import OperationKind, Routing
from shopflow.web.fields import ChoiceField, CountField, MoneyField, TypedField, WordsField
from shopflow.web.forms import EditForm, Form


class AddForm(Form):
    """One more step of a head's routing."""

    kind_id = ChoiceField("Step", [])
    instructions = WordsField("Instructions", rows=2)
    planned_minutes = CountField("Planned minutes", "The usual ones where left empty.")
    price = MoneyField("Price", "The usual one where left empty.")

    @classmethod
    def offering(cls, kinds: Sequence[OperationKind]) -> AddForm:
        """The form with these kinds of step on offer."""
        form = cls()
        form.kind_id.choices = [(str(kind.id), kind.name) for kind in kinds]
        return form


class RoutingForm(Form):
    """Every step of a saved routing at once."""

    routing_id = ChoiceField("Saved routing", [])

    @classmethod
    def offering(cls, routings: Sequence[Routing]) -> RoutingForm:
        """The form with these routings on offer."""
        form = cls()
        form.routing_id.choices = [
            (str(routing.id), f"{routing.name} ({len(routing.steps)} steps)")
            for routing in routings
        ]
        return form


class ChangeForm(EditForm):
    """A step, changed."""

    instructions = WordsField("Instructions")
    planned_minutes = CountField("Planned minutes", needed=True)
    price = MoneyField("Price")
    notes = WordsField("Notes of the work")


class SignOffForm(EditForm):
    """What the work took, and what is worth saying of it."""

    actual_minutes = CountField("Minutes it took")
    notes = TypedField("Note", "What the next one must know; empty for nothing.")


class SkipForm(EditForm):
    """Why a step is left out."""

    skip_reason = WordsField("Reason", rows=2, needed=True)
