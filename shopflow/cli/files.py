"""Files that a command is given: reading several, and naming where a doubt lies."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from shopflow import sentences
from shopflow.calc.sanity import Doubt
from shopflow.errors import FieldError, ValidationError
from shopflow.testfile import SessionDocument


def read_all(*files: tuple[Path, Callable[[Path], Any]]) -> list[Any]:
    """The documents in these files, each by its reader, or the faults of all by file and key."""
    documents, faults = [], []
    for path, read in files:
        try:
            documents.append(read(path))
        except ValidationError as error:
            # A fault of the whole file names it already.
            faults += [
                fault if fault.key == str(path) else FieldError(str(path), str(fault))
                for fault in error.faults
            ]
    if faults:
        raise ValidationError(faults)
    return documents


def at_lifts(document: SessionDocument, doubts: Iterable[Doubt]) -> list[str]:
    """Warnings about a session, each naming its lift as typed."""
    return sentences.at_lifts(document.lifts, document.lift_unit, doubts)
