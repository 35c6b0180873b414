"""The forms of a bench, its ranges and their calibrations."""

from __future__ import annotations

from datetime import date
from typing import Any

from wtforms import BooleanField, FieldList, FormField, SubmitField
from wtforms import Form as PlainForm

from shopflow.calc.calibration import CalibrationModel
from shopflow.models import Bench, BenchCheck, BenchRange, ReadingKind
from shopflow.services.bench import leak_tests
from shopflow.testfile.calibration import MOST_POINTS
from shopflow.testfile.keys import FLOWS, PRESSURES
from shopflow.testfile.meter import OWN_ELEMENT, STANDARD_ELEMENT
from shopflow.texts import lazy
from shopflow.web.fields import (
    ChoiceField,
    DayField,
    DecimalField,
    ElementField,
    QuantityField,
    TypedField,
    WordsField,
)
from shopflow.web.forms import EditForm, Form


class BenchForm(EditForm):
    """A flow bench."""

    name = TypedField(lazy("Name"), lazy("As flow test files name it."), needed=True)
    reading = ChoiceField(lazy("Scale reads"), ReadingKind, default=ReadingKind.VOLUME_FLOW.value)
    notes = WordsField(lazy("Notes"))
    active = BooleanField(lazy("In use"), default=True)


class RangeForm(Form):
    """One range of a bench."""

    name = TypedField(lazy("Name"), lazy("For example 'low' or 'high'."), needed=True)
    full_scale = QuantityField(
        lazy("Flow at 100 %"),
        "volume flow",
        lazy("For a bench that reads in percent, for example 400 cfm or 190 L/s."),
    )
    element_kind = ElementField()
    element_diameter = QuantityField(
        lazy("Bore of the element"), "length", lazy("Of a standard element.")
    )
    pipe_diameter = QuantityField(
        lazy("Bore of its pipe"), "length", lazy("Of a standard element.")
    )
    element_coefficient = DecimalField(
        lazy("Your own coefficient"), lazy("Including approach and expansion, as calibrated.")
    )
    element_area = QuantityField(lazy("Area of the coefficient"), "area")


class RecordForm(EditForm):
    """Defaults of new tests on a range."""

    division = TypedField(
        lazy("Smallest division (optional)"),
        lazy("As the scale reads, for example 0.5 cfm or 0.5 %."),
    )
    gauge_mark = TypedField(
        lazy("Pressure gauge (optional)"), lazy("Its name or number, for example G-2.")
    )
    gauge_accuracy = QuantityField(
        lazy("Accuracy ± of the gauge (optional)"),
        "ratio",
        lazy("From its certificate, for example 0.5 %."),
    )


FEWEST_ROWS = 6
MORE = 4
MODELS = {
    "": lazy("One factor"),
    CalibrationModel.LINE.value: lazy("Points: straight line"),
    CalibrationModel.QUADRATIC.value: lazy("Points: curve of the second degree"),
    CalibrationModel.CUBIC.value: lazy("Points: curve of the third degree"),
}


class PointForm(PlainForm):
    """One point of a calibration."""

    reading = TypedField(lazy("Bench reads"), render_kw={"inputmode": "decimal"})
    flow = TypedField(lazy("True flow"), render_kw={"inputmode": "decimal"})
    uncertainty = TypedField("± %", render_kw={"inputmode": "decimal"})


class LeakPointForm(PlainForm):
    """One point of a leak test."""

    pressure = TypedField(lazy("Test pressure"), render_kw={"inputmode": "decimal"})
    leakage = TypedField(lazy("Bench reads"), render_kw={"inputmode": "decimal"})


class PointsForm(Form):
    """A form with a table of points, in rows of which more can be had."""

    points: FieldList
    show_fit = SubmitField(lazy("Show fit"))
    more_rows = SubmitField(lazy("Add rows"))

    def add_rows(self) -> None:
        """More rows to type in."""
        for _ in range(min(MORE, self.points.max_entries - len(self.points))):
            self.points.append_entry()

    @property
    def values(self) -> dict[str, Any]:
        """Values typed, without the buttons."""
        buttons = ("show_fit", "more_rows")
        return {name: value for name, value in super().values.items() if name not in buttons}


class CalibrationForm(PointsForm):
    """Calibration of a range."""

    identifier = TypedField(
        lazy("Mark"), lazy("Your own number, for example NB-2026-1."), needed=True
    )
    reference = TypedField(lazy("Reference"), lazy("Master plate or reference element."))
    certificate_number = TypedField(
        lazy("Certificate of the reference"), lazy("If it has a number.")
    )
    model = ChoiceField(lazy("Calibrated by"), MODELS)
    factor = DecimalField(
        lazy("Calibration factor"),
        lazy("True flow over indicated flow; 1 if empty. Not with points."),
    )
    expanded_uncertainty = QuantityField(
        lazy("Expanded uncertainty, k = 2"),
        "ratio",
        lazy("Of the flow, for example 1.2 %. With points: what they all share; may be empty."),
    )
    reading_unit = ChoiceField(lazy("Bench reads in"), {})
    flow_unit = ChoiceField(lazy("True flow in"), {symbol: symbol for symbol in FLOWS})
    points = FieldList(FormField(PointForm), min_entries=FEWEST_ROWS, max_entries=MOST_POINTS)
    scale_density = QuantityField(
        lazy("Scale marked for air of (optional)"),
        "density",
        lazy("For example 1.204 kg/m3, where the bench shows a restriction's pressure difference."),
    )
    made_on = DayField(lazy("Calibrated on"), needed=True)
    due_on = DayField(lazy("Due on"), lazy("Leave empty if no date was set."))
    notes = WordsField(lazy("Notes"), rows=2)

    @classmethod
    def for_range(cls, bench_range: BenchRange, day: date, flow: str) -> CalibrationForm:
        """The form of a range, its flows in the unit the shop reads."""
        units = leak_tests.units_of(bench_range)
        first = "%" if "%" in units else flow
        form = cls(data={"made_on": day, "reading_unit": first, "flow_unit": flow})
        form.reading_unit.choices = {symbol: symbol for symbol in units}
        return form


class LeakForm(PointsForm):
    """A leak test of a range."""

    made_on = DayField(lazy("Calibrated on"), needed=True)
    expanded_uncertainty = QuantityField(
        lazy("Uncertainty of each leakage, ±"),
        "ratio",
        lazy("Expanded (k = 2), for example 10 %."),
        needed=True,
    )
    pressure_unit = ChoiceField(lazy("Test pressure in"), {symbol: symbol for symbol in PRESSURES})
    leakage_unit = ChoiceField(lazy("Bench reads in"), {})
    points = FieldList(
        FormField(LeakPointForm), min_entries=FEWEST_ROWS, max_entries=leak_tests.MOST_POINTS
    )
    notes = WordsField(lazy("Notes"), rows=2)

    @classmethod
    def for_range(cls, bench_range: BenchRange, day: date, pressure: str, flow: str) -> LeakForm:
        """The form of a range, in the units the shop reads."""
        units = leak_tests.units_of(bench_range)
        first = "%" if "%" in units else flow
        form = cls(data={"made_on": day, "pressure_unit": pressure, "leakage_unit": first})
        form.leakage_unit.choices = {symbol: symbol for symbol in units}
        return form


class CheckForm(Form):
    """A range set against a plate of known flow."""

    plate = TypedField(lazy("Plate"), lazy("For example plate 2, 1.875 in."), needed=True)
    expected = QuantityField(
        lazy("Known flow"), "volume flow", lazy("At the pressure of the check."), needed=True
    )
    indicated = TypedField(
        lazy("Bench reading"),
        lazy("As the scale reads, for example 212.5 cfm or 53.1 %."),
        needed=True,
    )
    notes = WordsField(lazy("Notes"), rows=2)

    @classmethod
    def after(cls, last: BenchCheck | None) -> CheckForm:
        """The form, starting from the plate of the last check."""
        return cls(data={"plate": last.plate, "expected": last.expected} if last else None)


def offered(form: RangeForm, bench: Bench) -> RangeForm:
    """The range's form as the bench needs it."""
    form.full_scale.flags.required = bench.reading is ReadingKind.PERCENT_OF_RANGE
    if bench.reading is not ReadingKind.PRESSURE_DIFFERENCE:
        for name in (*STANDARD_ELEMENT, *OWN_ELEMENT, "element_kind"):
            del form[name]
    return form
