"""The tables of the session file as parts of its form; field names are the file's keys."""

from __future__ import annotations

from wtforms import Form

from shopflow.calc.calibration import CalibrationModel
from shopflow.models import ReadingKind
from shopflow.testfile.keys import FLOWS
from shopflow.web.fields import ChoiceField, ElementField, TypedField

METERS = {
    "": "as in the room",
    "volume": "counts the volume that passes",
    "restriction": "shows a restriction's pressure difference",
}


MODELS = {
    "": "none",
    CalibrationModel.LINE.value: "straight line",
    CalibrationModel.QUADRATIC.value: "curve of the second degree",
    CalibrationModel.CUBIC.value: "curve of the third degree",
}
FLOW_UNITS = {"": "", **{symbol: symbol for symbol in FLOWS}}


class AirForm(Form):
    """Room air."""

    barometer = TypedField("Barometer", "As 29.50 inHg or 998 mbar.", needed=True)
    temperature = TypedField("Temperature", "As 72 degF or 22 degC.", needed=True)
    humidity = TypedField(
        "Humidity", "For example 45 %. Blank counts as dry air, up to 1 % heavier."
    )
    altitude = TypedField(
        "Altitude (optional)", "Guards the barometer, for example 1600 m or 5280 ft."
    )


class ValveForm(Form):
    """The valve and its seat."""

    head_diameter = TypedField("Head diameter", "As 44.0 mm or 1.732 in.", needed=True)
    count = TypedField("Valves open together")
    stem_diameter = TypedField("Stem diameter")
    seat_angle = TypedField("Seat angle", "From the plane of the head, as 45 deg.")
    seat_width = TypedField("Seat width", "On the cone face.")
    throat_diameter = TypedField("Throat diameter")


class PortForm(Form):
    """The port."""

    area = TypedField("Port area", "Where velocity is quoted, as 1.72 in2.")


class BenchForm(Form):
    """The bench and its calibration."""

    name = TypedField("Bench")
    calibration_id = TypedField("Calibration")
    gauge_id = TypedField(
        "Pressure gauge", "Its name or number: tests with one gauge share its error."
    )
    test_pressure = TypedField("Test pressure", "As 28 inH2O.", needed=True)
    reference_pressure = TypedField("Flows stated at", "28 inH2O where left empty.")
    calibration_factor = TypedField("Calibration factor")
    calibration_model = ChoiceField("Through the points", MODELS)
    calibration_readings = TypedField("Bench reads", "Separated by commas, rising.")
    calibration_reading_unit = ChoiceField("Bench reads in", {**FLOW_UNITS, "%": "%"})
    calibration_flows = TypedField("True flows", "One for each reading.")
    calibration_flow_unit = ChoiceField("True flows in", FLOW_UNITS)
    calibration_uncertainties = TypedField("± %, expanded (k = 2)", "One for each flow.")
    leakage = TypedField("Leakage", "Valve shut, as indicated.")
    leakage_pressure = TypedField("Leakage measured at", "The test pressure where left empty.")
    reading = ChoiceField("Reads in", ReadingKind)
    range = TypedField("Range", "Flow that 100 % stands for.")
    meter = ChoiceField("Meter, where its air is not the room's", METERS)
    meter_temperature = TypedField("Air temperature at the meter")
    meter_pressure = TypedField("Absolute pressure at the meter", "Upstream of the element.")
    scale_density = TypedField("Scale marked for air of", "For example 1.20 kg/m3.")
    element = ElementField()
    element_diameter = TypedField("Bore of the element")
    pipe_diameter = TypedField("Bore of its pipe")
    element_coefficient = TypedField(
        "Coefficient of your own", "With approach and expansion in it."
    )
    element_area = TypedField("Area it is on")


class UncertaintyForm(Form):
    """The uncertainty stated with a test; blank is unknown."""

    resolution = TypedField("Scale division", "For example 0.5 cfm.")
    calibration = TypedField("Calibration, expanded (k = 2)", "For example 1.0 %.")
    repeatability = TypedField("One reading, standard", "For example 0.4 %.")
    pressure = TypedField("Test pressure, standard", "For example 0.3 %.")
    lift = TypedField("Lift setting, standard", "For example 0.02 mm.")
    leakage = TypedField("Leakage, standard", "For example 0.2 cfm.")
    density = TypedField("Air density, standard", "For example 0.3 %.")
    head_diameter = TypedField("Valve diameter ±, standard", "For example 0.02 mm.")
    stem_diameter = TypedField("Stem diameter ±, standard")
    seat_angle = TypedField("Seat angle ±, standard", "For example 0.5 deg.")
    seat_width = TypedField("Seat width ±, standard", "For example 0.1 mm.")
    throat_diameter = TypedField("Throat diameter ±, standard")
    port_area = TypedField("Port area ±, standard", "For example 10 mm2.")


class RowForm(Form):
    """One lift with its runs."""

    lift = TypedField("Lift")
    first = TypedField("Run 1")
    second = TypedField("Run 2")
    third = TypedField("Run 3")
