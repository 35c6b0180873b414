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

    name = TypedField("Name", "As it is written on session files.", needed=True)
    reading = ChoiceField("Its scale reads", ReadingKind, default=ReadingKind.VOLUME_FLOW.value)
    notes = WordsField("Notes")
    active = BooleanField("In use", default=True)


class RangeForm(Form):
    """One range of a bench."""

    name = TypedField("Name", "For example 'low' or 'high'.", needed=True)
    full_scale = QuantityField(
        "Flow at 100 %", "volume flow", "On a bench read in percent, as 400 cfm or 190 L/s."
    )
    element_kind = ElementField()
    element_diameter = QuantityField("Bore of the element", "length", "Of a standard element.")
    pipe_diameter = QuantityField("Bore of its pipe", "length", "Of a standard element.")
    element_coefficient = DecimalField(
        "Coefficient of your own", "With approach and expansion in it, as it was calibrated."
    )
    element_area = QuantityField("Area it is on", "area")


class RecordForm(EditForm):
    """Defaults of new tests on a range."""

    division = TypedField(
        "Smallest division (optional)", "As the scale reads, for example 0.5 cfm or 0.5 %."
    )
    gauge_mark = TypedField("Pressure gauge (optional)", "Its name or number, for example G-2.")
    gauge_accuracy = QuantityField(
        "Accuracy ± of the gauge (optional)", "ratio", "From its certificate, for example 0.5 %."
    )


FEWEST_ROWS = 6
MORE = 4
MODELS = {
    "": "One factor",
    CalibrationModel.LINE.value: "Points: straight line",
    CalibrationModel.QUADRATIC.value: "Points: curve of the second degree",
    CalibrationModel.CUBIC.value: "Points: curve of the third degree",
}


class PointForm(PlainForm):
    """One point of a calibration."""

    reading = TypedField("Bench reads", render_kw={"inputmode": "decimal"})
    flow = TypedField("True flow", render_kw={"inputmode": "decimal"})
    uncertainty = TypedField("± %", render_kw={"inputmode": "decimal"})


class LeakPointForm(PlainForm):
    """One point of a leak test."""

    pressure = TypedField("Test pressure", render_kw={"inputmode": "decimal"})
    leakage = TypedField("Bench reads", render_kw={"inputmode": "decimal"})


class PointsForm(Form):
    """A form with a table of points, in rows of which more can be had."""

    points: FieldList
    show_fit = SubmitField("Show fit")
    more_rows = SubmitField("Add rows")

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
    """A calibration of a range."""

    identifier = TypedField("Mark", "The shop's own, as 'NB-2026-1'.", needed=True)
    reference = TypedField("Compared with", "Master plate or reference element.")
    certificate_number = TypedField("Certificate of the reference", "Its number, if it has one.")
    model = ChoiceField("Calibrated by", MODELS)
    factor = DecimalField(
        "Calibration factor", "True flow over indicated flow; 1 if left empty. Not with points."
    )
    expanded_uncertainty = QuantityField(
        "Expanded uncertainty, k = 2",
        "ratio",
        "Of the flow, for example 1.2 %. With points: what they all share; may be empty.",
    )
    reading_unit = ChoiceField("Bench reads in", {})
    flow_unit = ChoiceField("True flow in", {symbol: symbol for symbol in FLOWS})
    points = FieldList(FormField(PointForm), min_entries=FEWEST_ROWS, max_entries=MOST_POINTS)
    scale_density = QuantityField(
        "Scale marked for air of (optional)",
        "density",
        "For example 1.204 kg/m3, where the bench shows a restriction's pressure difference.",
    )
    made_on = DayField("Made on", needed=True)
    due_on = DayField("Falls due", "Empty where no date was set.")
    notes = WordsField("Notes", rows=2)

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

    made_on = DayField("Made on", needed=True)
    expanded_uncertainty = QuantityField(
        "Uncertainty of each leakage, ±",
        "ratio",
        "Expanded (k = 2), for example 10 %.",
        needed=True,
    )
    pressure_unit = ChoiceField("Test pressure in", {symbol: symbol for symbol in PRESSURES})
    leakage_unit = ChoiceField("Bench reads in", {})
    points = FieldList(
        FormField(LeakPointForm), min_entries=FEWEST_ROWS, max_entries=leak_tests.MOST_POINTS
    )
    notes = WordsField("Notes", rows=2)

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

    plate = TypedField("Plate", "Which one, as 'plate 2, 1.875 in'.", needed=True)
    expected = QuantityField(
        "Its known flow", "volume flow", "At the pressure of the check.", needed=True
    )
    indicated = TypedField(
        "The bench showed", "As the scale reads: 212.5 cfm, or 53.1 %.", needed=True
    )
    notes = WordsField("Notes", rows=2)

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
