"""Forms of bench mode: a casting that nobody booked in, and the job its tests move to."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import SelectField

from shopflow.models import EngineType, Visit
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, TypedField
from shopflow.web.forms import Form


class NewHeadForm(Form):
    """A head without a job."""

    engine_type = ChoiceField(lazy("Engine type"), {}, needed=True)
    serial = TypedField(lazy("Serial or mark (optional)"))

    @classmethod
    def offering(cls, engine_types: Sequence[EngineType]) -> NewHeadForm:
        """The form over the engine types on record."""
        form = cls()
        form.engine_type.choices = {"": gettext("Choose")} | {
            str(row.id): row.title for row in engine_types
        }
        return form


class MoveForm(Form):
    """The head on a job that tests move to."""

    label = SelectField(lazy("Move to"), choices={}, validate_choice=True)

    @classmethod
    def offering(cls, visits: Sequence[Visit]) -> MoveForm:
        """The form over the heads that the tests may move to."""
        form = cls()
        form.label.choices = {
            visit.tag: gettext(
                "{label}: {head}, {customer}",
                label=visit.tag,
                head=visit.head.identity,
                customer=visit.job.customer.name,
            )
            for visit in visits
        }
        return form
