"""The forms of the sums; they are asked, not saved, so each can be linked to with its figures."""

from __future__ import annotations

from typing import Any

from shopflow.texts import lazy
from shopflow.web.fields import CountField, DecimalField, QuantityField
from shopflow.web.forms import Form

AIR_HINT = lazy("Absolute, where the engine runs. For example 1013 hPa.")


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

    bore = QuantityField(lazy("Bore"), "length", lazy("For example 80.5 mm."), needed=True)
    stroke = QuantityField(lazy("Stroke"), "length", lazy("For example 88.0 mm."), needed=True)
    chamber = QuantityField(
        lazy("Chamber volume"), "volume", lazy("For example 50.0 cm3."), needed=True
    )
    gasket_bore = QuantityField(lazy("Gasket bore"), "length", needed=True)
    gasket_thickness = QuantityField(lazy("Compressed gasket thickness"), "length", needed=True)
    deck = QuantityField(lazy("Piston below deck"), "length", lazy("Negative if it stands proud."))
    dish = QuantityField(lazy("Piston dish"), "volume", lazy("Negative for a dome."))
    removed = QuantityField(lazy("To cut off the face"), "length")
    footprint = QuantityField(lazy("Chamber footprint"), "area", lazy("For example 50.0 cm2."))


class MachForm(SumForm):
    """Mean inlet Mach index."""

    bore = QuantityField(lazy("Bore"), "length", needed=True)
    stroke = QuantityField(lazy("Stroke"), "length", needed=True)
    valve_diameter = QuantityField(lazy("Intake valve diameter"), "length", needed=True)
    valves = CountField(lazy("Intake valves per cylinder"), least=1, needed=True)
    rpm = CountField(lazy("Rev limit, rpm"), least=1, needed=True)
    coefficient = DecimalField(
        lazy("Coefficient on head area"), lazy("Averaged over the lift. For example 0.35.")
    )
    temperature = QuantityField(
        lazy("Intake temperature"), "temperature", lazy("For example 20 degC."), needed=True
    )


class GaugeForm(SumForm):
    """A calculation with gauge pressures, and the air pressure that they are above."""

    air_pressure = QuantityField(
        lazy("Air pressure"), "pressure", AIR_HINT, needed=True, kind="air pressure"
    )


class GasForm(GaugeForm):
    """Exhaust gas volume against intake volume."""

    boost = QuantityField(
        lazy("Boost"), "pressure", lazy("Gauge pressure. For example 20 psi."), needed=True
    )
    back_pressure = QuantityField(
        lazy("Before the turbine"), "pressure", lazy("Gauge pressure."), needed=True
    )
    intake_temperature = QuantityField(
        lazy("Intake gas"), "temperature", lazy("For example 300 K."), needed=True
    )
    exhaust_temperature = QuantityField(
        lazy("Exhaust gas"), "temperature", lazy("For example 1200 K."), needed=True
    )
    fuel_to_air = DecimalField(lazy("Fuel to air, by mass"), lazy("For example 0.08."))


class TurbineForm(GaugeForm):
    """Power a turbine could take from the gas."""

    mass_flow = QuantityField(
        lazy("Gas flow"), "mass flow", lazy("For example 200 g/s."), needed=True
    )
    temperature = QuantityField(
        lazy("Before the turbine"), "temperature", lazy("For example 1200 K."), needed=True
    )
    inlet_pressure = QuantityField(
        lazy("Pressure before it"), "pressure", lazy("Gauge pressure."), needed=True
    )
    outlet_pressure = QuantityField(
        lazy("Pressure after it"), "pressure", lazy("Gauge pressure."), needed=True
    )
    efficiency = QuantityField(lazy("Efficiency"), "ratio", lazy("For example 70 %."), needed=True)


class BalanceForm(GaugeForm):
    """Back pressure that a turbocharger needs for its boost."""

    boost = QuantityField(
        lazy("Boost asked"), "pressure", lazy("Gauge pressure. For example 15 psi."), needed=True
    )
    air_flow = QuantityField(
        lazy("Air flow"), "mass flow", lazy("Of the engine. For example 200 g/s."), needed=True
    )
    inlet_temperature = QuantityField(
        lazy("Before the compressor"), "temperature", lazy("For example 25 degC."), needed=True
    )
    charge_temperature = QuantityField(
        lazy("After the intercooler (optional)"), "temperature", lazy("For example 50 degC.")
    )
    turbine_temperature = QuantityField(
        lazy("Before the turbine"), "temperature", lazy("For example 1150 K."), needed=True
    )
    outlet_pressure = QuantityField(
        lazy("Pressure after the turbine"), "pressure", lazy("Gauge pressure."), needed=True
    )
    fuel_to_air = DecimalField(lazy("Fuel to air, by mass"), lazy("For example 0.08."))
    compressor = QuantityField(
        lazy("Compressor efficiency"), "ratio", lazy("For example 70 %."), needed=True
    )
    turbine = QuantityField(
        lazy("Turbine efficiency"), "ratio", lazy("For example 68 %."), needed=True
    )
    mechanical = QuantityField(
        lazy("Mechanical efficiency"), "ratio", lazy("For example 95 %."), needed=True
    )
