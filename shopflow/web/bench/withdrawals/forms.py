"""The forms that correct and withdraw a flow test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from flask_wtf.file import FileField
from wtforms import HiddenField, SubmitField

from shopflow.calc.set_up import Part
from shopflow.errors import ValidationError
from shopflow.models import BenchSession
from shopflow.services.bench import sessions
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext, lazy
from shopflow.web.bench.sessions.entry import RUNS, Entry
from shopflow.web.bench.sessions.forms import SessionForm, start_values
from shopflow.web.fields import TypedField
from shopflow.web.forms import Form

WHY = lazy("For example: the exhaust valve was on the bench.")


class WithdrawForm(Form):
    """Reason why a test no longer counts."""

    reason = TypedField(lazy("Reason"), WHY, needed=True)


class CorrectionForm(SessionForm):
    """A test on record, each value as it was typed, to be corrected."""

    entry = HiddenField()
    reason = TypedField(lazy("Reason for the correction"), WHY, needed=True)
    save = SubmitField(lazy("Save correction"))
    work_out = SubmitField(lazy("Calculate"))

    @classmethod
    def over(
        cls, row: BenchSession, entry: str, answers: Mapping[Part, Sequence[tuple[str, str]]]
    ) -> CorrectionForm:
        """The form filled from a test; the runs left out are not in it and stay as they are."""
        values = {**typed_values(sessions.document(row)), "entry": entry}
        values["after"] = str(row.after_operation_id or "")
        values["rows"] += [{} for _ in range(2)]
        form = cls(data=values)
        form.set_up.form.offer(answers)
        steps = row.job_head.finished_steps
        if row.after_operation is not None and row.after_operation not in steps:
            steps.append(row.after_operation)
        form.after.choices = {"": gettext("none: as received")} | {
            str(step.id): step.kind.name for step in steps
        }
        form.lift_list.choices = {"": gettext("by L/D")}
        return form


class CorrectionFileForm(Form):
    """The corrected test as a session file."""

    file = FileField(
        lazy("Corrected test file"), description=lazy("A TOML file, as downloaded here.")
    )
    reason = TypedField(lazy("Reason for the correction"), WHY, needed=True)
    upload = SubmitField(lazy("Save correction"))


def typed_values(document: SessionDocument) -> dict[str, Any]:
    """A form's values from a test, its readings with it."""
    measured = document.measured_at
    values = start_values(document) | {
        "notes": document.notes,
        "measured_at": measured.isoformat(sep=" ") if measured else "",
    }
    pressures: Sequence[Sequence[Any]] = document.pressures or [
        [None] * len(runs) for runs in document.flows
    ]
    for row, flows, across in zip(values["rows"], document.flows, pressures, strict=True):
        for name, flow, pressure in zip(RUNS, flows, across, strict=False):
            row[name] = f"{flow}" if pressure is None else f"{flow} @ {pressure}"
    return values


def fits_the_form(document: SessionDocument) -> bool:
    """True where the form holds all of a test; else it is corrected by its file."""
    flat: dict[str, str] = {}
    for name, value in typed_values(document).items():
        if isinstance(value, dict):
            flat |= {f"{name}-{key}": text for key, text in value.items()}
        elif isinstance(value, list):
            for index, row in enumerate(value):
                flat |= {f"rows-{index}-{key}": text for key, text in row.items()}
        else:
            flat[name] = value
    try:
        entered, _ = Entry(flat).reduced(document.engine_type, document.head)
    except ValidationError:
        return False
    return entered == replace(document, excluded=())
