"""The form of a velocity map."""

from __future__ import annotations

from shopflow.calc.traverse import ARMS, RINGS
from shopflow.models import Outline, Visit
from shopflow.services.bench.test_names import session_name
from shopflow.services.bench.velocity_maps import UNITS
from shopflow.texts import lazy, translated
from shopflow.web.fields import ChoiceField, DecimalField, QuantityField, TypedField, WordsField
from shopflow.web.forms import Form


class VelocityMapForm(Form):
    """Readings of a probe over a section."""

    session_id = ChoiceField(
        lazy("Flow test"), (), lazy("Its air, set-up and test pressure are those of the readings.")
    )
    lift = QuantityField(
        lazy("Lift"), "length", lazy("As set while reading. For example 10 mm."), needed=True
    )
    place = TypedField(
        lazy("Place of the section (optional)"), lazy("For example 20 mm inside the port flange.")
    )
    outline = ChoiceField(lazy("Shape"), Outline)
    width = QuantityField(
        lazy("Width"), "length", lazy("The diameter where it is round."), needed=True
    )
    height = QuantityField(lazy("Height (optional)"), "length", lazy("Same as width where empty."))
    arms = ChoiceField(lazy("Arms"), {str(count): str(count) for count in ARMS})
    rings = ChoiceField(lazy("Places on each arm"), {str(count): str(count) for count in RINGS})
    pressure_unit = ChoiceField(lazy("Unit of the readings"), {unit: unit for unit in UNITS})
    readings = WordsField(
        lazy("Readings"),
        lazy(
            "Pressure differences of the probe: the middle on the first line, then a line for each "
            "ring outwards, with a reading for each arm. The first arm points right, seen along "
            "the flow; the others follow counterclockwise."
        ),
        rows=6,
    )
    coefficient = DecimalField(lazy("Probe coefficient (optional)"), lazy("1 where left empty."))
    notes = WordsField(lazy("Notes (optional)"))

    @classmethod
    def of(cls, visit: Visit) -> VelocityMapForm:
        """The form for a head's flow tests, the last of them chosen."""
        tests = {
            str(row.id): f"{translated(row.side).capitalize()}: {session_name(row)}"
            for row in reversed(visit.sessions)
        }
        form = cls(data={"arms": "4", "rings": "4", "session_id": next(iter(tests), "")})
        form.session_id.choices = tests
        return form
