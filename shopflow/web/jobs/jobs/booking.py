"""Booking in: one form for customer, engine type, heads and job, each on record or new."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session
from wtforms import FieldList, FormField, HiddenField, SelectField, SubmitField
from wtforms import Form as PlainForm

from shopflow.errors import NotFoundError
from shopflow.files import FileStore
from shopflow.models import Bearer, CastingState, Job, Visit
from shopflow.services.counter import job_templates
from shopflow.services.counter.booking import MOST_HEADS, BookIn
from shopflow.services.jobs import jobs
from shopflow.services.registry.attachments import StagedFile
from shopflow.services.routing import work_plans
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, CountField, QuantityField, TypedField, WordsField
from shopflow.web.forms import Form
from shopflow.web.jobs.jobs.forms import OF_CASTINGS, DepositPart, JobFields
from shopflow.web.jobs.jobs.on_file import (
    OnFileField,
    offer_customers,
    offer_engine_types,
    offer_heads,
)
from shopflow.web.jobs.jobs.receiving import PartCounts, PartLines, PhotosPart, counted
from shopflow.web.jobs.warranty.forms import BEARS

LIKE = "like:"
"""Before the tag of a past head, where its steps are chosen as the routing."""

STATES = {
    "": lazy("As it left the last visit, otherwise unknown"),
    **{
        state.value: state.value.capitalize()
        for state in CastingState
        if state is not CastingState.UNKNOWN
    },
}
"""A casting's states as they are offered at the counter."""

NOT_OF_A_HEAD = ("head_id", "photos", "remove")
UNDECIDED = lazy("choose a record below, or a new one")


class CustomerPart(PlainForm):
    """A new customer."""

    name = TypedField(lazy("Name"))
    phone = TypedField(lazy("Telephone"), render_kw={"type": "tel"})
    email = TypedField(lazy("E-mail"), render_kw={"type": "email"})
    address = WordsField(lazy("Address"), rows=2)


class EnginePart(PlainForm):
    """A new engine type."""

    builder = TypedField(lazy("Builder"))
    family = TypedField(lazy("Family"), lazy("Code or name of this engine."))
    aliases = TypedField(
        lazy("Other names"), lazy("Any other name people use, separated by commas.")
    )
    displacement = QuantityField(
        lazy("Displacement"), "volume", lazy("For example 1792 cm3 or 342 in3.")
    )
    bore = QuantityField(lazy("Bore"), "length", lazy("For example 80.5 mm."))
    stroke = QuantityField(lazy("Stroke"), "length", lazy("For example 88.0 mm."))
    cylinders = CountField(lazy("Cylinders"), least=1)
    valves_per_cylinder = CountField(
        lazy("Valves per cylinder"), lazy("Leave empty for 2."), least=2
    )


class HeadPart(PlainForm):
    """One head, and how it came in."""

    casting_number = TypedField(lazy("Casting number"))
    serial = TypedField(lazy("Serial"), lazy("Stamped or tagged on the casting."))
    head_id = OnFileField(lazy("Has this casting been here before?"))
    material = TypedField(lazy("Material"))
    ports = TypedField(lazy("Ports"), lazy("For example siamesed exhaust 2 and 3."))
    chamber = TypedField(lazy("Chamber"), lazy("For example pent roof."))
    casting_state = ChoiceField(lazy("State of the casting"), STATES, OF_CASTINGS, default="")
    condition = WordsField(
        lazy("Condition on arrival"), lazy("For example cracks, bent valves, old repairs.")
    )
    counts = FormField(PartCounts)
    other_parts = PartLines(
        lazy("Other parts"), lazy("One per line. For example 2 rocker shafts."), rows=2
    )
    parts_received = TypedField(
        lazy("Notes on parts"), lazy("For example springs bagged by cylinder, no cam.")
    )
    photos = FormField(PhotosPart)
    came_back_because = WordsField(lazy("Reason for return"), rows=2)
    remove = SubmitField(lazy("Remove head"))


class WarrantyPart(PlainForm):
    """Reason why a job comes back, and who pays."""

    reason = WordsField(
        lazy("Reason for return"), lazy("The customer's words, or what you noticed."), rows=2
    )
    borne_by = ChoiceField(lazy("Who pays"), Bearer, BEARS, default=Bearer.UNDECIDED.value)


class BookInForm(Form):
    """Everything said at the counter, on one page."""

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
    routing_id = SelectField(
        lazy("Work plan template"),
        description=lazy("Its steps are added to each head."),
        default="",
    )

    def look_on_file(self, db: Session) -> None:
        """Offer the records that match the text typed."""
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
        return bool(self.is_submitted() and not self.look.data)

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


def starting(db: Session, arguments: Mapping[str, str]) -> BookInForm:
    """An empty form, or one for the customer, engine type or head named in the address.

    With `like`, the number of a past job, it begins as that job did. Raises NotFoundError.
    """
    data: dict[str, Any] = {
        "customer_id": arguments.get("customer", ""),
        "engine_type_id": arguments.get("engine", ""),
        "heads": [{"head_id": arguments.get("head", "")}],
    }
    number = arguments.get("like", "").replace("\x00", "")
    if number:
        past = job_templates.like(db, number)
        data["engine_type_id"] = str(past.engine_type_id)
        data["routing_id"] = f"{LIKE}{past.tag}"
        data["job"] = past.job
    returns = arguments.get("returns", "").replace("\x00", "")
    if returns:
        past_job = jobs.get(db, returns)
        data["returns"] = past_job.number
        data["customer_id"] = str(past_job.customer_id)
        data["engine_type_id"] = str(past_job.heads[0].head.engine_type_id)
        data["heads"] = [{"head_id": str(visit.head_id)} for visit in past_job.heads]
    return BookInForm(data=data)


def sent(store: FileStore) -> BookInForm:
    """The form as it was sent, its photos kept, changed in shape where that was asked for."""
    form = BookInForm()
    form.keep_photos(store)
    return reshaped(form)


def form_with_records(db: Session, arguments: Mapping[str, str]) -> BookInForm:
    """A form whose last head, at this index, offers the records that match its numbers."""
    index = arguments.get("place", "0")
    count = min(int(index), MOST_HEADS - 1) + 1 if index.isdecimal() and len(index) < 4 else 1
    numbers = {
        name: arguments.get(name, "").replace("\x00", "") for name in ("casting_number", "serial")
    }
    form = BookInForm(formdata=None, data={"heads": [{}] * (count - 1) + [numbers]})
    offer_heads(db, form.heads[-1].form)
    return form


def reshaped(form: BookInForm) -> BookInForm:
    """The form with a head added or removed, where that was requested; else unchanged."""
    typed = form.data
    for part, values in zip(form.heads, typed["heads"], strict=True):
        values["photos"] = part.form.photos.form.carried
    remaining = [part for part in typed["heads"] if not part.pop("remove")]
    if form.add_head.data and len(remaining) < MOST_HEADS:
        remaining.append({})
    if len(remaining) == len(form.heads):
        return form
    return BookInForm(formdata=None, data={**typed, "heads": remaining, "look": True})


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
