"""The tables of the session file as parts of its form; field names are the file's keys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from wtforms import Form, RadioField

from shopflow.calc.calibration import CalibrationModel
from shopflow.calc.set_up import Part
from shopflow.models import ReadingKind
from shopflow.set_up_words import NAMES, answer
from shopflow.testfile.keys import FLOWS
from shopflow.texts import lazy
from shopflow.web.bench.sessions.entry import KINDS
from shopflow.web.fields import ChoiceField, ElementField, QuantityField, TypedField

METERS = {
    "": lazy("as in the room"),
    "volume": lazy("counts the volume that passes"),
    "restriction": lazy("shows a restriction's pressure difference"),
}


MODELS = {
    "": lazy("none"),
    CalibrationModel.LINE.value: lazy("straight line"),
    CalibrationModel.QUADRATIC.value: lazy("curve of the second degree"),
    CalibrationModel.CUBIC.value: lazy("curve of the third degree"),
}
FLOW_UNITS = {"": "", **{symbol: symbol for symbol in FLOWS}}


class AirForm(Form):
    """Room air."""

    barometer = QuantityField(
        lazy("Barometer"),
        "pressure",
        lazy("For example 29.50 inHg or 998 mbar."),
        kind=KINDS["air.barometer"],
        needed=True,
    )
    temperature = QuantityField(
        lazy("Temperature"), "temperature", lazy("For example 72 °F or 22 °C."), needed=True
    )
    humidity = QuantityField(
        lazy("Humidity"),
        "ratio",
        lazy("For example 45 %. Empty counts as dry air, up to 1 % denser."),
    )
    altitude = TypedField(
        lazy("Altitude (optional)"),
        lazy("Used to check the barometer, for example 1600 m or 5280 ft."),
    )


class ValveForm(Form):
    """The valve and its seat."""

    head_diameter = QuantityField(
        lazy("Valve head diameter"), "length", lazy("For example 44.0 mm or 1.732 in."), needed=True
    )
    count = TypedField(lazy("Valves lifted in this test"))
    stem_diameter = QuantityField(lazy("Stem diameter"), "length")
    seat_angle = QuantityField(
        lazy("Seat angle"), "angle", lazy("From the plane of the head, for example 45 deg.")
    )
    seat_width = QuantityField(lazy("Seat width"), "length", lazy("On the cone face."))
    throat_diameter = QuantityField(lazy("Throat diameter"), "length")


class PortForm(Form):
    """The port."""

    area = QuantityField(lazy("Port area"), "area", lazy("For the velocity, for example 1.72 in2."))


class BenchForm(Form):
    """The bench and its calibration."""

    name = TypedField(lazy("Bench"))
    calibration_id = TypedField(lazy("Calibration"))
    gauge_id = TypedField(
        lazy("Pressure gauge"), lazy("Its name or number: tests with one gauge share its error.")
    )
    test_pressure = QuantityField(
        lazy("Test pressure"),
        "pressure",
        lazy("For example 28 inH2O."),
        kind=KINDS["bench.test_pressure"],
        needed=True,
    )
    reference_pressure = TypedField(lazy("Report flow at"), lazy("28 inH2O if empty."))
    calibration_factor = TypedField(lazy("Calibration factor"))
    calibration_model = ChoiceField(lazy("Through the points"), MODELS)
    calibration_readings = TypedField(lazy("Bench reads"), lazy("Separated by commas, rising."))
    calibration_reading_unit = ChoiceField(lazy("Bench reads in"), {**FLOW_UNITS, "%": "%"})
    calibration_flows = TypedField(lazy("True flows"), lazy("One for each reading."))
    calibration_flow_unit = ChoiceField(lazy("True flows in"), FLOW_UNITS)
    calibration_uncertainties = TypedField(
        lazy("± %, expanded (k = 2)"), lazy("One for each flow.")
    )
    leakage = TypedField(
        lazy("Leakage"), lazy("Valve shut, as indicated. Leave it empty if you did not measure it.")
    )
    leakage_pressure = TypedField(lazy("Leakage measured at"), lazy("The test pressure if empty."))
    reading = ChoiceField(lazy("Reads in"), ReadingKind)
    range = TypedField(lazy("Range"), lazy("Flow that 100 % stands for."))
    meter = ChoiceField(lazy("Meter, where its air is not the room's"), METERS)
    meter_temperature = TypedField(lazy("Air temperature at the meter"))
    meter_pressure = TypedField(
        lazy("Absolute pressure at the meter"), lazy("Upstream of the element.")
    )
    scale_density = TypedField(lazy("Scale marked for air of"), lazy("For example 1.20 kg/m3."))
    element = ElementField()
    element_diameter = TypedField(lazy("Bore of the element"))
    pipe_diameter = TypedField(lazy("Bore of its pipe"))
    element_coefficient = TypedField(
        lazy("Coefficient of your own"), lazy("Including approach and expansion.")
    )
    element_area = TypedField(lazy("Area it is on"))


class PartField(RadioField):
    """One part of the set-up, stated by one tap."""

    def __init__(self, part: Part, **rest: Any) -> None:
        words = str(NAMES[part])
        super().__init__(
            words[:1].upper() + words[1:], choices=[], default="", validate_choice=False, **rest
        )
        self.part = part

    def offer(self, answers: Sequence[tuple[str, str]]) -> None:
        """Offer these answers, "not stated" and what the field holds already."""
        offered = dict(answers)
        if self.data and self.data not in offered:
            offered[self.data] = answer(self.part, self.data)
        self.choices = [*offered.items(), ("", answer(self.part, ""))]


class SetUpForm(Form):
    """Set-up: all that stands on the bench beside the head."""

    sleeve = PartField(Part.SLEEVE)
    inlet = PartField(Part.INLET)
    stub = PartField(Part.STUB)
    manifold = PartField(Part.MANIFOLD)
    carburetor = PartField(Part.CARBURETOR)
    header = PartField(Part.HEADER)
    spark_plug = PartField(Part.SPARK_PLUG)
    guide = PartField(Part.GUIDE)

    def offer(self, answers: Mapping[Part, Sequence[tuple[str, str]]]) -> None:
        """Offer the shop's fixtures in each part."""
        for field in self:
            field.offer(answers[field.part])


class UncertaintyForm(Form):
    """The uncertainty stated with a test; blank is unknown."""

    resolution = TypedField(lazy("Scale division"), lazy("For example 0.5 cfm."))
    calibration = TypedField(lazy("Calibration, expanded (k = 2)"), lazy("For example 1.0 %."))
    repeatability = TypedField(lazy("One reading, standard"), lazy("For example 0.4 %."))
    pressure = TypedField(lazy("Test pressure, standard"), lazy("For example 0.3 %."))
    lift = TypedField(lazy("Lift setting, standard"), lazy("For example 0.02 mm."))
    leakage = TypedField(lazy("Leakage, standard"), lazy("For example 0.2 cfm."))
    density = TypedField(lazy("Air density, standard"), lazy("For example 0.3 %."))
    day = TypedField(
        lazy("Bench on the day, standard"), lazy("From the day's plate check, for example 0.3 %.")
    )
    head_diameter = TypedField(lazy("Valve diameter ±, standard"), lazy("For example 0.02 mm."))
    stem_diameter = TypedField(lazy("Stem diameter ±, standard"))
    seat_angle = TypedField(lazy("Seat angle ±, standard"), lazy("For example 0.5 deg."))
    seat_width = TypedField(lazy("Seat width ±, standard"), lazy("For example 0.1 mm."))
    throat_diameter = TypedField(lazy("Throat diameter ±, standard"))
    port_area = TypedField(lazy("Port area ±, standard"), lazy("For example 10 mm2."))


class RowForm(Form):
    """One lift with its runs."""

    lift = TypedField(lazy("Lift"))
    first = TypedField(lazy("Run 1"))
    second = TypedField(lazy("Run 2"))
    third = TypedField(lazy("Run 3"))
