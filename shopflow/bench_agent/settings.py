"""The file that says what stands at a bench: TOML, every fault in it told with its key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from shopflow.errors import FieldError, ShopflowError, ValidationError
from shopflow.texts import gettext
from shopflow.units import UNITS, UnitError, parse

PROTOCOLS = ("scpi", "modbus", "lines", "file")
CHANNELS = {
    "flow": ("volume flow", "ratio", "pressure"),
    "test pressure": ("pressure",),
    "barometer": ("pressure",),
    "temperature": ("temperature",),
    "humidity": ("ratio",),
    "lift": ("length",),
}
"""Channels and the dimensions that each may have."""

NUMBER = r"([+-]?[0-9]+(?:\.[0-9]*)?(?:[eE][+-]?[0-9]+)?)"
TYPES = ("float32", "int32", "uint32", "int16", "uint16")


@dataclass(frozen=True, slots=True)
class InstrumentSettings:
    """A device and how it is reached."""

    name: str
    protocol: str
    address: str
    timeout: float = 2.0
    """Seconds; longer than its slowest answer."""

    baud: int = 0
    device_id: int = 1
    word_order: str = "high first"
    mark_register: int | None = None
    mark: float = 0.0
    serial_number: str = ""
    """Must be in its answer to who it is; empty where it cannot be asked."""


@dataclass(frozen=True, slots=True)
class ChannelSettings:
    """A quantity: which number of which instrument it is, and what its readings must be like."""

    name: str
    instrument: str
    unit: str
    query: str = ""
    form: re.Pattern[str] = field(default_factory=lambda: re.compile(NUMBER))
    register: int = 0
    type: str = "float32"
    scale: float = 1.0
    offset: float = 0.0
    filter: str = "none"
    filter_of: int = 1
    least: float = float("-inf")
    most: float = float("inf")
    tolerance: float = 0.005
    is_relative: bool = True
    """True where the tolerance is a ratio of the reading, false where it is in the unit."""

    scatter: float = 0.02
    """Relative standard deviation above which a reading is doubtful."""

    stuck_after: int = 0
    """Equal numbers in a row after which the instrument counts as stuck; 0 for never."""


@dataclass(frozen=True, slots=True)
class BenchSettings:
    """All that the agent works by."""

    instruments: Mapping[str, InstrumentSettings]
    channels: Mapping[str, ChannelSettings]
    server: str = ""
    token_file: str = ""
    journal: str = "bench-journal.jsonl"
    label: str = ""
    foot_switch: str = ""
    rate: float = 10.0
    """Sweeps over all channels a second."""

    window: float = 2.0
    """Seconds that a reading must be steady over; no shorter than the slowest time constant."""

    settle: float = 0.5
    """Seconds after the lift key that are not looked at."""

    samples: int = 20
    patience: float = 60.0
    lift_tolerance: str = "0.05 mm"


def load(path: Path) -> BenchSettings:
    """The settings in a file. Raises ShopflowError, ValidationError."""
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ShopflowError(
            gettext("cannot read {path}: {error}", path=path, error=error)
        ) from None
    return read(content)


def read(content: Mapping[str, Any]) -> BenchSettings:
    """The settings in a document. Raises ValidationError."""
    faults: list[FieldError] = []
    devices, quantities = (_tables(content, name, faults) for name in ("instruments", "channels"))
    own = {
        name: value for name, value in content.items() if name not in ("instruments", "channels")
    }
    instruments = {name: _instrument(name, values, faults) for name, values in devices.items()}
    channels = {name: _channel(name, values, faults) for name, values in quantities.items()}
    values = _typed(BenchSettings, own, "", faults, {"instruments", "channels"})
    for name, channel in channels.items():
        if channel is not None and channel.instrument not in instruments:
            faults.append(FieldError(f"channels.{name}.instrument",
                                     gettext("names no instrument of this file")))  # fmt: skip
    if "flow" not in channels:
        faults.append(FieldError("channels.flow", gettext("required: enter a value")))
    for name in ("rate", "window", "samples", "patience"):
        if values.get(name, 1) <= 0:
            faults.append(FieldError(name, gettext("enter a number above 0")))
    _quantity(values.get("lift_tolerance", "1 mm"), "length", "lift_tolerance", faults)
    if faults:
        raise ValidationError(faults)
    return BenchSettings(instruments, channels, **values)  # type: ignore[arg-type]


def _tables(
    content: Mapping[str, Any], name: str, faults: list[FieldError]
) -> Mapping[str, dict[str, Any]]:
    tables = content.get(name, {})
    if isinstance(tables, dict) and all(isinstance(item, dict) for item in tables.values()):
        return tables
    faults.append(FieldError(name, gettext("must be a table")))
    return {}


def _instrument(
    name: str, content: dict[str, Any], faults: list[FieldError]
) -> InstrumentSettings | None:
    key, before = f"instruments.{name}", len(faults)
    values = _typed(InstrumentSettings, content, key, faults, {"name"})
    _choice(values, "protocol", PROTOCOLS, key, faults)
    if "word_order" in values:
        _choice(values, "word_order", ("high first", "low first"), key, faults)
    if not values.get("address"):
        faults.append(FieldError(f"{key}.address", gettext("required: enter a value")))
    if values.get("protocol") == "modbus" and values.get("mark_register") is None:
        words = gettext("required: a register whose number is known shows the order of words")
        faults.append(FieldError(f"{key}.mark_register", words))
    return InstrumentSettings(name, **values) if len(faults) == before else None


def _channel(
    name: str, content: dict[str, Any], faults: list[FieldError]
) -> ChannelSettings | None:
    key, before = f"channels.{name}", len(faults)
    content = dict(content)
    special = {word: content.pop(word) for word in ("form", "filter", "tolerance", "scatter")
               if word in content}  # fmt: skip
    skipped = {"name", "filter_of", "is_relative", *special}
    values = _typed(ChannelSettings, content, key, faults, skipped)
    if name not in CHANNELS:
        faults.append(FieldError(key, gettext("must be one of {choices}",
                                              choices=", ".join(CHANNELS))))  # fmt: skip
    for needed in ("instrument", "unit"):
        if not values.get(needed):
            faults.append(FieldError(f"{key}.{needed}", gettext("required: enter a value")))
    unit = UNITS.get(values.get("unit", ""))
    if values.get("unit") and (unit is None or unit.dimension not in CHANNELS.get(name, ())):
        faults.append(FieldError(f"{key}.unit", gettext("is no unit of this channel")))
    _choice(values, "type", TYPES, key, faults, needed=False)
    readers: dict[str, Callable[[Any], dict[str, Any]]] = {
        "form": _form, "filter": _filter, "tolerance": _tolerance,
        "scatter": lambda value: {"scatter": parse(str(value), "ratio").si},
    }  # fmt: skip
    for word, value in special.items():
        try:
            values |= readers[word](value)
        except ValueError as error:
            faults.append(FieldError(f"{key}.{word}", str(error)))
    return ChannelSettings(name, **values) if len(faults) == before else None


def _form(value: Any) -> dict[str, Any]:
    try:
        form = re.compile(str(value), re.ASCII)
    except re.error as error:
        raise ValueError(gettext("is no pattern: {error}", error=error)) from None
    if form.groups != 1:
        raise ValueError(gettext("needs one pair of brackets, around the number"))
    return {"form": form}


def _filter(value: Any) -> dict[str, Any]:
    kind, _, count = str(value).partition(" ")
    if kind not in ("median", "mean") or not count.isdecimal() or not 1 <= int(count[:4]) <= 99:
        raise ValueError(gettext("enter it like 'median 5' or 'mean 4'"))
    return {"filter": kind, "filter_of": int(count)}


def _tolerance(value: Any) -> dict[str, Any]:
    if isinstance(value, str):
        return {"tolerance": parse(value, "ratio").si, "is_relative": True}
    if isinstance(value, bool) or not isinstance(value, int | float) or not value > 0:
        raise ValueError(gettext("enter a ratio as '0.5 %', or a number in the channel's unit"))
    return {"tolerance": float(value), "is_relative": False}


def _typed(
    kind: type, content: Mapping[str, Any], key: str, faults: list[FieldError], skipped: set[str]
) -> dict[str, Any]:
    """The values that a dataclass has fields for, each of the type of its default."""
    types = {item.name: str(item.type) for item in fields(kind) if item.name not in skipped}
    values: dict[str, Any] = {}
    for name, value in content.items():
        at = f"{key}.{name}" if key else name
        wanted = types.get(name)
        if wanted is None:
            faults.append(FieldError(at, gettext("this field does not exist: remove it")))
        elif wanted == "str" and isinstance(value, str):
            values[name] = value
        elif wanted == "float" and type(value) in (int, float):
            values[name] = float(value)
        elif wanted.startswith("int") and type(value) is int and value >= 0:
            values[name] = value
        else:
            faults.append(FieldError(at, gettext("must be {kind}", kind=_WORDS[wanted])))
    return values


_WORDS = {"str": "text", "float": "a number", "int": "a whole number",
          "int | None": "a whole number"}  # fmt: skip


def _choice(
    values: dict[str, Any], name: str, choices: tuple[str, ...], key: str,
    faults: list[FieldError], *, needed: bool = True,
) -> None:  # fmt: skip
    if (name in values or needed) and values.get(name) not in choices:
        words = gettext("must be one of {choices}", choices=", ".join(choices))
        faults.append(FieldError(f"{key}.{name}", words))


def _quantity(text: Any, dimension: str, key: str, faults: list[FieldError]) -> None:
    try:
        parse(str(text), dimension)
    except UnitError as error:
        faults.append(FieldError(key, str(error)))
