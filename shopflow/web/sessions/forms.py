"""The forms of bench sessions. Field names are the session file's keys, so its faults land."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from flask import request
from flask_wtf.file import FileField
from wtforms import FieldList, FormField, HiddenField, SelectField, SubmitField

from shopflow.errors import Fault, FaultsError
from shopflow.models import JobHead, LiftList
from shopflow.services import entries
from shopflow.services.yardsticks import Yardstick
from shopflow.sessionfile import SessionDocument, check
from shopflow.sessionfile.keys import FLOWS, KEYS, LENGTHS, PRESSURES, TABLES
from shopflow.units import UnitError, split
from shopflow.web.fields import ChoiceField, TypedField, WordsField
from shopflow.web.forms import Form
from shopflow.web.sessions.tables import (
    AirForm,
    BenchForm,
    PortForm,
    RowForm,
    UncertaintyForm,
    ValveForm,
)

FEWEST_ROWS = 10
MOST_ROWS = 60
RUNS = ("first", "second", "third")

HIDDEN = ("csrf_token", "entry", "writer", "seen")
_WHOLE = re.compile(r"[0-9]+")


class SessionForm(Form):
    """A bench session, set up and read."""

    entry = HiddenField()
    writer = HiddenField()
    seen = HiddenField()
    stage = TypedField("Stage", "As received, seat cut, ported …")
    side = ChoiceField("Side", {"intake": "Intake", "exhaust": "Exhaust"})
    cylinder = TypedField("Cylinder or port")
    after = SelectField("Follows", choices={}, validate_choice=True)
    measured_at = TypedField("Measured at", "As 2026-03-14 10:30, in the shop's time.")
    operator = TypedField("Operator")
    title = TypedField("Title")
    notes = WordsField("Notes", rows=2)
    air = FormField(AirForm)
    valve = FormField(ValveForm)
    port = FormField(PortForm)
    bench = FormField(BenchForm)
    uncertainty = FormField(UncertaintyForm)
    lift_unit = ChoiceField("Lifts in", {symbol: symbol for symbol in LENGTHS})
    flow_unit = ChoiceField("Readings in", {symbol: symbol for symbol in (*FLOWS, "%", *PRESSURES)})
    against = SelectField("Drawn over", choices={}, validate_choice=False)
    rows = FieldList(FormField(RowForm), min_entries=FEWEST_ROWS, max_entries=MOST_ROWS)
    save = SubmitField("Keep this session")
    work_out = SubmitField("Work it out first")
    more_rows = SubmitField("More rows")
    lift_list = ChoiceField("From a saved list", {}, validate_choice=False)
    ld_step = TypedField("Every so much of L/D", "As 0.05.")
    ld_last = TypedField("Up to L/D", "As 0.35.")
    ld_lifts = SubmitField("Set these lifts")

    @classmethod
    def for_head(
        cls,
        stay: JobHead,
        start: dict[str, Any] | None,
        lists: Sequence[LiftList] = (),
        over: Sequence[Yardstick] = (),
    ) -> SessionForm:
        """The form of a head's session, starting from these values where nothing was posted.

        It offers these lists of lifts, and these tests to be drawn over.
        """
        form = cls(data=start)
        done = [step for step in stay.operations if not step.is_open]
        form.after.choices = {"": "nothing: as received"} | {
            str(step.id): step.kind.name for step in done
        }
        form.against.choices = {"": "the latest test of this side"} | {
            str(one.session_id): one.words for one in over
        }
        form.lift_list.choices = {"": "by L/D"} | {str(row.id): row.name for row in lists}
        return form

    def add_rows(self) -> None:
        """Five more rows to type in, up to what a test may have."""
        for _ in range(5):
            if len(self.rows) < self.rows.max_entries:
                self.rows.append_entry()

    def set_lifts(self, chosen: LiftList | None) -> None:
        """Lifts of a saved list, or every so much of L/D, in rows that hold no reading.

        Faults are shown.
        """
        place = self.lift_list if chosen else self.ld_step
        if self._filled():
            place.errors = ["there are readings already; their lifts stay as they are"]
            return
        if chosen is not None:
            self.lift_unit.data = chosen.unit
            self._set(chosen.lifts)
            return
        try:
            self._set(
                entries.lifts_by_diameter(
                    self.valve.form.head_diameter.data or "",
                    self.ld_step.data or "",
                    self.ld_last.data or "",
                    self.lift_unit.data,
                )
            )
        except UnitError as error:
            place.errors = [str(error)]

    def _set(self, lifts: Sequence[str]) -> None:
        while len(self.rows):
            self.rows.pop_entry()
        for lift in [*lifts, *[""] * (FEWEST_ROWS - len(lifts))]:
            self.rows.append_entry({"lift": lift})

    @property
    def typed(self) -> dict[str, str]:
        """Every field as typed, by its name, to be kept while the test is taken."""
        left_out = {*HIDDEN, "save", "work_out", "more_rows", "ld_lifts", "lift_list"}
        return {
            name: text
            for name, text in request.form.items()
            if name not in left_out and isinstance(text, str)
        }

    @property
    def labels(self) -> dict[str, str]:
        """What each field is called on the page, by its name in the form."""
        found = {field.name: field.label.text for field in self}
        for table in TABLES:
            found |= {field.name: field.label.text for field in self[table]}
        for place, row in enumerate(self.rows, start=1):
            found |= {field.name: f"{field.label.text}, row {place}" for field in row.form}
        return found

    def document(self, engine_type: str, head: str) -> SessionDocument:
        """The session as its file would say it.

        Raises FaultsError keyed by the fields of this form.
        """
        faults: list[Fault] = []
        content = self._content(engine_type, head, faults)
        try:
            document = check(content)
        except FaultsError as error:
            faults += [self._at_field(fault) for fault in error.faults]
        if faults:
            raise FaultsError(faults)
        return document

    def _content(self, engine_type: str, head: str, faults: list[Fault]) -> dict[str, Any]:
        """What was typed, nested as the session file is; blank fields take their defaults."""
        typed = self.data
        content: dict[str, Any] = {"schema": 1, "engine_type": engine_type, "head": head}
        for name in ("stage", "side", "cylinder", "operator", "title", "notes"):
            content[name] = typed[name] or ""
        if typed["measured_at"]:
            try:
                content["measured_at"] = datetime.fromisoformat(typed["measured_at"].strip())
            except ValueError:
                faults.append(Fault("measured_at", "write it as 2026-03-14 10:30"))
        for table in TABLES:
            given = {
                key: text.strip() for key, text in typed[table].items() if (text or "").strip()
            }
            content[table] = _numbers_in(table, given, faults)
        content["readings"] = {
            "lift_unit": typed["lift_unit"],
            "flow_unit": typed["flow_unit"],
            **self._readings(faults),
        }
        return content

    def _readings(self, faults: list[Fault]) -> dict[str, list[Any]]:
        """Lifts and runs of the rows that hold anything; "212.4 @ 26.5" is a run at a pressure."""
        lifts, flows, pressures = [], [], []
        for place in self._filled():
            row = self.rows[place].data
            lifts.append(_number(row["lift"], f"rows-{place}-lift", faults))
            runs = [(run, row[run].partition("@")) for run in RUNS if (row[run] or "").strip()]
            flows.append([_number(typed[0], f"rows-{place}-{run}", faults) for run, typed in runs])
            pressures.append([(f"rows-{place}-{run}", typed) for run, typed in runs])
        found: dict[str, Any] = {"lift": lifts, "flow": flows}
        if any(typed[1] for row in pressures for _, typed in row):
            found |= self._pressures(pressures, faults)
        return found

    def _pressures(
        self, rows: list[list[tuple[str, tuple[str, str, str]]]], faults: list[Fault]
    ) -> dict[str, Any]:
        """The pressure of every run in the test pressure's unit: its own, or the test pressure."""
        try:
            usual, unit = split(self.bench.form.test_pressure.data or "")
        except UnitError:
            # The test pressure has its own fault.
            return {}
        return {
            "pressure_unit": unit,
            "pressure": [
                [_number(own if at else usual, key, faults) for key, (_, at, own) in row]
                for row in rows
            ],
        }

    def _filled(self) -> list[int]:
        """Places of the rows that hold a reading; a lift set up but not tested is none."""
        return [
            place
            for place, row in enumerate(self.rows)
            if any((row.data[run] or "").strip() for run in RUNS)
        ]

    def _at_field(self, fault: Fault) -> Fault:
        """A fault of the file, at this form's field."""
        row = re.fullmatch(r"readings\.(lift|flow|pressure)\[(\d+)\]", fault.key)
        if row:
            place = self._filled()[int(row[2]) - 1]
            column = "lift" if row[1] == "lift" else "first"
            return Fault(f"rows-{place}-{column}", fault.message)
        if fault.key == "readings.pressure_unit":
            return Fault("bench-test_pressure", fault.message)
        if fault.key.startswith("readings.") and fault.key.endswith("unit"):
            return Fault(fault.key.removeprefix("readings."), fault.message)
        if fault.key == "readings.lift":
            return Fault("rows-0-first", "type at least one reading")
        return Fault(fault.key.replace(".", "-"), fault.message)


class UploadForm(Form):
    """A session file from somewhere else."""

    file = FileField("Session file", description="TOML, as exported from here.")
    upload = SubmitField("Store the file")


class ExcludeForm(Form):
    """Why a reading is left out."""

    reason = TypedField("Reason", needed=True)


def start_values(document: SessionDocument) -> dict[str, Any]:
    """A form's values from a session, its readings left blank."""
    values: dict[str, Any] = {table: {} for table in TABLES}
    for key in KEYS:
        value = getattr(document, key.field)
        text = "" if value is None else str(value)
        if key.table:
            values[key.table][key.name] = text
        elif key.name != "measured_at":
            values[key.name] = text
    values |= {"lift_unit": document.lift_unit, "flow_unit": document.flow_unit, "notes": ""}
    values["rows"] = [{"lift": str(lift)} for lift in document.lifts]
    return values


def _numbers_in(table: str, given: dict[str, str], faults: list[Fault]) -> dict[str, Any]:
    """The keys of a table that are bare numbers, as numbers."""
    read: dict[str, Any] = dict(given)
    for key in KEYS:
        if key.table == table and key.name in read and key.dimension in ("count", "number"):
            text = read[key.name]
            if key.dimension == "count" and _WHOLE.fullmatch(text):
                read[key.name] = int(text[:6])
            else:
                read[key.name] = _number(text, f"{table}-{key.name}", faults)
    return read


def _number(text: str | None, key: str, faults: list[Fault]) -> Decimal:
    """A typed number; one that cannot be read is a fault, and stands for 1 meanwhile."""
    try:
        number = Decimal((text or "").strip())
        if number.is_finite():
            return number
    except InvalidOperation:
        pass
    hint = "; write decimals with a point" if "," in (text or "") else ""
    typed = (text or "").strip()
    faults.append(Fault(key, f"'{typed}' is not a number{hint}" if typed else "fill this in"))
    return Decimal(1)
