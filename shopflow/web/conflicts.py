"""Two at once: what the later saver typed, held against what someone else saved meanwhile.

A form carries what stood in each field when it was opened. What only one of the two changed is
merged; where both changed a field, the later sees both values and chooses.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from typing import Any

from flask import Flask, flash, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf import FlaskForm
from flask_wtf.file import FileField
from sqlalchemy import inspect
from wtforms import Field, FieldList, FormField, HiddenField, SubmitField

from shopflow.models import Event
from shopflow.models.base import Versioned
from shopflow.services import audit_log
from shopflow.services.fields import line_ends
from shopflow.texts import gettext
from shopflow.units import Quantity
from shopflow.web.db import db, rollback
from shopflow.web.fields import PasswordField
from shopflow.web.filters import moment

MINE, THEIRS = "mine", "theirs"
ASKED = "choosing"
"""Names, on the page of choices, the fields one must choose for."""

NEVER_HELD = (HiddenField, SubmitField, FileField, PasswordField)
NOTHING = "nothing"
DEEPEST = 6
"""Levels of a form's values: fields, the rows of a list, the parts of a row."""


@dataclass(frozen=True, slots=True)
class Both:
    """A field that two people changed, and what each wants in it."""

    name: str
    label: str
    mine: str
    theirs: str
    who: str
    at: datetime | None
    chosen: str
    """MINE, THEIRS, or empty while nothing is chosen."""


class EditConflictError(Exception):
    """Two people changed the same fields; the later must choose."""

    def __init__(self, fields: list[Both], opened: str, form: FlaskForm, version: int) -> None:
        super().__init__(gettext("both changed the same fields"))
        self.fields = fields
        self.opened = opened
        self.version = version
        self.secret = {field.name for field in form if isinstance(field, PasswordField)}


def init_app(app: Flask) -> None:
    """Show the choice wherever a save turns out to be disputed."""
    app.register_error_handler(EditConflictError, _choose)


def standing(form: FlaskForm) -> str:
    """Recorded value of each field of a form, as JSON that the form carries along."""
    return json.dumps(
        {field.name: _plain(field.object_data) for _, field in _compared_fields(form)}
    )


def settle(form: FlaskForm, row: Versioned) -> None:
    """Merge into the form the changes that someone else made since it was opened, and report them.

    Raises EditConflictError where both changed the same field and nothing is chosen yet.
    """
    opened = _opened(form, row)
    disputed: list[tuple[str, Field]] = []
    theirs: list[tuple[str, Field]] = []
    for label, field in _compared_fields(form):
        verdict = _verdict(field, opened)
        if verdict is None:
            disputed.append((label, field))
        elif verdict == THEIRS:
            theirs.append((label, field))
    if disputed:
        both = [_both_values(label, field, _latest(row, field)) for label, field in disputed]
        # What is chosen next is held against what was seen here; the rest against what it was.
        disputed_values = {field.name: _plain(field.object_data) for _, field in disputed}
        raise EditConflictError(both, json.dumps(opened | disputed_values), form, row.version)
    if theirs:
        _say_taken(theirs, row)
    for _, field in theirs:
        _take(field)
    form.opened.data = standing(form)


def _choose(error: EditConflictError) -> ResponseReturnValue:
    rollback()
    own = {"csrf_token", "version", "opened", ASKED, *(_choice(both.name) for both in error.fields)}
    typed = [(name, text) for name, text in request.form.items(multi=True) if name not in own]
    lost = any(file.filename for file in request.files.values())
    page = render_template(
        "conflicts/choose.html",
        both=error.fields,
        opened=error.opened,
        version=error.version,
        typed=[(name, text) for name, text in typed if name not in error.secret],
        lost=lost or any(text for name, text in typed if name in error.secret),
        tried=bool(request.form.getlist(ASKED)),
        choice_name=_choice,
    )
    return page, 422


def _verdict(field: Field, opened: dict[str, Any]) -> str | None:
    """Side whose value the field takes; None where both changed it and neither is chosen."""
    mine, theirs = _plain(field.data), _plain(field.object_data)
    chosen = request.form.get(_choice(field.name), "")
    if mine == theirs:
        return MINE
    if field.name in request.form.getlist(ASKED) and chosen not in (MINE, THEIRS):
        return None
    if field.name in opened and opened[field.name] == theirs:
        return THEIRS if chosen == THEIRS else MINE
    return THEIRS if field.name in opened and opened[field.name] == mine else None


def _opened(form: FlaskForm, row: Versioned) -> dict[str, Any]:
    """Values the fields had when the form was opened; without them, known only while the version is
    unchanged."""
    unchanged = form.version.data == str(row.version)
    try:
        values = json.loads(form.opened.data or (standing(form) if unchanged else "{}"))
    except (ValueError, RecursionError):
        return {}
    return values if isinstance(values, dict) and _is_shallow(values) else {}


def _is_shallow(value: Any, depth: int = DEEPEST) -> bool:
    """Tell whether JSON is nested no deeper than a form is: it will be compared and sent back."""
    if not isinstance(value, dict | list):
        return True
    inner = value.values() if isinstance(value, dict) else value
    return depth > 0 and all(_is_shallow(item, depth - 1) for item in inner)


def _compared_fields(form: Any, parent: str = "") -> Iterator[tuple[str, Field]]:
    """Each field that is compared, with its label; a list of rows counts as one field."""
    for field in form:
        label = f"{parent}{field.label.text}"
        if isinstance(field, FormField):
            yield from _compared_fields(field.form, f"{label}: ")
        elif not isinstance(field, NEVER_HELD):
            yield label, field


def _plain(value: Any) -> Any:
    """A value as JSON, the same whether it was typed or comes from the database."""
    if value is None or value is False:
        return ""
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, dict):
        plain = {name: _plain(item) for name, item in value.items()}
        return {name: item for name, item in sorted(plain.items()) if item != ""}
    if isinstance(value, list | tuple):
        return [item for item in map(_plain, value) if item not in ("", {})]
    return "yes" if value is True else line_ends(str(value)).strip()


def _words(field: Field, plain: Any) -> str:
    """A value as text for a reader: a choice by its label, a list line by line."""
    if isinstance(plain, list) and isinstance(field, FieldList):
        form = field.entries[0].form
        lines = (", ".join(_words(form[key], row[key]) for key in row) for row in plain)
        return "\n".join(lines) or NOTHING
    if isinstance(plain, list):
        return ", ".join(_words(field, item) for item in plain) or NOTHING
    iterate = getattr(field, "iter_choices", None)
    offered = {str(choice[0]): str(choice[1]) for choice in iterate()} if iterate else {}
    return offered.get(plain, plain) or ("no" if field.type == "BooleanField" else NOTHING)


def _both_values(label: str, field: Field, latest: Event | None) -> Both:
    return Both(
        name=field.name,
        label=label,
        mine=_words(field, _plain(field.data)),
        theirs=_words(field, _plain(field.object_data)),
        who=_who(latest),
        at=latest.at if latest else None,
        chosen=request.form.get(_choice(field.name), ""),
    )


def _say_taken(merged: list[tuple[str, Field]], row: Versioned) -> None:
    """Tell the user which changes of someone else were merged, except those chosen by hand."""
    by_hand = [field for _, field in merged if _choice(field.name) in request.form]
    silent = [(label, field) for label, field in merged if field not in by_hand]
    if not silent:
        return
    latest = _latest(row, silent[0][1])
    when = f", {moment(latest.at)}" if latest else ""
    names = "; ".join(
        f"{label} ({_words(field, _plain(field.object_data))})" for label, field in silent
    )
    flash(
        gettext(
            "Includes what {who} saved meanwhile{when}: {names}.",
            who=_who(latest),
            when=when,
            names=names,
        )
    )


def _latest(row: Versioned, field: Field) -> Event | None:
    # A row just read may have been forgotten by a roll-back; its key has not.
    state = inspect(row)
    if state.identity is None:
        return None
    table = state.mapper.local_table.name
    return audit_log.latest(db(), table, state.identity[0], field.short_name)


def _who(event: Event | None) -> str:
    return event.person.name if event and event.person else gettext("someone else")


def _take(field: Field) -> None:
    if not isinstance(field, FieldList):
        field.process_data(field.object_data)
        return
    offered = {
        entry_field.short_name: getattr(entry_field, "choices", None)
        for entry_field in field.entries[0].form
    }
    rows = field.object_data or []
    while field.entries:
        field.pop_entry()
    for row in rows:
        for entry_field in field.append_entry(row).form:
            if offered[entry_field.short_name] is not None:
                entry_field.choices = offered[entry_field.short_name]


def _choice(name: str) -> str:
    return f"choice-{name}"
