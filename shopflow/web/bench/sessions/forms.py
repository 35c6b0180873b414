"""The forms of bench sessions. Field names are the session file's keys, so its faults land."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flask import request
from flask_wtf.file import FileField
from wtforms import BooleanField, Field, FieldList, FormField, HiddenField, SelectField, SubmitField

from shopflow.calc.set_up import Part
from shopflow.models import LiftList, Visit
from shopflow.services.bench import test_defaults
from shopflow.services.bench.reference_curves import Yardstick
from shopflow.set_up_words import NAMES
from shopflow.testfile import SessionDocument
from shopflow.testfile.keys import FLOWS, KEYS, LENGTHS, PRESSURES, TABLES
from shopflow.texts import gettext, lazy
from shopflow.units import UnitError
from shopflow.web.bench.sessions.entry import MOST_ROWS, Entry
from shopflow.web.bench.sessions.tables import (
    AirForm,
    BenchForm,
    PortForm,
    RowForm,
    SetUpForm,
    UncertaintyForm,
    ValveForm,
)
from shopflow.web.fields import ChoiceField, TypedField, WordsField
from shopflow.web.forms import Form

FEWEST_ROWS = 10


class SessionForm(Form):
    """A bench session, set up and read."""

    entry = HiddenField()
    writer = HiddenField()
    seen = HiddenField()
    captured = HiddenField()
    """Key of the last reading of an instrument that the page has heard of."""

    stage = TypedField(lazy("Stage"), lazy("As received, seat cut, ported …"))
    side = ChoiceField(lazy("Side"), {"intake": lazy("Intake"), "exhaust": lazy("Exhaust")})
    cylinder = TypedField(lazy("Cylinder or port"))
    after = SelectField(lazy("After which step?"), choices={}, validate_choice=True)
    measured_at = TypedField(
        lazy("Measured at"), lazy("For example 2026-03-14 10:30, in the shop's time.")
    )
    operator = TypedField(lazy("Operator"))
    title = TypedField(lazy("Title"))
    notes = WordsField(lazy("Notes"), rows=2)
    air = FormField(AirForm)
    valve = FormField(ValveForm)
    port = FormField(PortForm)
    bench = FormField(BenchForm)
    set_up = FormField(SetUpForm)
    uncertainty = FormField(UncertaintyForm)
    lift_unit = ChoiceField(lazy("Lifts in"), {symbol: symbol for symbol in LENGTHS})
    flow_unit = ChoiceField(
        lazy("Readings in"), {symbol: symbol for symbol in (*FLOWS, "%", *PRESSURES)}
    )
    against = SelectField(lazy("Compare with"), choices={}, validate_choice=False)
    rows = FieldList(FormField(RowForm), min_entries=FEWEST_ROWS, max_entries=MOST_ROWS)
    load_sizes = SubmitField(lazy("Load sizes"))
    use_air = SubmitField(lazy("Use earlier air"))
    save = SubmitField(lazy("Save test"))
    as_doubtful = BooleanField(
        lazy("Save as doubtful"), description=lazy("The test keeps a warning at these readings.")
    )
    work_out = SubmitField(lazy("Calculate"))
    more_rows = SubmitField(lazy("More rows"))
    lift_list = ChoiceField(lazy("From a saved list"), {}, validate_choice=False)
    ld_step = TypedField(lazy("L/D step"), lazy("For example 0.05."))
    ld_last = TypedField(lazy("Up to L/D"), lazy("For example 0.35."))
    ld_lifts = SubmitField(lazy("Load lifts"))

    @classmethod
    def for_head(
        cls,
        visit: Visit,
        start: dict[str, Any] | None,
        lists: Sequence[LiftList] = (),
        over: Sequence[Yardstick] = (),
        answers: Mapping[Part, Sequence[tuple[str, str]]] | None = None,
    ) -> SessionForm:
        """The form of a head's session, starting from these values where nothing was posted.

        It offers these lists of lifts, these tests to be drawn over, and these answers to what
        stands on the bench.
        """
        form = cls(data=start)
        if answers is not None:
            form.set_up.form.offer(answers)
        form.after.choices = {"": gettext("none: as received")} | {
            str(step.id): step.kind.name for step in visit.finished_steps
        }
        form.against.choices = {"": gettext("the latest test of this side")} | {
            str(curve.session_id): curve.words for curve in over
        }
        form.lift_list.choices = {"": gettext("by L/D")} | {str(row.id): row.name for row in lists}
        return form

    def add_rows(self) -> None:
        """Five more rows to type in, up to what a test may have."""
        for _ in range(5):
            if len(self.rows) < self.rows.max_entries:
                self.rows.append_entry()

    def fill(self, tables: Mapping[str, Mapping[str, str]]) -> None:
        """Put these texts into the fields of the form's tables."""
        for table, typed in tables.items():
            for key, text in typed.items():
                self[table].form[key].data = text

    def set_lifts(self, chosen: LiftList | None) -> None:
        """Set lifts from a saved list, or at steps of L/D, in rows that hold no reading.

        Faults are shown.
        """
        source = self.lift_list if chosen else self.ld_step
        if Entry(request.form).filled:
            source.errors = [gettext("there are readings already; their lifts stay as they are")]
            return
        if chosen is not None:
            self.lift_unit.data = chosen.unit
            self._set(chosen.lifts)
            return
        try:
            self._set(
                test_defaults.lifts_by_diameter(
                    self.valve.form.head_diameter.data or "",
                    self.ld_step.data or "",
                    self.ld_last.data or "",
                    self.lift_unit.data,
                )
            )
        except UnitError as error:
            source.errors = [str(error)]

    def _set(self, lifts: Sequence[str]) -> None:
        while len(self.rows):
            self.rows.pop_entry()
        for lift in [*lifts, *[""] * (FEWEST_ROWS - len(lifts))]:
            self.rows.append_entry({"lift": lift})

    @property
    def conditions_in_brief(self) -> tuple[tuple[Field, str], ...]:
        """The fields of the test's conditions with a short name each, for one line."""
        return (
            (self.bench.form.test_pressure, gettext("pressure")),
            (self.valve.form.head_diameter, gettext("valve")),
            (self.air.form.barometer, gettext("barometer")),
            (self.air.form.temperature, gettext("temperature")),
            (self.air.form.humidity, gettext("humidity")),
            (self.bench.form["name"], gettext("bench")),
            *((field, str(NAMES[field.part])) for field in self.set_up.form),
        )

    @property
    def is_set_up(self) -> bool:
        """True where the conditions a test needs are filled in and nothing is wrong with them."""
        fields = [field for field, _ in self.conditions_in_brief]
        complete = all(field.data for field in fields if field.flags.required)
        return complete and not any(field.errors for field in fields)

    @property
    def to_fill(self) -> list[Field]:
        """Conditions to fill in before the first reading: those missing or wrong."""
        fields = [field for field, _ in self.conditions_in_brief]
        wanted = [field for field in fields if _is_missing(field) or field.errors]
        air = self.air.form
        if {air.barometer, air.temperature} & set(wanted) and not air.humidity.data:
            wanted.append(air.humidity)
        return [field for field in self.conditions if field in wanted]

    @property
    def has_hidden_faults(self) -> bool:
        """True where a field that bench mode folds away has an error."""
        in_sight = {*self.to_fill, *(field for row in self.rows for field in row.form)}
        folded = [field for table in TABLES for field in self[table].form] if self.errors else []
        return any(field.errors for field in {*self.own_fields, *folded} - in_sight)

    @property
    def own_fields(self) -> tuple[Field, ...]:
        """Fields that stand in no table of the test file."""
        return self.side, self.cylinder, self.stage, self.after, self.measured_at, self.operator

    @property
    def conditions(self) -> tuple[Field, ...]:
        """Conditions of a test, in the order they are typed in."""
        air = self.air.form
        pressure, diameter = self.bench.form.test_pressure, self.valve.form.head_diameter
        return (pressure, diameter, air.barometer, air.temperature, air.humidity)

    @property
    def has_lifts(self) -> bool:
        """True where a row has a lift already, so that readings can be typed."""
        return any(row.form.lift.data for row in self.rows)

    @property
    def labels(self) -> dict[str, str]:
        """Label of each field on the page, by its name in the form."""
        texts = {field.name: field.label.text for field in self}
        for table in TABLES:
            texts |= {field.name: field.label.text for field in self[table]}
        for number, row in enumerate(self.rows, start=1):
            texts |= {
                field.name: gettext("{text}, row {number}", text=field.label.text, number=number)
                for field in row.form
            }
        return texts


def _is_missing(field: Field) -> bool:
    return bool(field.flags.required) and not field.data


class UploadForm(Form):
    """A session file from somewhere else."""

    file = FileField(lazy("Test file"), description=lazy("A TOML file, as downloaded here."))
    upload = SubmitField(lazy("Import file"))


class ExcludeForm(Form):
    """Reason why a reading is excluded."""

    reason = TypedField(lazy("Reason"), needed=True)


def start_values(document: SessionDocument) -> dict[str, Any]:
    """A form's values from a session, its readings left blank."""
    values: dict[str, Any] = {table: {} for table in TABLES}
    for key in KEYS:
        value = getattr(document, key.field)
        text = "" if value is None else str(value)
        if isinstance(value, tuple):
            text = ", ".join(map(str, value))
        if key.table:
            values[key.table][key.name] = text
        elif key.name != "measured_at":
            values[key.name] = text
    values |= {"lift_unit": document.lift_unit, "flow_unit": document.flow_unit, "notes": ""}
    values["rows"] = [{"lift": str(lift)} for lift in document.lifts]
    return values
