"""A record's log in words: who did what, when, from what to what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Boolean, Enum

from shopflow.models import Base, Event, Job
from shopflow.texts import gettext, lazy, translated
from shopflow.web.filters import sentence
from shopflow.web.history.words import FIELDS, SUBJECTS

HIDDEN = ("_id", "_at", "fingerprint")
"""Endings of fields that tell a reader nothing: who and when, the line itself says already."""

OWNERS = {"intake": lazy("Intake"), "exhaust": lazy("Exhaust"), "engine": lazy("Engine")}
"""First words of a field of a hand-off note, that say which of its parts the field is of."""


@dataclass(frozen=True)
class Line:
    """One act, ready to be shown."""

    at: datetime
    who: str
    what: str
    changes: tuple[tuple[str, str, str], ...]


def lines(job: Job, log: list[Event]) -> list[Line]:
    """The log of a job, in the order given."""
    return _lines(log, _names(job))


def of_record(log: list[Event]) -> list[Line]:
    """The log of one record, which need not be named in each line."""
    return _lines(log, {(entry.subject, entry.subject_id): "" for entry in log})


def _lines(log: list[Event], names: dict[tuple[str, int], str]) -> list[Line]:
    return [_line(entry, names) for entry in log]


def _line(entry: Event, names: dict[tuple[str, int], str]) -> Line:
    subject = names.get((entry.subject, entry.subject_id))
    if subject is None:
        subject = str(SUBJECTS.get(entry.subject, entry.subject.replace("_", " ")))
    subject_and_verb = ": ".join(part for part in (subject, translated(entry.verb)) if part)
    text = f"{subject_and_verb} ({entry.note})" if entry.note else subject_and_verb
    who = entry.person.name if entry.person else "shopflow"
    return Line(entry.at, who, sentence(text), tuple(_changes(entry)))


def _changes(entry: Event) -> Iterator[tuple[str, str, str]]:
    for name, values in entry.changes.items():
        if not name.endswith(HIDDEN):
            before, after = (_value(entry.subject, name, value) for value in values)
            yield _field(name), before or gettext("nothing"), after or gettext("nothing")


def _field(name: str) -> str:
    """Name of a field in the reader's language; that of a shop's own as it is."""
    owner, _, rest = name.partition(" ")
    if rest in FIELDS and owner in OWNERS:
        return gettext("{owner}, {field}", owner=OWNERS[owner], field=FIELDS[rest])
    return str(FIELDS.get(name, name.replace("_", " ")))


def _value(subject: str, name: str, value: str) -> str:
    """A value in the reader's language, where it is a word of an enumeration or a yes or no."""
    table = Base.metadata.tables.get(subject)
    column = table.columns.get(name) if table is not None else None
    if column is not None and isinstance(column.type, Boolean):
        return {"True": gettext("yes"), "False": gettext("no")}.get(value, value)
    return translated(value) if column is not None and isinstance(column.type, Enum) else value


def _names(job: Job) -> dict[tuple[str, int], str]:
    """Names of the records that belong to a job."""
    names: dict[tuple[str, int], str] = {}
    for visit in job.heads:
        names["job_head", visit.id] = gettext("head {visit}", visit=visit.tag)
        names["head", visit.head_id] = gettext("casting of {visit}", visit=visit.tag)
        for step in visit.operations:
            names["operation", step.id] = f"{visit.tag}, {step.kind.name}"
        for test in (*visit.integrity_tests, *visit.withdrawn_integrity_tests):
            names["integrity_test", test.id] = f"{visit.tag}, {translated(test.kind)}"
        for row in (*visit.measurements, *visit.struck_measurements):
            names["measurement", row.id] = f"{visit.tag}, {row.kind.name.lower()}"
        for session in (*visit.sessions, *visit.withdrawn_sessions):
            names["bench_session", session.id] = gettext(
                "{visit}, {side} flow test", visit=visit.tag, side=translated(session.side)
            )
    return names
