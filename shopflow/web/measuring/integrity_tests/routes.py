"""Results of pressure, vacuum, leak and crack tests: recorded on a step, corrected."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.documents.cautions import DEFERRAL, texts
from shopflow.errors import NotFoundError
from shopflow.models import IntegrityTest, Operation
from shopflow.services.measuring import integrity_tests
from shopflow.services.routing import operations
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.measuring.integrity_tests.forms import IntegrityTestForm

blueprint = Blueprint("integrity_tests", __name__)


@blueprint.route("/operations/<int:operation_id>/test-result", methods=["GET", "POST"])
def record(operation_id: int) -> ResponseReturnValue:
    """Record the result of a step's test."""
    step = operations.get(db(), operation_id)
    kind = step.kind.tests_by
    if kind is None:
        raise NotFoundError(
            gettext("“{kind}” is not a pressure, vacuum, leak or crack test", kind=step.kind.name)
        )
    form = IntegrityTestForm.of(kind)
    if form.validate_on_submit():
        with faults_shown(form):
            row = integrity_tests.record(db(), actor(), step, form.values)
            return _recorded(row, f"{row.title}: {row.result}.")
    return _page(form, step, None)


@blueprint.route("/integrity-tests/<int:test_id>/correct", methods=["GET", "POST"])
def correct(test_id: int) -> ResponseReturnValue:
    """Correct a test's result; the log keeps what it was."""
    row = integrity_tests.get(db(), test_id)
    form = IntegrityTestForm.of(row.kind, row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            integrity_tests.correct(db(), actor(), row, form.values)
            return _recorded(row, gettext("{row} is corrected.", row=row.title))
    return _page(form, row.operation, row)


def _recorded(row: IntegrityTest, words: str) -> ResponseReturnValue:
    flash(words)
    return redirect(url_for("jobs.visit", tag=row.operation.job_head.tag))


def _page(
    form: IntegrityTestForm, step: Operation, row: IntegrityTest | None
) -> ResponseReturnValue:
    return form_page(
        "integrity_tests/result.html",
        form,
        step=step,
        row=row,
        cautions=texts(step.kind.cautions),
        deferral=DEFERRAL,
    )
