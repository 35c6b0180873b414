"""The forms of the sums; they are asked, not saved, so each can be linked to with its figures."""

from __future__ import annotations

from typing import Any

from shopflow.web.fields import CountField, DecimalField, QuantityField
from shopflow.web.forms import Form

AIR_HINT = "Absolute, where the engine runs. For example 1013 hPa."


class SumForm(Form):
    """A sum whose figures come in the address."""

    class Meta:
        """Nothing is changed by it, so nothing needs guarding."""

        csrf = False

    @classmethod
    def from_query(cls, arguments: Any) -> SumForm:
        """The form with what the address has."""
        return cls(formdata=arguments)


class CompressionForm(SumForm):
    """Compression ratio."""

    bore = QuantityField("Bore", "length", "For example 80.5 mm.", needed=True)
    stroke = QuantityField("Stroke", "length", "For example 88.0 mm.", needed=True)
    chamber = QuantityField("Chamber volume", "volume", "For example 50.0 cm3.", needed=True)
    gasket_bore = QuantityField("Gasket bore", "length", needed=True)
    gasket_thickness = QuantityField("Compressed gasket thickness", "length", needed=True)
    deck = QuantityField("Piston below deck", "length", "Negative if it stands proud.")
    dish = QuantityField("Piston dish", "volume", "Negative for a dome.")
    removed = QuantityField("To cut off the face", "length")
    footprint = QuantityField("Chamber footprint", "area", "For example 50.0 cm2.")


class MachForm(SumForm):
    """Mean inlet Mach index."""

    bore = QuantityField("Bore", "length", needed=True)
    stroke = QuantityField("Stroke", "length", needed=True)
    valve_diameter = QuantityField("Intake valve diameter", "length", needed=True)
    valves = CountField("Intake valves per cylinder", least=1, needed=True)
    rpm = CountField("Rev limit, rpm", least=1, needed=True)
    coefficient = DecimalField(
        "Coefficient on head area", "Averaged over the lift. For example 0.35."
    )
    temperature = QuantityField(
        "Intake temperature", "temperature", "For example 20 degC.", needed=True
    )


class GasForm(SumForm):
    """Exhaust gas volume against intake volume."""

    air_pressure = QuantityField("Air pressure", "pressure", AIR_HINT, needed=True)
    boost = QuantityField("Boost", "pressure", "Gauge pressure. For example 20 psi.", needed=True)
    back_pressure = QuantityField("Before the turbine", "pressure", "Gauge pressure.", needed=True)
    intake_temperature = QuantityField(
        "Intake gas", "temperature", "For example 300 K.", needed=True
    )
    exhaust_temperature = QuantityField(
        "Exhaust gas", "temperature", "For example 1200 K.", needed=True
    )
    fuel_to_air = DecimalField("Fuel to air, by mass", "For example 0.08.")


class TurbineForm(SumForm):
    """Power a turbine could take from the gas."""

    air_pressure = QuantityField("Air pressure", "pressure", AIR_HINT, needed=True)
    mass_flow = QuantityField("Gas flow", "mass flow", "For example 200 g/s.", needed=True)
    temperature = QuantityField(
        "Before the turbine", "temperature", "For example 1200 K.", needed=True
    )
    inlet_pressure = QuantityField("Pressure before it", "pressure", "Gauge pressure.", needed=True)
    outlet_pressure = QuantityField("Pressure after it", "pressure", "Gauge pressure.", needed=True)
    efficiency = QuantityField("Efficiency", "ratio", "For example 70 %.", needed=True)
