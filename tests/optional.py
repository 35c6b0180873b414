"""Optional values that a test needs."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def present(value: T | None) -> T:
    """The value; the test fails where it is None."""
    assert value is not None, "the value is None"
    return value
