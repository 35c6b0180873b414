"""Readings of instruments beside the form of a flow test, and on the page of a saved one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flask.typing import ResponseReturnValue

from shopflow.errors import RuleError
from shopflow.models import BenchSession, Capture, Visit
from shopflow.services.bench import captures
from shopflow.services.bench.captures import FLOW, ChannelReading
from shopflow.texts import gettext
from shopflow.units import pretty, pretty_text
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.db import db


@dataclass(frozen=True)
class ReadingWords:
    """A reading of instruments in words."""

    lift: str
    flow: str
    scatter: str
    count: int
    instrument: str
    doubts: Sequence[str]
    others: str
    """The other channels, as "test pressure 28.02 inH2O"."""

    @property
    def words(self) -> str:
        """As one line."""
        taken = gettext(
            "{lift}: {flow}, scatter {scatter}, {count} samples",
            lift=self.lift,
            flow=self.flow,
            scatter=self.scatter,
            count=self.count,
        )
        return "; ".join((taken, *self.doubts))


def count_of(text: str) -> int:
    """A count or key that a page sent back; 0 for what is none."""
    is_count = text.isascii() and text.isdecimal() and len(text) < 11
    return min(int(text), LARGEST_KEY) if is_count else 0


def since(visit: Visit, entry: str, seen: str) -> ResponseReturnValue:
    """The readings of a head's test after the one that the page last heard of, as JSON."""
    rows = [
        row for row in captures.unseen(db(), entry, count_of(seen)) if row.job_head_id == visit.id
    ]
    return {
        "captured": [
            {"id": row.id, "cells": row.cells, "words": _in_words(row).words,
             "doubtful": bool(row.doubts)}
            for row in rows
        ]
    }  # fmt: skip


def of_test(row: BenchSession) -> list[ReadingWords]:
    """The readings of instruments that a saved test was made from."""
    return [_in_words(item) for item in captures.of_test(db(), row.entry_key or "")]


def refuse_unseen(entry: str, seen: str) -> None:
    """Refuse to save while the page lacks a reading that came meanwhile. Raises RuleError."""
    if captures.unseen(db(), entry, count_of(seen)):
        raise RuleError(
            gettext("a reading came in while you pressed Save test: check it and save again")
        )


def _in_words(row: Capture) -> ReadingWords:
    readings = captures.readings_of(row)
    flow = readings[FLOW]
    others = [f"{name} {_words(item)}" for name, item in readings.items() if name != FLOW]
    return ReadingWords(
        lift=pretty_text(row.lift),
        flow=_words(flow),
        scatter=f"{flow.sd:.2g}",
        count=len(flow.samples),
        instrument=flow.instrument,
        doubts=tuple(row.doubts),
        others=", ".join(others),
    )


def _words(item: ChannelReading) -> str:
    return f"{item.mean:.5g} {pretty(item.unit)}"
