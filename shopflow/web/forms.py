"""Base of every form: its values for a service, and errors shown at their fields."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from flask import Flask, render_template
from flask.typing import ResponseReturnValue
from flask_wtf import FlaskForm
from sqlalchemy.orm.exc import StaleDataError
from wtforms import Field, FieldList, FormField, HiddenField, RadioField, SelectMultipleField

from shopflow.errors import ConflictError, RuleError, ValidationError
from shopflow.models.base import Versioned
from shopflow.texts import gettext, lazy
from shopflow.web import conflicts
from shopflow.web.db import rollback
from shopflow.web.filters import sentence

NOT_VALUES = ("csrf_token", "version", "opened")


def init_app(app: Flask) -> None:
    """Let templates link a form's errors to its fields."""
    app.add_template_global(fault_links)


class Form(FlaskForm):
    """A form whose fields are named as the model's attributes."""

    refusal = lazy("Not saved yet.")
    """Beginning of the message that the form was not accepted."""

    @property
    def values(self) -> dict[str, Any]:
        """Typed values by field, as services take them."""
        return {name: value for name, value in self.data.items() if name not in NOT_VALUES}


class EditForm(Form):
    """A form over a record that someone else may change meanwhile."""

    version = HiddenField()
    opened = HiddenField()
    """Values of the fields when the form was opened, as `conflicts.standing` writes them."""

    @property
    def opened_as(self) -> str:
        """Values of the form when it was first opened, carried along through every error since."""
        return self.opened.data or conflicts.standing(self)


def form_page(template: str, form: FlaskForm, **context: Any) -> ResponseReturnValue:
    """The page of a form: status 422, and nothing kept, where it has faults."""
    page = render_template(template, form=form, **context)
    return page, 422 if form.errors else 200


@contextmanager
def faults_shown(form: FlaskForm, row: Versioned | None = None) -> Iterator[None]:
    """Run a verb; what it refuses is undone and shown on the form, with what was typed.

    `row` is the record edited: what someone else changed of it since the form was opened is merged
    in first. Raises EditConflictError where both changed the same.
    """
    if row is not None:
        conflicts.settle(form, row)
    try:
        yield
    except ValidationError as error:
        rollback()
        show_faults(form, error)
    except RuleError as error:
        rollback()
        form.form_errors.append(str(error))
    except (ConflictError, StaleDataError):
        rollback()
        _show_conflict(form, row)


def show_faults(form: FlaskForm, error: ValidationError) -> None:
    """Show each error at the field its key names; those of no field at the top of the form."""
    fields = {field.name: field for field in _every_field(form)}
    # What a field has said of itself already is not said again in other words.
    spoken = {name for name, field in fields.items() if field.errors}
    for fault in error.faults:
        field_named = fields.get(fault.key) or fields.get(fault.key.replace(".", "-"))
        if field_named is None:
            form.form_errors.append(str(fault))
        elif field_named.name not in spoken:
            field_named.errors = [*field_named.errors, fault.message]
    for field in form:
        # A list knows only the faults its entries had when it was validated.
        if isinstance(field, FieldList) and not field.errors:
            faults = [entry.errors for entry in field]
            field.errors = faults if any(faults) else []


def faults_by_field(form: FlaskForm) -> dict[str, str]:
    """Errors of each field, by its name; those of the form as a whole under ""."""
    by_field = {"": " ".join(f"{sentence(message)}." for message in form.form_errors)}
    for field in _every_field(form):
        if field.errors and not isinstance(field, FieldList | FormField):
            by_field[field.name] = sentence("; ".join(field.errors))
    return {name: words for name, words in by_field.items() if words}


@dataclass(frozen=True, slots=True)
class FaultLink:
    """A field's error, and the element where it is corrected."""

    label: str
    message: str
    target: str


def fault_links(form: FlaskForm) -> list[FaultLink]:
    """The errors of a form's fields in their order, each to be linked to its field."""
    return [
        FaultLink(str(field.label.text), "; ".join(map(str, field.errors)), _target(field))
        for field in _every_field(form)
        if field.errors
        and not isinstance(field, FieldList | FormField | HiddenField)
        and not isinstance(field.errors, Mapping)
    ]


def _target(field: Field) -> str:
    """Id of the element to go to: of several to choose from, the first."""
    if isinstance(field, RadioField | SelectMultipleField):
        return next((str(option.id) for option in field), str(field.id))
    return str(field.id)


def _every_field(fields: Any) -> Iterator[Field]:
    for field in fields:
        yield field
        if isinstance(field, FieldList | FormField):
            yield from _every_field(field)


def _show_conflict(form: FlaskForm, row: Versioned | None) -> None:
    form.form_errors.append(
        gettext(
            "someone else changed this while you had it open. Check it again: what you typed is "
            "still here, and the button shows both values where you both changed the same field"
        )
    )
    if row is not None:
        form.version.data = str(row.version)
