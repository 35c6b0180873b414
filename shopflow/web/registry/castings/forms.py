"""The forms of a casting's status, of a spare and of its offer."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import EngineType, HeadStatus, Job
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, TypedField, WordsField
from shopflow.web.forms import Form

STATUS = {
    HeadStatus.IN_USE.value: lazy("In use"),
    HeadStatus.SPARE.value: lazy("Spare of the shop"),
    HeadStatus.SCRAPPED.value: lazy("Scrapped"),
    HeadStatus.SOLD.value: lazy("Sold"),
    HeadStatus.RETURNED.value: lazy("Returned to its owner"),
}


class StatusForm(Form):
    """The new status of a casting, and why."""

    status = ChoiceField(lazy("Status"), {}, needed=True)
    reason = TypedField(
        lazy("Reason"),
        lazy("Needed to scrap, sell or return it, and to undo that. For example cracked through."),
    )

    @classmethod
    def of(cls, present: HeadStatus, chosen: str) -> StatusForm:
        """The form with every status but the present one."""
        offered = {value: words for value, words in STATUS.items() if value != present.value}
        form = cls(data={"status": chosen if chosen in offered else ""})
        form.status.choices = {"": gettext("Choose")} | {
            value: str(words) for value, words in offered.items()
        }
        return form


class SpareForm(Form):
    """A spare casting of the shop."""

    engine_type_id = ChoiceField(lazy("Engine type"), {}, needed=True)
    casting_number = TypedField(lazy("Casting number"))
    serial = TypedField(lazy("Serial"), lazy("Stamped or tagged on the casting."))
    material = TypedField(lazy("Material (optional)"))
    source = TypedField(lazy("Source (optional)"), lazy("For example bought used, tested sound."))
    notes = WordsField(lazy("Notes (optional)"))

    @classmethod
    def offering(cls, engine_types: Sequence[EngineType]) -> SpareForm:
        """The form with these engine types."""
        form = cls()
        form.engine_type_id.choices = {"": gettext("Choose")} | {
            str(row.id): row.title for row in engine_types
        }
        return form


class OfferForm(Form):
    """The job a spare is offered for."""

    job = ChoiceField(lazy("Job"), {}, needed=True)

    @classmethod
    def offering(cls, jobs: Sequence[Job]) -> OfferForm:
        """The form with these jobs."""
        form = cls()
        form.job.choices = {"": gettext("Choose")} | {
            row.number: f"{row.number}, {row.customer.name}" for row in jobs
        }
        return form
