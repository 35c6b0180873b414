"""JSON and JSON Schema (draft 2020-12) of the shapes."""

from __future__ import annotations

import dataclasses
import types
from datetime import date, datetime
from decimal import Decimal
from enum import Enum, StrEnum
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

Schema = dict[str, Any]
_PLAIN: dict[Any, Schema] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    float: {"type": "number"},
    bool: {"type": "boolean"},
    datetime: {"type": "string", "format": "date-time"},
    date: {"type": "string", "format": "date"},
    Decimal: {"type": "string", "pattern": r"^-?\d+\.\d{2}$"},
}


class Described(dict[str, Any]):
    """An object of JSON whose schema is made when it is asked for."""

    @classmethod
    def schema(cls) -> Schema:
        """The JSON Schema of it."""
        raise NotImplementedError


def of(kind: Any, schemas: dict[str, Schema]) -> Schema:
    """Schema of a type; those of shapes go to `known` by name and are referred to."""
    if kind in _PLAIN:
        return dict(_PLAIN[kind])
    if get_origin(kind) is Annotated:
        base, unit = get_args(kind)
        return {**of(base, schemas), "description": f"In {unit}.", "x-unit": unit}
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _shape(kind, schemas)
    if isinstance(kind, type) and issubclass(kind, Described):
        schemas[kind.__name__] = kind.schema()
        return _named(kind.__name__)
    if get_origin(kind) is list:
        return {"type": "array", "items": of(get_args(kind)[0], schemas)}
    if get_origin(kind) in (Union, types.UnionType):
        return {"anyOf": [_or_null(part, schemas) for part in get_args(kind)]}
    if isinstance(kind, type) and issubclass(kind, StrEnum):
        return {"type": "string", "enum": [member.value for member in kind]}
    raise TypeError(f"no schema for {kind}")


def _or_null(kind: Any, schemas: dict[str, Schema]) -> Schema:
    return {"type": "null"} if kind is type(None) else of(kind, schemas)


def _shape(kind: type, schemas: dict[str, Schema]) -> Schema:
    name = kind.__name__
    if name not in schemas:
        schemas[name] = {}
        hints = get_type_hints(kind, include_extras=True)
        schemas[name] = {
            "type": "object",
            "description": " ".join((kind.__doc__ or "").split()),
            "properties": {field: of(hint, schemas) for field, hint in hints.items()},
            "required": [field.name for field in dataclasses.fields(kind) if is_needed(field)],
            "additionalProperties": False,
        }
    return _named(name)


def is_needed(field: dataclasses.Field[Any]) -> bool:
    """True where a field has no default: those of answers never have one."""
    return field.default is field.default_factory is dataclasses.MISSING


def _named(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def page_of(kind: type, schemas: dict[str, Schema]) -> Schema:
    """Schema of a page of shapes."""
    return {
        "type": "object",
        "properties": {
            "items": {"type": "array", "items": of(kind, schemas)},
            "next": {
                "anyOf": [{"type": "string", "format": "uri-reference"}, {"type": "null"}],
                "description": "Address of the next page; null on the last.",
            },
        },
        "required": ["items", "next"],
        "additionalProperties": False,
    }


def plain(value: Any) -> Any:
    """A shape as JSON holds it."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)
        }
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, datetime | date):
        return value.isoformat()
    return f"{value:.2f}" if isinstance(value, Decimal) else value
