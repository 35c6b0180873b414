"""Checking of a file of open data against its schema, every fault with its path in the file."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any

from shopflow.errors import FieldError, ValidationError
from shopflow.services.open_data.schema import FORMAT, SCHEMA, Schema
from shopflow.texts import gettext

MOST_FAULTS = 200
"""Faults that are told; a file that is no open data may have as many as it has values."""

WHOLE_FILE = "file"
_TYPES: dict[str, Any] = {"object": dict, "array": list, "string": str, "integer": int}


def read(content: bytes) -> dict[str, Any]:
    """The contents of a file of open data. Raises ValidationError, each fault by its path."""
    try:
        parsed = json.loads(content.decode("utf-8-sig"), parse_constant=_refuse)
    except (ValueError, RecursionError) as error:
        message = gettext("this is not JSON: {error}", error=error)
        raise ValidationError([FieldError(WHOLE_FILE, message)]) from None
    if not isinstance(parsed, dict) or parsed.get("format") != FORMAT:
        message = gettext("this is not a file of open data: choose one that shopflow exported")
        raise ValidationError([FieldError(WHOLE_FILE, message)])
    faults = []
    for fault in _faults(SCHEMA, parsed, ""):
        faults.append(fault)
        if len(faults) == MOST_FAULTS:
            break
    if faults:
        raise ValidationError(faults)
    return parsed


def _refuse(constant: str) -> Any:
    raise ValueError(constant)


def _faults(schema: Schema, value: Any, path: str) -> Iterator[FieldError]:
    """Faults of a value by its part of the schema, and of all that it holds."""
    message = _fault(schema, value)
    if message:
        yield FieldError(path or WHOLE_FILE, message)
    elif isinstance(value, dict):
        yield from _of_object(schema, value, path)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _faults(schema["items"], item, f"{path}[{index}]")


def _of_object(schema: Schema, value: dict[str, Any], path: str) -> Iterator[FieldError]:
    parts, prefix = schema["properties"], f"{path}." if path else ""
    for name in schema["required"]:
        if name not in value:
            yield FieldError(f"{prefix}{name}", gettext("missing: add it"))
    for name, item in value.items():
        if name in parts:
            yield from _faults(parts[name], item, f"{prefix}{name}")
        else:
            yield FieldError(f"{prefix}{name[:60]}", gettext("not part of open data: remove it"))


def _fault(schema: Schema, value: Any) -> str:
    """The fault of a value itself; empty where it has none."""
    if "const" in schema:
        return "" if value == schema["const"] else gettext("not known here")
    if "enum" in schema:
        return "" if value in schema["enum"] else _one_of(schema["enum"])
    kind = schema["type"]
    if kind == "number":
        return _of_number(schema, value, int | float)
    if kind == "integer":
        return _of_number(schema, value, int)
    if not isinstance(value, _TYPES[kind]):
        words = {
            "object": gettext("enter an object"),
            "array": gettext("enter a list"),
            "string": gettext("enter a text"),
        }
        return words[kind]
    return _of_text(schema, value) if kind == "string" else _of_length(schema, value)


def _one_of(choices: list[Any]) -> str:
    return gettext("enter one of: {choices}", choices=", ".join(map(str, choices)))


def _of_number(schema: Schema, value: Any, kind: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, kind) or not _is_finite(value):
        return gettext("enter a whole number") if kind is int else gettext("enter a number")
    if "exclusiveMinimum" in schema and value <= schema["exclusiveMinimum"]:
        return gettext("enter a number above {least}", least=schema["exclusiveMinimum"])
    if value < schema.get("minimum", value):
        return gettext("enter a number from {least}", least=schema["minimum"])
    if value > schema.get("maximum", value):
        return gettext("enter a number up to {most}", most=schema["maximum"])
    return ""


def _is_finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _of_text(schema: Schema, value: str) -> str:
    if "pattern" in schema and not re.fullmatch(schema["pattern"], value):
        return gettext("not of the form that the schema asks for")
    if len(value) > schema.get("maxLength", len(value)) or "\x00" in value:
        return gettext("enter a shorter text, without control characters")
    return ""


def _of_length(schema: Schema, value: Any) -> str:
    if not isinstance(value, list):
        return ""
    if len(value) < schema["minItems"]:
        return gettext("enter at least {least}", least=schema["minItems"])
    if len(value) > schema["maxItems"]:
        return gettext("enter at most {most}", most=schema["maxItems"])
    return ""
