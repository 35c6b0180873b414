"""Flow through an effective area at one pressure and in one air, so that areas read as flow."""

from __future__ import annotations

from shopflow.calc.array_types import Array
from shopflow.calc.flowtest import Side
from shopflow.calc.gas import ideal_mass_flux

STANDARD_PRESSURE = 101_325.0
"""Of the air that flows are restated in, Pa."""

STANDARD_DENSITY = 1.204
"""Of that air, kg/m3: dry air at 20 °C."""


def standard_flow(area: Array, side: Side, pressure: float) -> Array:
    """Volume flow that an effective area passes at a pressure difference, in the standard air.

    Parameters
    ----------
    area : effective area, m2
    side : the direction: from the room (intake) or into it
    pressure : difference across the head, Pa

    Returns
    -------
    m3/s at the standard density; percentages of it are those of the area

    Examples
    --------
    1000 mm2 at 28 inH2O, isentropic, intake: 219.5 cfm (by
    CoolProp's real-gas isentrope 219.5 too).

    >>> cfm = 0.3048**3 / 60
    >>> round(float(standard_flow(1e-3, "intake", 6974.489)) / cfm, 1)
    219.5
    """
    upstream = STANDARD_PRESSURE + (pressure if side == "exhaust" else 0.0)
    density = STANDARD_DENSITY * upstream / STANDARD_PRESSURE
    return area * ideal_mass_flux(upstream, density, upstream - pressure) / STANDARD_DENSITY
