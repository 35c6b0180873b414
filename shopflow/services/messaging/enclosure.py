"""A document to send by e-mail."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shopflow.models import Job


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A paper to send: the job it is of, what to call it, and the source of its PDF."""

    job: Job
    title: str
    file_name: str
    pdf: Callable[[], bytes]
