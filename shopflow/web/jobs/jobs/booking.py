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
from shopflow.services.registry import customers, engine_types
from shopflow.services.registry.attachments import StagedFile
from shopflow.services.routing import work_plans
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, CountField, QuantityField, TypedField, WordsField
from shopflow.web.forms import Form
from shopflow.web.jobs.jobs.forms import OF_CASTINGS, DepositPart, JobFields
from shopflow.web.jobs.jobs.on_file import (
    NEW,
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
    **{state.value: state for state in CastingState if state is not CastingState.UNKNOWN},
}
"""A casting's states as they are offered at the counter."""

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
    form = BookInForm(data=data)
    form.step.data = _first_open(data)
    return form


def _first_open(data: Mapping[str, Any]) -> str:
    """The first step that the address leaves open."""
    if not data["customer_id"]:
        return "customer"
    heads = [head["head_id"] for head in data["heads"] if head["head_id"]]
    return "heads" if data["engine_type_id"] or heads else "engine"


def sent(store: FileStore) -> BookInForm:
    """The form as it was sent, its photos kept, changed in shape where that was asked for."""
    form = BookInForm()
    form.keep_photos(store)
    return reshaped(form)


def form_with_offers(db: Session, what: str, text: str) -> BookInForm:
    """A form that offers the customers or engine types that this text may mean."""
    form = BookInForm(formdata=None, data={f"{what}_find": text.replace("\x00", "")})
    {"customer": offer_customers, "engine": offer_engine_types}[what](db, form)
    return form


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
