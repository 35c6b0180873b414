"""A job's log in words: who did what, when, from what to what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from shopflow.models import Event, Job
from shopflow.texts import gettext, lazy
from shopflow.web.filters import sentence

SUBJECTS = {
    "job_head": "head",
    "hand_off_note": lazy("hand-off note"),
    "job": "",
    "job_file": "file",
    "outgoing_mail": "message",
    "customer_link": lazy("private link"),
    "bench_session": lazy("flow test"),
    "discarded_test": lazy("unfinished flow test"),
}
"""Tables whose own name is not what people call the thing."""


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
    subject_and_verb = ": ".join(part for part in (subject, entry.verb) if part)
    text = f"{subject_and_verb} ({entry.note})" if entry.note else subject_and_verb
    who = entry.person.name if entry.person else "shopflow"
    return Line(entry.at, who, sentence(text), tuple(_changes(entry)))


def _changes(entry: Event) -> Iterator[tuple[str, str, str]]:
    for name, (before, after) in entry.changes.items():
        # Who and when, the line itself says already.
        if not name.endswith(("_id", "_at")):
            yield name.replace("_", " "), before or "nothing", after or "nothing"


def _names(job: Job) -> dict[tuple[str, int], str]:
    """Names of the records that belong to a job."""
    names: dict[tuple[str, int], str] = {}
    for visit in job.heads:
        names["job_head", visit.id] = f"head {visit.tag}"
        names["head", visit.head_id] = gettext("casting of {visit}", visit=visit.tag)
        for step in visit.operations:
            names["operation", step.id] = f"{visit.tag}, {step.kind.name}"
        for test in (*visit.integrity_tests, *visit.withdrawn_integrity_tests):
            names["integrity_test", test.id] = f"{visit.tag}, {test.kind.value}"
        for row in (*visit.measurements, *visit.struck_measurements):
            names["measurement", row.id] = f"{visit.tag}, {row.kind.name.lower()}"
        for session in (*visit.sessions, *visit.withdrawn_sessions):
            names["bench_session", session.id] = gettext(
                "{visit}, {side} flow test", visit=visit.tag, side=session.side
            )
    return names
