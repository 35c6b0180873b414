"""Flow tests on record: corrected with a reason, withdrawn with a reason, restored."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow import testfile
from shopflow.calc.reduction import Reduction
from shopflow.models import BenchSession, Operation
from shopflow.services import withdrawals
from shopflow.services.bench import fixtures, sessions, test_drafts
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.sessions.entry import Entry
from shopflow.web.bench.sessions.figures import trial_figures
from shopflow.web.bench.withdrawals.forms import (
    CorrectionFileForm,
    CorrectionForm,
    WithdrawForm,
    fits_the_form,
)
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("withdrawals", __name__, url_prefix="/flow-tests/<int:session_id>")


@blueprint.route("/withdraw", methods=["GET", "POST"])
def withdraw(session_id: int) -> ResponseReturnValue:
    """Withdraw a test, with the reason."""
    row = sessions.get(db(), session_id)
    form = WithdrawForm()
    if form.validate_on_submit():
        with faults_shown(form):
            withdrawals.withdraw(db(), actor(), row, form.reason.data or "")
            flash_undoable(
                gettext("The test is withdrawn. It stays on record but does not count."),
                "withdrawals.restore",
                session_id=row.id,
            )
            return _to(row)
    return form_page("withdrawals/withdraw.html", form, session=row, visit=row.job_head)


@blueprint.post("/restore")
def restore(session_id: int) -> ResponseReturnValue:
    """Let a withdrawn test count again."""
    row = sessions.get(db(), session_id)
    withdrawals.restore(db(), actor(), row)
    flash(gettext("The test is restored and counts again."))
    return _to(row)


@blueprint.route("/correct", methods=["GET", "POST"])
def correct(session_id: int) -> ResponseReturnValue:
    """Correct a test's values and readings, with the reason."""
    row = sessions.get(db(), session_id)
    form = CorrectionForm.over(row, test_drafts.new_key(), fixtures.answers(db()))
    figures = None
    if form.more_rows.data:
        form.add_rows()
    elif form.is_submitted():
        saved = sessions.of_entry(db(), row.job_head, form.entry.data or "")
        if saved is not None:
            return _to(saved)
        sound = form.validate()
        with faults_shown(form):
            document, reduction = _reduced(row)
            if sound and form.save.data:
                return _save(row, document, _after(row, form), form)
            figures = trial_figures(row.job_head, document, reduction, str(row.id))
    return _page(row, form, CorrectionFileForm(formdata=None), figures=figures)


@blueprint.post("/correct/file")
def correct_by_file(session_id: int) -> ResponseReturnValue:
    """Correct a test by its file, as for more runs than the form has columns."""
    row = sessions.get(db(), session_id)
    form = CorrectionFileForm()
    if form.validate_on_submit() and form.file.data:
        with faults_shown(form):
            document = testfile.loads(form.file.data.read())
            return _save(row, document, row.after_operation, form)
    elif not form.file.data:
        form.file.errors = [gettext("choose the corrected test file")]
    return _page(row, CorrectionForm.over(row, test_drafts.new_key(), fixtures.answers(db())), form)


def _page(
    row: BenchSession, form: CorrectionForm, by_file: CorrectionFileForm, figures: object = None
) -> ResponseReturnValue:
    page = render_template(
        "withdrawals/correct.html",
        form=form,
        by_file=by_file,
        session=row,
        visit=row.job_head,
        figures=figures,
        fits=fits_the_form(sessions.document(row)),
    )
    return page, 422 if form.errors or by_file.errors else 200


def _save(
    row: BenchSession,
    document: SessionDocument,
    after: Operation | None,
    form: CorrectionForm | CorrectionFileForm,
) -> ResponseReturnValue:
    entry = form.entry.data or "" if isinstance(form, CorrectionForm) else ""
    reason = form.reason.data or ""
    new = withdrawals.correct(db(), actor(), row, document, after, reason, entry)
    flash(gettext("The correction is saved. The earlier test stays on record."))
    return _to(new)


def _reduced(row: BenchSession) -> tuple[SessionDocument, Reduction]:
    """The test as corrected, with the runs left out as they were; and its figures."""
    before = sessions.document(row)
    document, reduction = Entry(request.form).reduced(before.engine_type, before.head)
    return replace(document, excluded=before.excluded), reduction


def _after(row: BenchSession, form: CorrectionForm) -> Operation | None:
    steps = row.job_head.operations
    return next((step for step in steps if str(step.id) == form.after.data), None)


def _to(row: BenchSession) -> ResponseReturnValue:
    return redirect(url_for("sessions.session", session_id=row.id))
