"""The forms of sections: a row of them at once, and which flow to show in them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from flask import request
from wtforms import FieldList, FormField, SubmitField
from wtforms import Form as PlainForm

from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchSession, Datum, Visit
from shopflow.services.bench.port_surveys import Port
from shopflow.services.bench.sessions import document
from shopflow.services.bench.test_names import session_name
from shopflow.texts import lazy
from shopflow.units import pretty, units_of
from shopflow.web.context import system
from shopflow.web.fields import ChoiceField, CountField, TypedField
from shopflow.web.forms import Form
from shopflow.web.measuring.measurements.forms import SIDES, WHENS, with_unit

FEWEST_ROWS = 10
MOST_ROWS = 40
MORE = 5
STARTS = ("side", "cylinder", "datum")
"""Fields of the port that an address may fill."""


class RowForm(PlainForm):
    """One section."""

    distance = TypedField(lazy("Distance"), render_kw={"inputmode": "decimal"})
    area = TypedField(lazy("Area"), render_kw={"inputmode": "decimal"})
    width = TypedField(lazy("Width"), render_kw={"inputmode": "decimal"})
    height = TypedField(lazy("Height"), render_kw={"inputmode": "decimal"})
    perimeter = TypedField(lazy("Perimeter"), render_kw={"inputmode": "decimal"})
    short_side_radius = TypedField(lazy("Short-side radius"), render_kw={"inputmode": "decimal"})


class SectionsForm(Form):
    """The sections of one port; a bare number is in the unit chosen."""

    side = ChoiceField(lazy("Side"), {side: words for side, words in SIDES.items() if side})
    cylinder = CountField(lazy("Cylinder"), least=1)
    when = ChoiceField(lazy("Taken"), WHENS)
    datum = ChoiceField(lazy("Distances from"), Datum)
    distance_unit = ChoiceField(lazy("Lengths in"), {})
    area_unit = ChoiceField(lazy("Areas in"), {})
    notes = TypedField(
        lazy("Note"), lazy("How you measured them. For example moulding, cut and measured.")
    )
    rows = FieldList(FormField(RowForm), min_entries=FEWEST_ROWS, max_entries=MOST_ROWS)
    save = SubmitField(lazy("Save sections"))
    more_rows = SubmitField(lazy("Add rows"))

    @classmethod
    def of(cls, arguments: Mapping[str, str]) -> SectionsForm:
        """The form in the units the shop reads, for the port an address names."""
        start = {"distance_unit": system().unit("lift"), "area_unit": system().unit("port area")}
        start |= {name: arguments[name] for name in STARTS if arguments.get(name)}
        form = cls(data=start)
        form.distance_unit.choices = {unit: pretty(unit) for unit in units_of("length")}
        form.area_unit.choices = {unit: pretty(unit) for unit in units_of("area")}
        return form

    def add_rows(self) -> None:
        """More rows to type in."""
        for _ in range(min(MORE, MOST_ROWS - len(self.rows))):
            self.rows.append_entry()

    @property
    def place_values(self) -> dict[str, Any]:
        """Values that all sections share."""
        return {name: self[name].data for name in ("side", "cylinder", "when", "datum", "notes")}

    @property
    def row_values(self) -> list[dict[str, Any]]:
        """The rows in which something is typed, each number with its unit."""
        return [
            {
                name: with_unit(
                    typed, (self.area_unit if name == "area" else self.distance_unit).data
                )
                for name, typed in self.rows[index].data.items()
            }
            for index in self._filled()
        ]

    def at_fields(self, error: ValidationError) -> ValidationError:
        """Faults of the sections, at the rows they were typed in."""
        return ValidationError([self._at_field(fault) for fault in error.faults])

    def _at_field(self, fault: FieldError) -> FieldError:
        key, filled = re.fullmatch(r"rows-(\d+)-(\w+)", fault.key), self._filled()
        if not key or not filled:
            return fault
        return FieldError(f"rows-{filled[int(key[1])]}-{key[2]}", fault.message)

    def _filled(self) -> list[int]:
        return [
            index
            for index, row in enumerate(self.rows)
            if any((text or "").strip() for text in row.data.values())
        ]


class FlowForm(Form):
    """Port shown and the flow in it. The form is read, not saved."""

    class Meta:
        """Nothing is changed by it, so nothing needs guarding."""

        csrf = False

    port = ChoiceField(lazy("Port"), {})
    test = ChoiceField(lazy("Flow test"), {})
    lift = ChoiceField(lazy("At lift"), {})

    chosen: Port
    tests: list[BenchSession]
    """Of the chosen port, in the order they were measured."""

    row: BenchSession | None = None
    place: int = -1
    """The lift among the test's."""

    unmet: str = ""
    """A lift that was asked for and that this test does not have."""

    @classmethod
    def from_query(cls, arguments: Any, visit: Visit, ports: Sequence[Port]) -> FlowForm:
        """The form with the values of the address, and the port, test and lift they choose.

        Without values: the first port, its latest test, the last lift of that.
        """
        form = cls(formdata=arguments)
        form.port.choices = {port.key: port.words for port in ports}
        form.port.data = arguments.get("port") or ports[0].key
        form.chosen = next((port for port in ports if port.key == form.port.data), ports[0])
        form.tests = [row for row in visit.sessions if form.chosen.has(row)]
        typed = arguments.get("test", "")
        others = {str(row.id) for row in visit.sessions} - {str(row.id) for row in form.tests}
        # Whoever chooses another port has not chosen a test of it yet.
        form._choose_test("" if typed in others else typed)
        return form

    @property
    def asked_for(self) -> dict[str, str]:
        """Fields that are in the address."""
        names = ("port", "test", "lift")
        return {name: request.args[name] for name in names if name in request.args}

    def _choose_test(self, key: str) -> None:
        self.test.choices = {str(row.id): session_name(row) for row in reversed(self.tests)}
        if not self.tests:
            del self.test, self.lift
            return
        self.test.data = key or str(self.tests[-1].id)
        self.row = next((row for row in self.tests if str(row.id) == self.test.data), None)
        if self.row is None:
            del self.lift
        else:
            self._choose_lift(self.row)

    def _choose_lift(self, row: BenchSession) -> None:
        """Choose the lift; tests differ in their lifts, and one that this test lacks becomes its
        last."""
        lifts = [str(lift) for lift in document(row).lifts]
        self.lift.choices = {lift: f"{lift} {row.lift_unit}" for lift in lifts}
        typed = str(self.lift.data or "")
        if typed not in lifts:
            self.unmet, self.lift.data = typed, lifts[-1]
        self.place = lifts.index(self.lift.data)
