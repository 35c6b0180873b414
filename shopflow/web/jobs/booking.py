"""Booking in: one form for customer, engine type, heads and job, each found on file or new."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy.orm import Session
from wtforms import FieldList, FormField, RadioField, SelectField, SubmitField
from wtforms import Form as PlainForm

from shopflow.errors import NotFoundError
from shopflow.models import Customer, EngineType, Head
from shopflow.services import customers, engines, heads, jobs, operations, reuse
from shopflow.services.jobs import MOST_HEADS, BookIn
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.fields import CountField, QuantityField, TypedField, WordsField
from shopflow.web.filters import day, plural, typed
from shopflow.web.forms import Form
from shopflow.web.jobs.forms import JobFields

NEW = "new"
LIKE = "like:"
"""Before the tag of a past head, where its steps are chosen as the routing."""

MOST_SHOWN = 8
"""On-file records offered for one choice; more would hide the form."""

UNDECIDED = "choose one of these: on file, or new"


class OnFileField(RadioField):
    """The record meant, by its key, or a new one; empty while nothing was chosen."""

    def __init__(self, label: str, **rest: Any) -> None:
        super().__init__(label, choices=[], validate_choice=False, **rest)
        self.found: dict[str, Any] = {}

    def offer(self, rows: Mapping[int, str], new: str) -> None:
        """Offer these, by key, and a new one; nothing where there is none to offer."""
        self.found = {str(key): words for key, words in rows.items()}
        self.choices = [*self.found.items(), (NEW, new)] if rows else []

    @property
    def chosen(self) -> int | None:
        """Key of the record on file that was chosen."""
        return int(self.data) if self.data in self.found else None

    @property
    def new(self) -> bool:
        """Whether a new one is meant: it was chosen, or nothing else is on offer."""
        return not self.found or self.data == NEW

    @property
    def undecided(self) -> bool:
        """Whether something is on offer, and neither it nor a new one was chosen."""
        return self.chosen is None and not self.new


class CustomerPart(PlainForm):
    """A new customer."""

    name = TypedField("Name")
    phone = TypedField("Telephone", render_kw={"type": "tel"})
    email = TypedField("E-mail", render_kw={"type": "email"})
    address = WordsField("Address", rows=2)


class EnginePart(PlainForm):
    """A new engine type."""

    builder = TypedField("Builder")
    family = TypedField("Family", "Code or name of this engine.")
    aliases = TypedField("Other names", "Whatever people call it, with commas between.")
    displacement = QuantityField("Displacement", "volume", "As 1781 cm3 or 350 in3.")
    bore = QuantityField("Bore", "length", "As 81.0 mm.")
    stroke = QuantityField("Stroke", "length", "As 86.4 mm.")
    cylinders = CountField("Cylinders", least=1)
    valves_per_cylinder = CountField("Valves per cylinder", "2 where left empty.", least=2)


class HeadPart(PlainForm):
    """One head, and how it came in."""

    casting_number = TypedField("Casting number")
    serial = TypedField("Serial", "Stamped or tagged on the casting.")
    head_id = OnFileField("Has this casting been here before?")
    material = TypedField("Material")
    ports = TypedField("Ports", "As 'siamesed exhaust 2 and 3'.")
    chamber = TypedField("Chamber", "As 'pent roof'.")
    condition = WordsField("Condition as received", "Cracks, bent valves, old repairs.")
    parts_received = WordsField("Parts received with it", "As '16 valves, springs, no cam'.")
    came_back_because = WordsField("Came back because", rows=2)
    remove = SubmitField("Take this head off the list")


class BookInForm(Form):
    """Everything said at the counter, on one page."""

    customer_find = TypedField("Is the customer on file?", "A part of the name, phone or e-mail.")
    look = SubmitField("Look on file")
    customer_id = OnFileField("Which customer?")
    customer = FormField(CustomerPart)
    engine_find = TypedField(
        "Is the engine type on file?",
        "Builder, family, any name people use, or displacement (1.8, 1800 cc). Spelling is "
        "forgiven.",
    )
    engine_type_id = OnFileField("Which engine type?")
    engine_type = FormField(EnginePart)
    heads = FieldList(FormField(HeadPart), min_entries=1, max_entries=MOST_HEADS)
    add_head = SubmitField("Add another head")
    job = FormField(JobFields)
    routing_id = SelectField(
        "Routing", description="Its steps are planned for each head.", default=""
    )

    def look_on_file(self, db: Session) -> None:
        """Offer what is on file and goes with what is typed."""
        saved = [(str(routing.id), routing.name) for routing in operations.routings(db)]
        self.routing_id.choices = [("", "None yet"), *self._past_steps(db), *saved]
        _offer_customers(db, self)
        _offer_engine_types(db, self)
        for part in self.heads:
            _offer_heads(db, part.form)

    def _past_steps(self, db: Session) -> list[tuple[str, str]]:
        """The steps of the past heads of a job this one is to be like, as routings."""
        tag = self.like_tag
        try:
            past = jobs.visit(db, tag) if tag else None
        except NotFoundError:
            past = None
        if past is None:
            return []
        words = reuse.steps_in_words(past)
        self.routing_id.description = f"As on {tag}: {words}. Planned for each head."
        return [(f"{LIKE}{stay.tag}", f"As on {stay.tag}") for stay in past.job.heads]

    @property
    def like_tag(self) -> str:
        """Tag of the past head whose steps are chosen; empty where a routing or none is."""
        chosen = (self.routing_id.data or "").replace("\x00", "")
        return chosen.removeprefix(LIKE) if chosen.startswith(LIKE) else ""

    @property
    def saving(self) -> bool:
        """Whether it was sent to be kept, rather than to look on file or change its shape."""
        return bool(self.is_submitted() and not self.look.data)

    @property
    def needs_engine_type(self) -> bool:
        """Whether a new engine type must be said: none is chosen, nor a head that tells it."""
        known = any(part.form.head_id.chosen for part in self.heads)
        return self.engine_type_id.new and not (known and not _given(self.engine_type))

    def validate(self, extra_validators: Any = None) -> bool:
        """Check every part that counts; a choice on offer must be made."""
        self.customer.form.name.flags.required = self.customer_id.new
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
    def said(self) -> BookIn:
        """What the form says, as the service takes it."""
        return BookIn(
            customer_id=self.customer_id.chosen,
            customer=_given(self.customer),
            engine_type_id=self.engine_type_id.chosen,
            engine_type=_given(self.engine_type),
            heads=[_head(part.form) for part in self.heads],
            routing_id=int(self.routing_id.data)
            if self.routing_id.data and not self.like_tag
            else None,
            like_tag=self.like_tag,
            job=_given(self.job),
        )


def starting(db: Session, asked: Mapping[str, str]) -> BookInForm:
    """An empty form, or one for the customer, engine type or head named in the address.

    With `like`, the number of a past job, it begins as that job did. Raises NotFoundError.
    """
    data: dict[str, Any] = {
        "customer_id": asked.get("customer", ""),
        "engine_type_id": asked.get("engine", ""),
        "heads": [{"head_id": asked.get("head", "")}],
    }
    number = asked.get("like", "").replace("\x00", "")
    if number:
        past = reuse.like(db, number)
        data["engine_type_id"] = str(past.engine_type_id)
        data["routing_id"] = f"{LIKE}{past.tag}"
        data["job"] = past.job
    return BookInForm(data=data)


def reshaped(form: BookInForm) -> BookInForm:
    """The form with a head added or taken off, where that was asked for; else as it is."""
    typed = form.data
    kept = [part for part in typed["heads"] if not part.pop("remove")]
    if form.add_head.data and len(kept) < MOST_HEADS:
        kept.append({})
    if len(kept) == len(form.heads):
        return form
    return BookInForm(formdata=None, data={**typed, "heads": kept, "look": True})


def _given(part: FormField) -> dict[str, Any]:
    """The fields of a part in which something is typed."""
    return {name: value for name, value in part.data.items() if value not in (None, "")}


def _head(form: Any) -> dict[str, Any]:
    known = form.head_id.chosen
    values = {name: value for name, value in form.data.items() if name not in ("head_id", "remove")}
    if known is None:
        return values
    # What is known of the casting stays, but where something new is typed.
    return {"head_id": known, **{name: value for name, value in values.items() if value}}


def _offer_customers(db: Session, form: BookInForm) -> None:
    text = form.customer_find.data or form.customer.form.name.data or ""
    rows = _chosen(form.customer_id, customers.get, db)
    if text.strip():
        rows += customers.everyone(db, text)[:MOST_SHOWN]
    form.customer_id.offer(
        {row.id: _customer_words(row) for row in rows}, "None of these: a new customer"
    )


def _offer_engine_types(db: Session, form: BookInForm) -> None:
    new = form.engine_type.form
    text = form.engine_find.data or f"{new.builder.data or ''} {new.family.data or ''}"
    rows = _chosen(form.engine_type_id, engines.get, db)
    if text.strip():
        rows += engines.look_up(db, text)[:MOST_SHOWN]
    form.engine_type_id.offer(
        {row.id: _engine_words(row) for row in rows}, "None of these: a new engine type"
    )


def _offer_heads(db: Session, form: Any) -> None:
    rows = _chosen(form.head_id, heads.get, db)
    rows += heads.seen_before(db, form.casting_number.data or "", form.serial.data or "")
    form.head_id.offer(
        {row.id: _head_words(row) for row in rows[:MOST_SHOWN]}, "No: another casting"
    )


def _chosen(field: OnFileField, get: Any, db: Session) -> list[Any]:
    """The record chosen before, which stays on offer whatever is looked for next."""
    try:
        key = int(field.data or "")
        return [get(db, key)] if 0 < key <= LARGEST_KEY else []
    except (ValueError, NotFoundError):
        return []


def _customer_words(row: Customer) -> str:
    return ", ".join(part for part in (row.name, row.phone, row.email) if part)


def _engine_words(row: EngineType) -> str:
    names = ", ".join(alias.name for alias in row.aliases)
    size = typed(row.displacement) if row.displacement else ""
    return ", ".join(part for part in (row.title, size, f"also {names}" if names else "") if part)


def _head_words(row: Head) -> str:
    owner = heads.owner(row)
    past = sorted((stay.job for stay in row.visits), key=lambda job: job.booked_in_at, reverse=True)
    visits = "; ".join(f"{day(job.booked_in_at)}, job {job.number}" for job in past[:3])
    parts = (
        row.identity,
        row.engine_type.title,
        f"of {owner.name}" if owner else "",
        f"here {plural(len(past), 'time')}: {visits}" if past else "",
    )
    return "Yes: " + ", ".join(part for part in parts if part)
