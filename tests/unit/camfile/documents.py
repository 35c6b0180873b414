"""Whole cam files, drawn at random within what can be."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from tests.unit.testfile.documents import WORDS, number, quantity

CAM = """
schema = 1
title = "Fast road"
[engine]
bore = "86.4 mm"
stroke = "3.40 in"
rod_length = "144 mm"
speed = "6500 rpm"
compression_ratio = 10.50
intake_pressure = "100 kPa"
exhaust_pressure = "29.92 inHg"
intake_temperature = "25 degC"
[intake]
centreline = "108 deg"
duration = "280 deg"
max_lobe_lift = "9.00 mm"
[exhaust]
centreline = "112.50 deg"
lift_unit = "in"
angle = [-120, -100, -80, -60, -40, -20, 0, 20, 40, 60, 80, 100, 120]
lobe_lift = [0, 0.010, 0.070, 0.15, 0.22, 0.26, 0.28, 0.26, 0.22, 0.15, 0.07, 0.01, 0.0]
rocker_ratio = 1.50
lash = "0.010 in"
"""
"""A stand-in on the intake, a measured lobe on the exhaust."""


@st.composite
def lobes(draw: st.DrawFn) -> dict[str, Any]:
    """A side's table: measured, or the stand-in."""
    lobe: dict[str, Any] = {"centreline": draw(quantity("60", "140", "deg"))}
    if draw(st.booleans()):
        lobe["rocker_ratio"] = draw(number("1.0", "2.0"))
        lobe["lash"] = draw(quantity("0", "0.4", "mm"))
    if draw(st.booleans()):
        lobe["duration"] = draw(quantity("150", "340", "deg"))
        lobe["max_lobe_lift"] = draw(quantity("3", "12", "mm"))
        return lobe
    count = draw(st.integers(1, 12))
    step = draw(number("5", "12"))
    inside = [draw(number("3", "12")) for _ in range(count)]
    places = range(-(count + 1), count + 2)
    return lobe | {
        "lift_unit": "mm",
        "angle": [step * place for place in places],
        "lobe_lift": [Decimal(0), *inside, Decimal(13), *reversed(inside), Decimal(0)],
    }


@st.composite
def contents(draw: st.DrawFn) -> dict[str, Any]:
    """A cam file's content, everything optional in it or not as it comes."""
    engine: dict[str, Any] = {
        "bore": draw(quantity("60", "110", "mm") | quantity("2.5", "4.5", "in")),
        "stroke": draw(quantity("50", "110", "mm")),
        "speed": draw(quantity("1000", "12000", "rpm")),
    }
    content: dict[str, Any] = {"schema": 1, "engine": engine, "intake": draw(lobes())}
    if draw(st.booleans()):
        content |= {"title": draw(WORDS), "notes": draw(WORDS)}
        engine["compression_ratio"] = draw(number("7", "15"))
        engine["intake_temperature"] = draw(quantity("0", "60", "degC"))
    if draw(st.booleans()):
        content["exhaust"] = draw(lobes())
    return content
