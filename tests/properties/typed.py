"""Sessions as a shop types them, in US customary units and the same in SI."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

# Exact factors: international inch and foot; conventional inches of water and mercury.
TO_SI = {
    "in": ("mm", Decimal("25.4")),
    "in2": ("cm2", Decimal("6.4516")),
    "inH2O": ("Pa", Decimal("249.08891")),
    "inHg": ("Pa", Decimal("3386.389")),
    "cfm": ("m3/s", Decimal("0.000471947443200")),
}


def converted(text: str) -> str:
    number, unit = text.split()
    if unit == "degF":
        return f"{(Decimal(number) - 32) * 5 / 9} degC"
    symbol, factor = TO_SI[unit]
    return f"{Decimal(number) * factor} {symbol}"


@st.composite
def american(draw: st.DrawFn) -> dict[str, Any]:
    """A session as a shop in the United States types it."""

    def typed(low: str, high: str, places: int) -> Decimal:
        return draw(st.decimals(low, high, places=places, allow_nan=False))

    count = draw(st.integers(1, 12))
    lifts = [Decimal("0.050") * (place + 1) for place in range(count)]
    return {
        "schema": 1,
        "side": draw(st.sampled_from(["intake", "exhaust"])),
        "air": {
            "barometer": f"{typed('26', '31', 2)} inHg",
            # Whole multiples of 9 degrees are exact in Celsius.
            "temperature": f"{32 + 9 * draw(st.integers(3, 5))} degF",
            "humidity": f"{draw(st.integers(0, 100))} %",
        },
        "valve": {
            "head_diameter": f"{typed('1.5', '2.2', 3)} in",
            "stem_diameter": "0.311 in",
            "seat_angle": f"{draw(st.sampled_from(['30', '39', '45']))} deg",
            "seat_width": f"{typed('0.040', '0.080', 3)} in",
            "throat_diameter": f"{typed('1.2', '1.45', 3)} in",
        },
        "port": {"area": f"{typed('1.2', '2.4', 3)} in2"},
        "bench": {
            "test_pressure": f"{typed('8', '30', 2)} inH2O",
            "leakage": f"{typed('0', '1', 1)} cfm",
            "calibration_factor": typed("0.95", "1.05", 3),
        },
        "uncertainty": {"calibration": "1.2 %", "pressure": "0.4 %", "lift": "0.001 in"},
        "readings": {
            "lift_unit": "in",
            "flow_unit": "cfm",
            "lift": lifts,
            "flow": [
                [typed("20", "300", 1) for _ in range(draw(st.integers(1, 3)))] for _ in lifts
            ],
        },
    }


def in_si(content: dict[str, Any]) -> dict[str, Any]:
    """The same session typed in SI."""
    readings = content["readings"]
    tables = {
        name: {
            key: converted(value)
            if isinstance(value, str) and value.split()[1] in {*TO_SI, "degF"}
            else value
            for key, value in content[name].items()
        }
        for name in ("air", "valve", "port", "bench", "uncertainty")
    }
    return content | tables | {
        "readings": {
            "lift_unit": "mm",
            "flow_unit": "m3/s",
            "lift": [lift * TO_SI["in"][1] for lift in readings["lift"]],
            "flow": [[run * TO_SI["cfm"][1] for run in runs] for runs in readings["flow"]],
        }
    }  # fmt: skip
