"""The keys of the session file: one row each, read by the checker and the writer alike."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shopflow.calc.set_up import Part

LENGTHS = ("mm", "cm", "m", "in")
FLOWS = ("L/s", "m3/h", "m3/s", "cfm")
PRESSURES = ("Pa", "hPa", "kPa", "mbar", "inH2O", "mmH2O", "inHg", "psi")
UNITS: dict[str, tuple[str, ...]] = {
    "length": LENGTHS,
    "altitude": ("m", "ft"),
    "area": ("mm2", "cm2", "in2"),
    "volume flow": FLOWS,
    "pressure": PRESSURES,
    "temperature": ("degC", "degF", "K"),
    "angle": ("deg",),
    "ratio": ("%",),
    "density": ("kg/m3",),
    "speed of rotation": ("rpm",),
}
"""Units a quantity of a file may be typed in, by what it measures."""

Bound = Literal["any", "not negative", "positive"]


class Key(NamedTuple):
    """One key: its table ("" at the top), name, field of SessionDocument, and what it holds."""

    table: str
    name: str
    field: str
    dimension: str
    """A dimension for a quantity, else "text", "moment", "count", "number" or a choice: "side",
    "reading", "meter", "element", "model"; what is typed as the bench reads: "leakage",
    "division"; an array of numbers, "row"; or a bare unit, "unit"."""

    required: bool = False
    default: str = ""
    bound: Bound = "any"

    @property
    def path(self) -> str:
        """The key as faults name it, as "air.barometer"."""
        return f"{self.table}.{self.name}" if self.table else self.name


def _texts(table: str, *names: str) -> list[Key]:
    return [Key(table, name, name, "text") for name in names]


KEYS = (
    *_texts("", "title", "stage", "engine_type", "head", "cylinder", "operator", "notes"),
    Key("", "measured_at", "measured_at", "moment"),
    Key("", "side", "side", "side", required=True),
    Key("air", "barometer", "barometer", "pressure", True, bound="positive"),
    Key("air", "temperature", "temperature", "temperature", True, bound="positive"),
    Key("air", "humidity", "humidity", "ratio", default="0 %", bound="not negative"),
    Key("air", "altitude", "altitude", "altitude"),
    Key("valve", "head_diameter", "head_diameter", "length", True, bound="positive"),
    Key("valve", "stem_diameter", "stem_diameter", "length", bound="positive"),
    Key("valve", "seat_angle", "seat_angle", "angle"),
    Key("valve", "seat_width", "seat_width", "length", bound="positive"),
    Key("valve", "throat_diameter", "throat_diameter", "length", bound="positive"),
    Key("valve", "count", "valve_count", "count", default="1"),
    Key("port", "area", "port_area", "area", bound="positive"),
    Key("bench", "name", "bench_name", "text"),
    Key("bench", "calibration_id", "calibration_mark", "text"),
    Key("bench", "gauge_id", "gauge_mark", "text"),
    Key("bench", "test_pressure", "test_pressure", "pressure", True, bound="positive"),
    Key(
        "bench", "reference_pressure", "reference_pressure", "pressure",
        default="28 inH2O", bound="positive",
    ),
    Key("bench", "calibration_factor", "calibration_factor", "number", default="1.0"),
    Key("bench", "calibration_model", "calibration_model", "model"),
    Key("bench", "calibration_reading_unit", "calibration_reading_unit", "unit"),
    Key("bench", "calibration_readings", "calibration_readings", "row"),
    Key("bench", "calibration_flow_unit", "calibration_flow_unit", "unit"),
    Key("bench", "calibration_flows", "calibration_flows", "row"),
    Key("bench", "calibration_uncertainties", "calibration_uncertainties", "row"),
    Key("bench", "leakage", "leakage", "leakage", default="0 cfm", bound="not negative"),
    Key("bench", "leakage_pressure", "leakage_pressure", "pressure", bound="positive"),
    Key("bench", "range", "range", "volume flow", bound="positive"),
    Key("bench", "reading", "reading_kind", "reading", default="volume flow"),
    Key("bench", "meter", "meter_kind", "meter"),
    Key("bench", "meter_temperature", "meter_temperature", "temperature", bound="positive"),
    Key("bench", "meter_pressure", "meter_pressure", "pressure", bound="positive"),
    Key("bench", "scale_density", "scale_density", "density", bound="positive"),
    Key("bench", "element", "element_kind", "element"),
    Key("bench", "element_diameter", "element_diameter", "length", bound="positive"),
    Key("bench", "pipe_diameter", "pipe_diameter", "length", bound="positive"),
    Key("bench", "element_coefficient", "element_coefficient", "number"),
    Key("bench", "element_area", "element_area", "area", bound="positive"),
    *(Key("set_up", part.value, f"set_up_{part.value}", "text") for part in Part),
    Key("uncertainty", "calibration", "u_calibration", "ratio", bound="not negative"),
    Key("uncertainty", "repeatability", "u_repeatability", "ratio", bound="not negative"),
    Key("uncertainty", "pressure", "u_pressure", "ratio", bound="not negative"),
    Key("uncertainty", "lift", "u_lift", "length", bound="not negative"),
    Key("uncertainty", "resolution", "u_resolution", "division", bound="not negative"),
    Key("uncertainty", "leakage", "u_leakage", "leakage", bound="not negative"),
    Key("uncertainty", "density", "u_density", "ratio", bound="not negative"),
    Key("uncertainty", "day", "u_day", "ratio", bound="not negative"),
    Key("uncertainty", "head_diameter", "u_head_diameter", "length", bound="not negative"),
    Key("uncertainty", "stem_diameter", "u_stem_diameter", "length", bound="not negative"),
    Key("uncertainty", "seat_angle", "u_seat_angle", "angle", bound="not negative"),
    Key("uncertainty", "seat_width", "u_seat_width", "length", bound="not negative"),
    Key("uncertainty", "throat_diameter", "u_throat_diameter", "length", bound="not negative"),
    Key("uncertainty", "port_area", "u_port_area", "area", bound="not negative"),
)  # fmt: skip
"""Every key but schema, the readings and the excluded runs. An uncertainty without a default is
unknown where it is absent; 0 typed is a statement."""

TABLES = ("air", "valve", "port", "bench", "set_up", "uncertainty")
READINGS = ("lift_unit", "flow_unit", "lift", "flow", "pressure_unit", "pressure")
EXCLUDED = ("lift", "run", "flow", "reason")
"""Required fields of every excluded run; `pressure` beside them where the runs have pressures."""
TOP_LEVEL = (
    "schema",
    *(key.name for key in KEYS if not key.table),
    *TABLES,
    "readings",
    "excluded",
)
