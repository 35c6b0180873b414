"""Parts of the form of booking in: a new customer, engine type or head, a return under warranty."""

from __future__ import annotations

from wtforms import Form as PlainForm
from wtforms import FormField, SubmitField

from shopflow.models import Bearer, CastingState
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, CountField, QuantityField, TypedField, WordsField
from shopflow.web.jobs.jobs.forms import OF_CASTINGS
from shopflow.web.jobs.jobs.on_file import OnFileField
from shopflow.web.jobs.jobs.receiving import PartCounts, PartLines, PhotosPart
from shopflow.web.jobs.warranty.forms import BEARS

STATES = {
    "": lazy("As it left the last visit, otherwise unknown"),
    **{state.value: state for state in CastingState if state is not CastingState.UNKNOWN},
}
"""A casting's states as they are offered at the counter."""


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
