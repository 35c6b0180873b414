"""TOML as text: reading it with every digit as typed, and writing it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, TypeVar

from shopflow.errors import FieldError, ValidationError
from shopflow.texts import gettext

LARGEST_FILE = 500_000
"""Bytes; a session of forty lifts takes two thousand, a cam by the degree ten thousand."""

Document = TypeVar("Document")

_PART = r"""(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.){0,200}+"|'[^'\n]{0,200}+')"""
_LONG_KEY = re.compile(rf"(?<![A-Za-z0-9_-]){_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{32}}")
"""A key of very many dotted parts: tomllib's time and memory grow with their square."""


def read(path: Path, loads: Callable[[bytes], Document]) -> Document:
    """The document that `loads` finds in a file.

    Raises ValidationError, also where the file cannot be read.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise ValidationError(
            [FieldError(str(path), gettext("cannot be read: {strerror}", strerror=error.strerror))]
        ) from None
    try:
        return loads(content)
    except ValidationError as error:
        raise ValidationError(
            FieldError(f.key or str(path), f.message) for f in error.faults
        ) from None


def loads(content: str | bytes, check: Callable[[Mapping[str, Any]], Document]) -> Document:
    """The document that `check` makes of a file's tables; numbers with a point are Decimal.

    Raises ValidationError; a fault that concerns the whole text has no key.
    """
    try:
        return check(tomllib.loads(_text(content), parse_float=_typed))
    except RecursionError:
        raise _unreadable(gettext("this is nested too deeply")) from None
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(gettext("this is not TOML: {error}", error=error)) from None
    except ValueError:
        raise _unreadable(gettext("a number in it has too many digits")) from None


def _text(content: str | bytes) -> str:
    """The text, where it is fit to be parsed. Raises ValidationError."""
    if len(content) > LARGEST_FILE:
        raise _unreadable(gettext("this is too large a file"))
    try:
        # Some editors put a byte order mark in front.
        text = content.decode("utf-8-sig") if isinstance(content, bytes) else content
    except UnicodeDecodeError:
        raise _unreadable(gettext("this is not text in UTF-8")) from None
    if _LONG_KEY.search(text):
        raise _unreadable(gettext("a key in it has too many parts"))
    return text


def _typed(text: str) -> Decimal:
    """A number as typed; one beyond all bounds counts as infinite, and is refused at its key."""
    try:
        return Decimal(text)
    except InvalidOperation:
        return Decimal("Infinity")


def _unreadable(message: str) -> ValidationError:
    return ValidationError([FieldError("", message)])


def row(numbers: Iterable[Decimal]) -> str:
    """Numbers as an array on one line."""
    return f"[{', '.join(map(_number, numbers))}]"


def _number(typed: Decimal) -> str:
    """Its digits as typed; without an exponent, where Python alone would write one."""
    exponent = typed.as_tuple().exponent
    plain = isinstance(exponent, int) and -30 < exponent <= 0
    return format(typed, "f") if plain else str(typed)


def value(item: Any) -> str:
    """One value as the file has it."""
    if isinstance(item, Decimal):
        return _number(item)
    if isinstance(item, int):
        return str(item)
    if isinstance(item, tuple):
        return row(item)
    # Only a shop that writes files needs the writer: reading stays quick to start.
    import tomli_w

    plain = item if hasattr(item, "isoformat") else str(item)
    return tomli_w.dumps({"x": plain}).removeprefix("x = ").rstrip("\n")
