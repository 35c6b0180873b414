"""The errors shopflow raises on purpose; each carries words a person can act on."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class ShopflowError(Exception):
    """Base of every error meant to be shown to a person."""


class NotFoundError(ShopflowError):
    """The record requested is not in the shop's records."""


class RuleError(ShopflowError):
    """The request is understood, but a rule of the shop forbids it as things stand."""


class ConflictError(ShopflowError):
    """Someone else changed the record since it was read."""


class StorageError(ShopflowError, OSError):
    """The storage of photos and files is away, or refuses; its own error is the cause."""


@dataclass(frozen=True, slots=True)
class FieldError:
    """One thing wrong with what was given: `key` names where, `message` says what to do."""

    key: str
    message: str

    def __str__(self) -> str:
        return f"{self.key}: {self.message}" if self.key else self.message


class ValidationError(ShopflowError):
    """Everything found wrong with one input, reported in one go."""

    def __init__(self, faults: Iterable[FieldError]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))
