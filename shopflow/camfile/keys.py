"""The keys of the cam file: one row each, read by the checker and the writer alike."""

from __future__ import annotations

from shopflow.testfile.keys import LENGTHS, Key

TEXTS = tuple(Key("", name, name, "text") for name in ("title", "notes"))
ENGINE = (
    Key("engine", "bore", "bore", "length", True, bound="positive"),
    Key("engine", "stroke", "stroke", "length", True, bound="positive"),
    Key("engine", "rod_length", "rod_length", "length", bound="positive"),
    Key("engine", "speed", "speed", "speed of rotation", True, bound="positive"),
    Key("engine", "compression_ratio", "compression_ratio", "number"),
    Key("engine", "intake_pressure", "intake_pressure", "pressure", bound="positive"),
    Key("engine", "exhaust_pressure", "exhaust_pressure", "pressure", bound="positive"),
    Key("engine", "intake_temperature", "intake_temperature", "temperature", bound="positive"),
)
SIDES = ("intake", "exhaust")
"""Tables of a lobe each; the exhaust's may be absent."""

ARRAYS = ("angle", "lobe_lift", "lift_unit")
"""A measured lobe."""

STAND_IN = ("duration", "max_lobe_lift")
"""The other way to give a lobe: by its law."""

TOP_LEVEL = ("schema", *(key.name for key in TEXTS), "engine", *SIDES)
LIFT_UNITS = LENGTHS


def of_lobe(side: str) -> tuple[Key, ...]:
    """The keys of a side's table but its arrays."""
    return (
        Key(side, "centreline", "centreline", "angle", True),
        Key(side, "duration", "duration", "angle", bound="positive"),
        Key(side, "max_lobe_lift", "max_lobe_lift", "length", bound="positive"),
        Key(side, "rocker_ratio", "rocker_ratio", "number", default="1"),
        Key(side, "lash", "lash", "length", default="0 mm", bound="not negative"),
    )
