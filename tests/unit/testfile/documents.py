"""Whole session files, drawn at random within what can be."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

WORDS = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=25
) | st.sampled_from(
    ['"quoted"', "'''", '"""\n', "two\nlines\r\n", "back\\slash", "\ttab", "气缸 №3"]
)


@st.composite
def moments(draw: st.DrawFn) -> datetime:
    """Date-times as TOML has them: local, or with an offset in minutes."""
    naive = draw(st.datetimes(datetime(1900, 1, 1), datetime(2900, 1, 1)))  # noqa: DTZ001
    if draw(st.booleans()):
        return naive
    return naive.replace(tzinfo=timezone(timedelta(minutes=draw(st.integers(-720, 840)))))


@st.composite
def number(draw: st.DrawFn, low: str, high: str) -> Decimal:
    """A number with as many digits as were typed, trailing zeros among them."""
    return draw(st.decimals(low, high, places=draw(st.integers(0, 5)), allow_nan=False))


@st.composite
def quantity(draw: st.DrawFn, low: str, high: str, unit: str) -> str:
    """A number and a unit, with or without the space between."""
    return f"{draw(number(low, high))}{draw(st.sampled_from([' ', '  ', '']))}{unit}"


@st.composite
def contents(draw: st.DrawFn) -> dict[str, Any]:
    """A session file's content, everything optional in it or not as it comes."""
    percent = draw(st.booleans())
    count = draw(st.integers(1, 8))
    lifts = [draw(number("0", "0")) + place for place in range(1, count + 1)]
    content: dict[str, Any] = {
        "schema": 1,
        "side": draw(st.sampled_from(["intake", "exhaust"])),
        "air": {
            "barometer": draw(quantity("85", "105", "kPa") | quantity("26", "31", "inHg")),
            "temperature": draw(quantity("5", "40", "degC") | quantity("60", "90", "degF")),
        },
        "valve": {"head_diameter": draw(quantity("30", "50", "mm"))},
        "bench": {"test_pressure": draw(quantity("5", "40", "inH2O"))},
        "readings": {
            "lift_unit": "mm",
            "flow_unit": "%" if percent else draw(st.sampled_from(["cfm", "L/s", "m3/h"])),
            "lift": lifts,
            "flow": [draw(st.lists(number("2", "100"), min_size=1, max_size=4)) for _ in lifts],
        },
    }
    names = ("title", "stage", "engine_type", "head", "cylinder", "operator", "notes")
    content |= {name: draw(WORDS) for name in names if draw(st.booleans())}
    if draw(st.booleans()):
        content["measured_at"] = draw(moments())
    if draw(st.booleans()):
        content["air"]["humidity"] = draw(quantity("0", "100", "%"))
    if draw(st.booleans()):
        content["air"]["altitude"] = draw(quantity("-100", "3000", "m"))
    if draw(st.booleans()):
        content["valve"] |= {
            "count": draw(st.integers(1, 5)),
            "stem_diameter": draw(quantity("5", "9", "mm")),
            "seat_angle": draw(quantity("20", "60", "deg")),
            "seat_width": draw(quantity("0.5", "3", "mm")),
            "throat_diameter": draw(quantity("20", "29", "mm")),
        }
    if draw(st.booleans()):
        content["port"] = {"area": draw(quantity("1", "3", "in2"))}
    if percent:
        content["bench"] |= {"reading": "percent of range", "range": draw(
            quantity("50", "600", "cfm"))}  # fmt: skip
    if draw(st.booleans()):
        content["bench"] |= {
            "name": draw(WORDS),
            "calibration_id": draw(WORDS),
            "reference_pressure": draw(quantity("5", "40", "inH2O")),
            "calibration_factor": draw(number("0.9", "1.1")),
            "leakage": draw(quantity("0", "1", "%") if percent else quantity("0", "0.4", "cfm")),
        }
    if draw(st.booleans()):
        content["bench"] |= draw(points(percent)) | {"calibration_factor": Decimal("1.00")}
    if draw(st.booleans()):
        content["uncertainty"] = {
            "calibration": draw(quantity("0", "3", "%")),
            "repeatability": draw(quantity("0", "1", "%")),
            "pressure": draw(quantity("0", "1", "%")),
            "lift": draw(quantity("0", "0.1", "mm")),
        }
    if draw(st.booleans()):
        unit = "%" if percent else content["readings"]["flow_unit"]
        content.setdefault("uncertainty", {}).update(
            resolution=draw(quantity("0", "1", unit)),
            leakage=draw(quantity("0", "0.5", "L/s")),
            density=draw(quantity("0", "2", "%")),
        )
        content["bench"] |= {"gauge_id": draw(WORDS)}
    if draw(st.booleans()):
        content.setdefault("uncertainty", {})["head_diameter"] = draw(quantity("0", "0.1", "mm"))
        if "stem_diameter" in content["valve"]:
            content["uncertainty"] |= {
                "stem_diameter": draw(quantity("0", "0.1", "mm")),
                "seat_angle": draw(quantity("0", "2", "deg")),
                "seat_width": draw(quantity("0", "0.2", "mm")),
                "throat_diameter": draw(quantity("0", "0.3", "mm")),
            }
        if "port" in content:
            content["uncertainty"]["port_area"] = draw(quantity("0", "0.1", "in2"))
    if draw(st.booleans()):
        content["bench"] |= {
            "meter": "restriction",
            "scale_density": draw(quantity("0.9", "1.3", "kg/m3")),
        }
    content["excluded"] = draw(excluded_of(content["readings"]))
    return content


@st.composite
def points(draw: st.DrawFn, percent: bool) -> dict[str, Any]:
    """A calibration by points of a bench that reads a little off."""
    count = draw(st.integers(5, 8))
    steps = [draw(number("8", "12")) for _ in range(count)]
    readings = [sum(steps[: place + 1], Decimal(0)) for place in range(count)]
    values: dict[str, Any] = {
        "calibration_readings": readings,
        "calibration_reading_unit": "%" if percent else draw(st.sampled_from(["cfm", "L/s"])),
        "calibration_flows": [reading * draw(number("0.99", "1.01")) for reading in readings],
        "calibration_flow_unit": draw(st.sampled_from(["cfm", "m3/h"])),
        "calibration_uncertainties": [draw(number("0.5", "3")) for _ in readings],
    }
    # A curve of a higher degree through points at random need not rise.
    return values | ({"calibration_model": "line"} if draw(st.booleans()) else {})


@st.composite
def excluded_of(draw: st.DrawFn, readings: dict[str, Any]) -> list[dict[str, Any]]:
    """Runs left out at some of the lifts, each at a place of its own among the runs taken."""
    rows = []
    for lift, runs in zip(readings["lift"], readings["flow"], strict=True):
        left_out = draw(st.integers(0, 2))
        places = draw(st.permutations(range(1, len(runs) + left_out + 1)))[:left_out]
        rows += [
            {
                "lift": lift,
                "run": place,
                "flow": draw(number("0", "100")),
                "reason": "x" + draw(WORDS),
            }
            for place in places
        ]
    return rows
