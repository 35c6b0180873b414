"""Booking in: one form for customer, engine type, heads and job, each on record or new."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session
from wtforms import FieldList, FormField, HiddenField, SelectField, SubmitField

from shopflow.errors import NotFoundError
from shopflow.files import FileStore
from shopflow.models import Job, Visit
from shopflow.services.counter import job_templates
from shopflow.services.counter.booking import MOST_HEADS, BookIn
from shopflow.services.jobs import jobs
from shopflow.services.registry import customers, engine_types
from shopflow.services.registry.attachments import StagedFile
from shopflow.services.routing import work_plans
from shopflow.texts import gettext, lazy
from shopflow.web.fields import TypedField
from shopflow.web.forms import Form
from shopflow.web.jobs.jobs.booking_parts import CustomerPart, EnginePart, HeadPart, WarrantyPart
from shopflow.web.jobs.jobs.forms import DepositPart, JobFields
from shopflow.web.jobs.jobs.on_file import (
    NEW,
    OnFileField,
    offer_customers,
    offer_engine_types,
    offer_heads,
)
from shopflow.web.jobs.jobs.receiving import counted

LIKE = "like:"
"""Before the tag of a past head, where its steps are chosen as the routing."""

STEPS = {
    "customer": lazy("Customer"),
    "engine": lazy("Engine type"),
    "heads": lazy("Heads"),
    "job": lazy("Job"),
}
"""The steps of booking in, in order."""

FIELDS_OF = {
    "customer": ("customer_find", "customer_id", "customer", "warranty"),
    "engine": ("engine_find", "engine_type_id", "engine_type"),
    "heads": ("heads",),
    "job": ("job", "deposit", "routing_id"),
}
"""Fields of the form in each step."""

NOT_OF_A_HEAD = ("head_id", "photos", "remove")
UNDECIDED = lazy("choose a record below, or a new one")


class BookInForm(Form):
    """Everything said at the counter, asked for in steps and sent as one form.

    Every step's fields are on the page, those of the other steps hidden, so that nothing typed is
    lost between them.
    """

    step = HiddenField(default="customer")
    go = SubmitField()
    """Step that the button pressed leads to."""

    new = SubmitField()
    """Record to be entered new: "customer" or "engine"."""

    customer_find = TypedField(
        lazy("Find customer"), lazy("Part of the name, telephone number or e-mail.")
    )
    look = SubmitField(lazy("Search records"))
    customer_id = OnFileField(lazy("Which customer?"))
    customer = FormField(CustomerPart)
    engine_find = TypedField(
        lazy("Find engine type"),
        lazy(
            "Builder, family, any name people use, or displacement (1.8, 1800 cc). Small spelling "
            "mistakes do not matter."
        ),
    )
    engine_type_id = OnFileField(lazy("Which engine type?"))
    engine_type = FormField(EnginePart)
    heads = FieldList(FormField(HeadPart), min_entries=1, max_entries=MOST_HEADS)
    add_head = SubmitField(lazy("Add head"))
    job = FormField(JobFields)
    deposit = FormField(DepositPart)
    returns = HiddenField()
    """Number of the job this one returns from under warranty."""

    warranty = FormField(WarrantyPart)
    has_customers = True
    has_engine_types = True
    """True where there are records to search."""

    routing_id = SelectField(
        lazy("Work plan template"),
        description=lazy("Its steps are added to each head."),
        default="",
    )

    def look_on_file(self, db: Session) -> None:
        """Offer the records that match the text typed."""
        self.has_customers = customers.is_any(db)
        self.has_engine_types = engine_types.is_any(db)
        saved = {str(routing.id): routing.name for routing in work_plans.list_all(db)}
        self.routing_id.choices = {"": gettext("None yet")} | self._past_steps(db) | saved
        offer_customers(db, self)
        offer_engine_types(db, self)
        for part in self.heads:
            offer_heads(db, part.form)

    def keep_photos(self, store: FileStore) -> None:
        """Keep every photo that came along, whatever becomes of the rest of the form."""
        for part in self.heads:
            part.form.photos.form.keep(store)

    @property
    def staged(self) -> list[StagedFile]:
        """The photos uploaded so far, of every head."""
        return [photo for part in self.heads for photo in part.form.photos.form.staged]

    def photos_of(self, job: Job) -> list[tuple[Visit, list[StagedFile]]]:
        """The photos kept, by the head they show, once the job is booked in."""
        staged = [part.form.photos.form.staged for part in self.heads]
        return [pair for pair in zip(job.heads, staged, strict=True) if pair[1]]

    def _past_steps(self, db: Session) -> dict[str, str]:
        """The steps of the past heads of a job this one is to be like, as routings."""
        tag = self.like_tag
        try:
            past = jobs.visit(db, tag) if tag else None
        except NotFoundError:
            past = None
        if past is None:
            return {}
        words = job_templates.steps_in_words(past)
        self.routing_id.description = gettext(
            "As on {tag}: {words}. Added to each head.", tag=tag, words=words
        )
        return {
            f"{LIKE}{visit.tag}": gettext("As on {visit}", visit=visit.tag)
            for visit in past.job.heads
        }

    @property
    def like_tag(self) -> str:
        """Tag of the past head whose steps are chosen; empty where a routing or none is."""
        chosen = (self.routing_id.data or "").replace("\x00", "")
        return chosen.removeprefix(LIKE) if chosen.startswith(LIKE) else ""

    @property
    def saving(self) -> bool:
        """True where it was sent to be saved, rather than to search the records or change its
        shape."""
        buttons = (self.look, self.go, self.new)
        return self.is_submitted() and not any(button.data for button in buttons)

    @property
    def at(self) -> str:
        """The step shown."""
        return self.step.data if self.step.data in STEPS else "customer"

    @property
    def following(self) -> str:
        """The step after the one shown; empty after the last."""
        steps = list(STEPS)
        return next(iter(steps[steps.index(self.at) + 1 :]), "")

    @property
    def before(self) -> str:
        """The step before the one shown; empty before the first."""
        steps = list(STEPS)
        return steps[steps.index(self.at) - 1] if steps.index(self.at) else ""

    @property
    def asks_customer(self) -> bool:
        """True where the fields of a new customer are shown."""
        return self._asks(self.customer_id, self.customer, self.customer_find, self.has_customers)

    @property
    def asks_engine(self) -> bool:
        """True where the fields of a new engine type are shown."""
        return self._asks(
            self.engine_type_id, self.engine_type, self.engine_find, self.has_engine_types
        )

    @staticmethod
    def _asks(record: OnFileField, part: FormField, find: TypedField, has_any: bool) -> bool:
        nothing_matches = bool(find.data) and not record.choices
        is_new = record.data == NEW or any(_filled(part)) or bool(part.errors)
        return record.chosen is None and (not has_any or is_new or nothing_matches)

    @property
    def customer_in_words(self) -> str:
        """The customer chosen or entered; empty before."""
        return self._named(self.customer_id) or self.customer.form.name.data or ""

    @property
    def engine_in_words(self) -> str:
        """The engine type chosen or entered; empty before."""
        new = self.engine_type.form
        return self._named(self.engine_type_id) or " ".join(
            filter(None, (new.builder.data, new.family.data))
        )

    @staticmethod
    def _named(record: OnFileField) -> str:
        """Name of the record chosen, without what tells it from others of the name."""
        return record.offered[record.data].partition(",")[0] if record.chosen is not None else ""

    @property
    def faulty_steps(self) -> list[str]:
        """Steps that have a field with an error."""
        return [step for step, names in FIELDS_OF.items() if any(self[n].errors for n in names)]

    def take_step(self) -> None:
        """Go to the step asked for: back at once, on only where the step shown has no error."""
        if self.new.data:
            self._ask_for(self.new.raw_data[0])
        wanted = self.go.raw_data[0] if self.go.data else ""
        steps = list(STEPS)
        if wanted not in STEPS:
            return
        if steps.index(wanted) > steps.index(self.at):
            self.validate()
            self._forget_faults(self.at)
        if not self.errors:
            self.step.data = wanted

    def show_faults_step(self) -> None:
        """Show the first step that has an error."""
        self.step.data = next(iter(self.faulty_steps), self.at)

    def _ask_for(self, record: str) -> None:
        """Have a new customer or engine type entered, named as it was searched for."""
        if record == "customer":
            self.customer_id.data = NEW
            name = self.customer.form.name
            name.data = name.data or self.customer_find.data
        elif record == "engine":
            self.engine_type_id.data = NEW
            builder, _, family = (self.engine_find.data or "").partition(" ")
            if not self.engine_type.form.builder.data:
                self.engine_type.form.builder.data = builder
                self.engine_type.form.family.data = self.engine_type.form.family.data or family

    def _forget_faults(self, step: str) -> None:
        """Forget the errors of every step but this one, and of an engine type that heads on record
        may tell."""
        waits = step == "engine" and not self.engine_find.data and self.engine_type_id.data != NEW
        own_fields = FIELDS_OF[step] if not waits or any(_filled(self.engine_type)) else ()
        for name in [
            name for names in FIELDS_OF.values() for name in names if name not in own_fields
        ]:
            _clear(self[name])

    @property
    def needs_engine_type(self) -> bool:
        """True where a new engine type must be entered: neither a type nor a head on record is
        chosen."""
        has_head = any(part.form.head_id.chosen for part in self.heads)
        return self.engine_type_id.new and not (has_head and not _filled(self.engine_type))

    def validate(self, extra_validators: Any = None) -> bool:
        """Check every part that counts; a choice on offer must be made."""
        self.customer.form.name.flags.required = self.customer_id.new
        self.warranty.form.reason.flags.required = bool(self.returns.data)
        for name in ("builder", "family", "cylinders"):
            self.engine_type.form[name].flags.required = self.needs_engine_type
        sound = bool(super().validate(extra_validators))
        choices = [
            self.customer_id,
            self.engine_type_id,
            *(part.form.head_id for part in self.heads),
        ]
        undecided = [choice for choice in choices if choice.undecided]
        for choice in undecided:
            choice.errors = [UNDECIDED]
        return sound and not undecided

    @property
    def booking(self) -> BookIn:
        """Contents of the form, as the service takes them."""
        return BookIn(
            customer_id=self.customer_id.chosen,
            customer=_filled(self.customer),
            engine_type_id=self.engine_type_id.chosen,
            engine_type=_filled(self.engine_type),
            heads=[_head(part.form) for part in self.heads],
            routing_id=int(self.routing_id.data)
            if self.routing_id.data and not self.like_tag
            else None,
            like_tag=self.like_tag,
            job=_filled(self.job),
            deposit=_filled(self.deposit) if self.deposit.form.amount.data else {},
            returns=self.returns.data or "",
            warranty=self.warranty.data if self.returns.data else {},
        )


def _clear(field: Any) -> None:
    """Forget the errors of a field and of all within it."""
    if isinstance(field, FormField | FieldList):
        for inner in field:
            _clear(inner)
    if not isinstance(field, FormField):
        field.errors = []


def _filled(part: FormField) -> dict[str, Any]:
    """The fields of a part in which something is typed."""
    return {name: value for name, value in part.data.items() if value not in (None, "")}


def _head(form: Any) -> dict[str, Any]:
    head_id = form.head_id.chosen
    values = {name: value for name, value in form.data.items() if name not in NOT_OF_A_HEAD}
    values["parts"] = counted(form.counts.data, values.pop("other_parts") or "")
    del values["counts"]
    if not values["casting_state"]:
        del values["casting_state"]
    if head_id is None:
        return values
    # What is known of the casting stays, but where something new is typed.
    return {"head_id": head_id, **{name: value for name, value in values.items() if value}}
