"""Bodies of requests: JSON read into a frozen dataclass, every fault of it told at its field."""

from __future__ import annotations

import dataclasses
import json
import math
import types
from datetime import UTC, datetime
from enum import StrEnum
from typing import Annotated, Any, NoReturn, Union, get_args, get_origin, get_type_hints

from werkzeug.exceptions import BadRequest

from shopflow.errors import FieldError, ValidationError
from shopflow.texts import gettext
from shopflow.web.api import schema

MOST_ITEMS = 2_000
LONGEST_TEXT = 100_000


def parse(data: bytes) -> dict[str, Any]:
    """The JSON object in a body. Raises BadRequest."""
    try:
        content = json.loads(data, parse_constant=_refuse)
    except (ValueError, RecursionError):
        raise BadRequest(gettext("The body cannot be read as JSON (RFC 8259).")) from None
    if not isinstance(content, dict):
        raise BadRequest(gettext("The body must be a JSON object."))
    return content


def read(shape: type, content: dict[str, Any]) -> Any:
    """The body as its shape. Raises ValidationError naming every field that cannot be."""
    faults: list[FieldError] = []
    value = _shape(shape, content, "", faults)
    if faults:
        raise ValidationError(faults)
    return value


def _refuse(name: str) -> NoReturn:
    raise ValueError(name)


def _shape(shape: type, content: Any, path: str, faults: list[FieldError]) -> Any:
    if not isinstance(content, dict):
        faults.append(FieldError(path or "body", gettext("must be an object")))
        return None
    hints = get_type_hints(shape, include_extras=True)
    before = len(faults)
    prefix = f"{path}." if path else ""
    for name in content.keys() - hints.keys():
        faults.append(FieldError(f"{prefix}{name}"[:200], gettext("this field does not exist")))
    values: dict[str, Any] = {}
    for field in dataclasses.fields(shape):
        if field.name in content:
            at = f"{prefix}{field.name}"
            values[field.name] = _value(hints[field.name], content[field.name], at, faults)
        elif schema.is_needed(field):
            faults.append(FieldError(f"{prefix}{field.name}", gettext("required: enter a value")))
    return shape(**values) if len(faults) == before else None


def _value(kind: Any, value: Any, path: str, faults: list[FieldError]) -> Any:
    if get_origin(kind) is Annotated:
        kind = get_args(kind)[0]
    if get_origin(kind) in (Union, types.UnionType):
        if value is None and types.NoneType in get_args(kind):
            return None
        kind = next(part for part in get_args(kind) if part is not types.NoneType)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _shape(kind, value, path, faults)
    if get_origin(kind) is list:
        return _list(get_args(kind)[0], value, path, faults)
    try:
        return _plain(kind, value)
    except ValueError as error:
        faults.append(FieldError(path, str(error)))
        return None


def _list(kind: Any, value: Any, path: str, faults: list[FieldError]) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST_ITEMS:
        words = gettext("must be a list of at most {most} items", most=MOST_ITEMS)
        faults.append(FieldError(path, words))
        return []
    return [
        _value(kind, item, f"{path}[{place}]", faults) for place, item in enumerate(value, start=1)
    ]


def _plain(kind: Any, value: Any) -> Any:
    if kind is float and type(value) in (int, float):
        return _number(value)
    if kind is int and type(value) is int and 0 <= value < 2**31:
        return value
    if kind is bool and type(value) is bool:
        return value
    if isinstance(value, str):
        return _text(kind, value)
    raise ValueError(gettext("must be {kind}", kind=_NAMES.get(kind, "a string")))


_NAMES = {
    float: "a number", int: "a whole number from 0", bool: "true or false",
}  # fmt: skip


def _number(value: float) -> float:
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        raise ValueError(gettext("is too large"))
    return number


def _text(kind: Any, value: str) -> Any:
    if len(value) > LONGEST_TEXT:
        raise ValueError(gettext("is too long"))
    if "\x00" in value or value.encode("utf-8", "replace").decode() != value:
        raise ValueError(gettext("contains a character that cannot be stored: remove it"))
    if kind is datetime:
        return _moment(value)
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        if value not in [*kind]:
            raise ValueError(gettext("must be one of {choices}", choices=", ".join(kind)))
        return kind(value)
    if kind is str:
        return value
    raise ValueError(gettext("must be {kind}", kind=_NAMES[kind]))


def _moment(value: str) -> datetime:
    try:
        moment = datetime.fromisoformat(value)
        if moment.tzinfo is not None:
            return moment.astimezone(UTC)
    except (ValueError, OverflowError):
        pass
    raise ValueError(gettext("must be a moment with its zone (RFC 3339)"))
