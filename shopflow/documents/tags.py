"""Labels of heads."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Tag:
    """Contents of one label."""

    tag: str
    job: str
    customer: str
    engine_type: str
    casting: str
    promised: str
    url: str = ""


@dataclass(frozen=True)
class TagSheet:
    """The labels to print, on what, from which place on a sheet counted from 1."""

    shop: str
    tags: tuple[Tag, ...]
    label: str
    printed_at: datetime
    start: int = 1


@dataclass(frozen=True)
class BinLabel:
    """Contents of the label of a bin."""

    bin: str
    number: str
    """Of the part."""

    name: str
    url: str = ""


@dataclass(frozen=True)
class BinLabelSheet:
    """The labels of bins to print, as those of heads."""

    shop: str
    labels: tuple[BinLabel, ...]
    label: str
    printed_at: datetime
    start: int = 1
