"""The checklist by which a job is handed over."""

from __future__ import annotations

from datetime import date
from typing import Any

from wtforms import (
    BooleanField,
    FieldList,
    FormField,
    HiddenField,
    SelectMultipleField,
    SubmitField,
)
from wtforms import Form as PlainForm
from wtforms.widgets import CheckboxInput, ListWidget

from shopflow.models import HandedOver, Job, Visit
from shopflow.services.counter import collections
from shopflow.services.counter.collections import PartBack
from shopflow.services.jobs.jobs import untouched
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, CountField, DayField, TypedField, WordsField
from shopflow.web.forms import Form

HOW = {
    HandedOver.COLLECTED.value: lazy("Collected at the counter"),
    HandedOver.SHIPPED.value: lazy("Shipped"),
}


class PartForm(PlainForm):
    """One kind of part: all of it ticked, or how many go back and a word why."""

    part_id = HiddenField()
    all_back = BooleanField(lazy("All back"))
    returned = CountField(lazy("Count if not all"))
    word = TypedField(lazy("What happened to the rest"))

    def back(self, received: int) -> PartBack | None:
        """Part handed back; None where neither the tick nor a count was entered."""
        key = int(self.part_id.data)
        if self.returned.data:
            return PartBack(key, int(self.returned.data), self.word.data or "")
        return PartBack(key, received, self.word.data or "") if self.all_back.data else None


class CollectionForm(Form):
    """The checklist of a job."""

    refusal = lazy("Not handed over yet.")

    parts = FieldList(FormField(PartForm))
    papers = SelectMultipleField(
        lazy("Documents to hand over"),
        widget=ListWidget(prefix_label=False),
        option_widget=CheckboxInput(),
    )
    how = ChoiceField(lazy("Collected or shipped"), HOW)
    handed_to = TypedField(
        lazy("Name"), lazy("Who signs for it, or who it is sent to."), needed=True
    )
    handed_on = DayField(lazy("Date"), needed=True)
    carrier = TypedField(lazy("Carrier"))
    parcels = CountField(lazy("Parcels"), least=1)
    tracking_number = TypedField(lazy("Tracking number"))
    packed_by = TypedField(lazy("Packed by"))
    untouched_because = WordsField(
        lazy("Why nothing was done"), lazy("Recorded on each head named."), rows=2
    )
    release_reason = WordsField(lazy("Reason for release unpaid"), rows=2)
    everything = SubmitField(lazy("Hand over all"))
    remarks = WordsField(lazy("Remarks"), lazy("Printed on the receipt."), rows=2)

    @classmethod
    def of(cls, job: Job, today: date) -> CollectionForm:
        """The checklist of a job, nothing ticked yet."""
        received = collections.received(job)
        form = cls(
            data={
                "handed_on": today,
                "handed_to": job.customer.name,
                "parts": [{"part_id": str(part.id)} for _, part in received],
            }
        )
        # Only what the job received may be answered for, however many rows were sent.
        while len(form.parts) > len(received):
            form.parts.pop_entry()
        for entry, (_, part) in zip(form.parts, received, strict=False):
            entry.form.part_id.data = str(part.id)
            entry.form.all_back.label.text = gettext(
                "All {count} {part}", count=part.count, part=part.name
            )
        if not untouched(job):
            del form.untouched_because
        form.papers.choices = {title: title for title in collections.papers_for(job)}
        if form.everything.data:
            form.tick_all()
        return form

    def tick_all(self) -> None:
        """Tick every part without an answer of its own, and every document."""
        for entry in self.parts:
            entry.form.all_back.data = entry.form.all_back.data or not entry.form.returned.data
        self.papers.data = list(dict(self.papers.choices))

    def rows_of(self, visit: Visit) -> list[PartForm]:
        """The rows of one head's parts."""
        keys = {str(part.id) for part in visit.parts}
        return [entry.form for entry in self.parts if entry.form.part_id.data in keys]

    def parts_back(self, job: Job) -> list[PartBack]:
        """Answers for each part; those without an answer are omitted."""
        pairs = zip(self.parts, collections.received(job), strict=False)
        answers = (entry.form.back(part.count) for entry, (_, part) in pairs)
        return [back for back in answers if back is not None]

    @property
    def collection_values(self) -> dict[str, Any]:
        """Values beside parts and documents."""
        return {
            name: value
            for name, value in self.values.items()
            if name not in ("parts", "papers", "everything")
        }
