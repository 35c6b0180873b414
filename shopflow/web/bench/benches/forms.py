"""The forms of a bench, its ranges and their calibrations."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.models import Bench, BenchCheck, ReadingKind
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


class CalibrationForm(Form):
    """A calibration of a range."""

    identifier = TypedField("Mark", "The shop's own, as 'NB-2026-1'.", needed=True)
    reference = TypedField("Compared with", "Master plate or reference element.")
    certificate_number = TypedField("Certificate of the reference", "Its number, if it has one.")
    factor = DecimalField("Calibration factor", "True flow over indicated flow; 1 if left empty.")
    expanded_uncertainty = QuantityField(
        "Expanded uncertainty, k = 2", "ratio", "Of the flow, as 1.2 %.", needed=True
    )
    scale_density = QuantityField(
        "Scale marked for air of (optional)",
        "density",
        "For example 1.204 kg/m3, where the bench shows a restriction's pressure difference.",
    )
    made_on = DayField("Made on", needed=True)
    due_on = DayField("Falls due", "Empty where no date was set.")
    notes = WordsField("Notes", rows=2)


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
