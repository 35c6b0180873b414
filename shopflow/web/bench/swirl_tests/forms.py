"""The forms of swirl and tumble tests."""

from __future__ import annotations

from collections.abc import Sequence

from werkzeug.datastructures import MultiDict

from shopflow.models import Rotation, SwirlMeterKind, SwirlMotion, SwirlTest, Visit
from shopflow.services.bench.swirl_tests import UNITS, testable
from shopflow.services.bench.test_names import session_name
from shopflow.texts import lazy, translated
from shopflow.units import pretty
from shopflow.web.fields import ChoiceField, DecimalField, QuantityField, TypedField, WordsField
from shopflow.web.forms import Form

OF_THE_METER = (
    *("motion", "meter_kind", "reading_unit", "meter", "bore", "adapter", "rotation"),
    *("efficiency", "efficiency_uncertainty", "division"),
)
"""Fields that the next test takes over."""


class SwirlTestForm(Form):
    """Readings of a swirl meter by lift."""

    session_id = ChoiceField(
        lazy("Flow test"),
        (),
        lazy("Its flow, air and set-up count: best made with the meter and its adapter in place."),
    )
    motion = ChoiceField(lazy("Motion"), SwirlMotion)
    meter_kind = ChoiceField(lazy("Reading"), SwirlMeterKind)
    reading_unit = ChoiceField(lazy("Unit of the readings"), {unit: pretty(unit) for unit in UNITS})
    meter = TypedField(
        lazy("Name of the meter (optional)"), lazy("Tests with one meter share its error.")
    )
    bore = QuantityField(lazy("Bore of the meter’s tube"), "length", needed=True)
    adapter = TypedField(
        lazy("Tube or tumble adapter (optional)"),
        lazy("For example L-shaped adapter, 86 mm bore, axis 150 mm below the deck."),
    )
    rotation = ChoiceField(
        lazy("Positive readings turn"),
        Rotation,
        lazy("Swirl: seen from above the head. Tumble: along the crankshaft, intake on the left."),
    )
    pressure = QuantityField(
        lazy("Test pressure (optional)"),
        "pressure",
        lazy("That of the flow test where left empty."),
        kind="test pressure",
    )
    readings = WordsField(
        lazy("Readings"),
        lazy(
            "A line each: lift in the flow test’s unit, a space, the reading; negative where the "
            "air turns the other way. Repeat a lift to show the scatter."
        ),
        rows=9,
    )
    division = DecimalField(
        lazy("One division of the meter (optional)"), lazy("In the unit of the readings.")
    )
    efficiency = DecimalField(
        lazy("Efficiency of the meter (optional)"),
        lazy("Indicated over true, for example 0.85. Without it, results are as indicated."),
    )
    efficiency_uncertainty = DecimalField(
        lazy("Its uncertainty, % (optional)"), lazy("Expanded, k = 2.")
    )
    notes = WordsField(lazy("Notes (optional)"))

    @classmethod
    def of(cls, visit: Visit, last: SwirlTest | None) -> SwirlTestForm:
        """The form for a head's intake tests, the last of them chosen, with the meter of the shop's
        last swirl test."""
        tests = {str(row.id): session_name(row) for row in reversed(testable(visit))}
        meter = {} if last is None else {name: getattr(last, name) for name in OF_THE_METER}
        form = cls(data={"session_id": next(iter(tests), ""), "reading_unit": "N.mm", **meter})
        form.session_id.choices = tests
        return form


class CompareForm(Form):
    """Choice of an earlier test."""

    before = ChoiceField(lazy("Compare with"), ())

    @classmethod
    def from_query(
        cls, query: MultiDict[str, str], others: Sequence[SwirlTest], usual: SwirlTest | None
    ) -> CompareForm:
        """The form as an address asks for it; the usual choice where it names none on offer."""
        choices = {
            str(row.id): f"{session_name(row.session)}, {row.session.job_head.tag}"
            for row in others
        }
        asked = query.get("before", "")
        first = str(usual.id) if usual else next(iter(choices), "")
        form = cls(data={"before": asked if asked in choices else first})
        form.before.choices = choices
        return form


def motion_name(row: SwirlTest) -> str:
    """Motion and flow test of a test in a few words."""
    return f"{translated(row.motion.value).capitalize()}: {session_name(row.session)}"
