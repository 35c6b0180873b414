"""Pressure, vacuum, leak and crack tests of a head: listed, recorded, corrected, withdrawn."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.documents.cautions import DEFERRAL, texts
from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.files import UnfitFileError
from shopflow.models import IntegrityKind, IntegrityTest, Operation, PlaceKind, Visit
from shopflow.services.jobs import jobs
from shopflow.services.measuring import integrity_limits, integrity_tests, limit_checks
from shopflow.services.planning import page_queries
from shopflow.services.registry import attachments
from shopflow.services.registry.attachments import Batch
from shopflow.services.routing import operations
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.db import db, no_transaction
from shopflow.web.folder import store
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.measuring.integrity_tests import leak_map
from shopflow.web.measuring.integrity_tests.forms import (
    METHODS,
    IntegrityTestForm,
    ValvesForm,
    WithdrawForm,
)
from shopflow.web.rights import may

blueprint = Blueprint("integrity_tests", __name__)

BY_VALVE = (IntegrityKind.VACUUM, IntegrityKind.LEAK)
"""Kinds of test that are made valve by valve."""


@blueprint.get("/heads/<tag>/leak-tests")
def of_visit(tag: str) -> ResponseReturnValue:
    """Every pressure, vacuum, leak and crack test of a head, this visit's and the earlier ones."""
    visit, _ = page_queries.visit(db(), tag)
    return render_template(
        "integrity_tests/of_visit.html",
        visit=visit,
        job=visit.job,
        earlier=integrity_tests.of_earlier_visits(db(), visit),
        map=leak_map.drawn(visit),
        kinds=list(IntegrityKind),
        by_valve=BY_VALVE,
        limits=integrity_limits.of_engine_type(db(), visit.head.engine_type),
        leaks={row.id: integrity_tests.leak_of(row) for row in visit.integrity_tests},
        cautions=texts(hazard for each in integrity_tests.HAZARDS.values() for hazard in each),
        deferral=DEFERRAL,
    )


@blueprint.route("/steps/<int:operation_id>/test-result", methods=["GET", "POST"])
def record(operation_id: int) -> ResponseReturnValue:
    """Record the result of a step's test."""
    step = operations.get(db(), operation_id)
    kind = step.kind.tests_by
    if kind is None:
        raise NotFoundError(
            gettext("“{kind}” is not a pressure, vacuum, leak or crack test", kind=step.kind.name)
        )
    return _record(step.job_head, kind, step)


@blueprint.route("/heads/<tag>/leak-tests/add", methods=["GET", "POST"])
def add(tag: str) -> ResponseReturnValue:
    """Record a test of a head; its kind and step are in the address."""
    visit = jobs.visit(db(), tag)
    return _record(visit, _kind(), _step(visit))


@blueprint.route("/heads/<tag>/leak-tests/valves", methods=["GET", "POST"])
def valves(tag: str) -> ResponseReturnValue:
    """Record a test of every valve, a row each."""
    visit = jobs.visit(db(), tag)
    kind, step = _kind(IntegrityKind.VACUUM), _step(visit)
    if kind not in BY_VALVE:
        raise NotFoundError(gettext("this test is not made valve by valve"))
    plan = visit.head.plan
    if plan is None:
        return render_template("sheets/no_layout.html", visit=visit, step=step)
    limit = {
        side: integrity_limits.holding(db(), visit.head.engine_type, kind, side)
        for side in ("intake", "exhaust")
    }
    form = ValvesForm.of(kind, plan.places(PlaceKind.VALVE), is_limited=any(limit.values()))
    if form.validate_on_submit():
        with faults_shown(form):
            shared, rows = form.shared_values, form.row_values
            try:
                saved = integrity_tests.add_valves(db(), actor(), visit, kind, shared, rows, step)
            except ValidationError as error:
                raise form.at_fields(error) from None
            return _recorded(
                saved,
                gettext(
                    "Saved: {tests}.", tests=ngettext("{num} valve", "{num} valves", len(saved))
                ),
            )
    return form_page(
        "integrity_tests/valves.html",
        form,
        visit=visit,
        step=step,
        kind=kind,
        limit=limit,
        methods=METHODS[kind],
        **_cautions(kind, step),
    )


@blueprint.route("/integrity-tests/<int:test_id>/correct", methods=["GET", "POST"])
def correct(test_id: int) -> ResponseReturnValue:
    """Correct a test's result, with the reason; the log keeps what it was."""
    row = integrity_tests.get(db(), test_id)
    photos = _photos(row.job_head)
    form = IntegrityTestForm.of(row.kind, row.job_head, photos, row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            values = form.values | _uploaded(form, row.job_head)
            integrity_tests.correct(db(), actor(), row, values, form.reason.data or "")
            flash(gettext("{row} is corrected.", row=row.title))
            return redirect(url_for("integrity_tests.of_visit", tag=row.job_head.tag))
    return _page(form, row.job_head, row.kind, row.operation, row)


@blueprint.route("/integrity-tests/<int:test_id>/withdraw", methods=["GET", "POST"])
def withdraw(test_id: int) -> ResponseReturnValue:
    """Withdraw a test, with the reason."""
    row = integrity_tests.get(db(), test_id)
    form = WithdrawForm()
    if form.validate_on_submit():
        with faults_shown(form):
            integrity_tests.withdraw(db(), actor(), row, form.reason.data or "")
            flash(gettext("{row} is withdrawn. It stays on record.", row=row.title))
            return redirect(url_for("integrity_tests.of_visit", tag=row.job_head.tag))
    return form_page("integrity_tests/withdraw.html", form, row=row, visit=row.job_head)


def _record(visit: Visit, kind: IntegrityKind, step: Operation | None) -> ResponseReturnValue:
    is_limited = any(
        limit.kind is kind
        for limit in integrity_limits.of_engine_type(db(), visit.head.engine_type)
    )
    form = IntegrityTestForm.of(kind, visit, _photos(visit), is_limited=is_limited)
    if form.validate_on_submit():
        with faults_shown(form):
            values = form.values | _uploaded(form, visit)
            row = integrity_tests.add(db(), actor(), visit, kind, values, step)
            return _recorded([row], f"{row.title}: {row.result}.")
    return _page(form, visit, kind, step, None)


def _uploaded(form: IntegrityTestForm, visit: Visit) -> dict[str, Any]:
    """The photo uploaded with a test, kept with the head; nothing where none was.

    Raises ValidationError at `photo`.
    """
    upload = form.upload
    if upload is None:
        return {}
    by, values = actor(), {"caption": form.spot.data or "", "shown_to_customer": False}
    try:
        with no_transaction():
            batch = Batch((attachments.stage(store(), upload),))
        (photo,) = attachments.attach(db(), by, visit.job, visit, batch, values).stored
    except UnfitFileError as error:
        raise ValidationError([FieldError("photo", str(error))]) from None
    except ValidationError as error:
        words = "; ".join(fault.message for fault in error.faults)
        raise ValidationError([FieldError("photo", words)]) from None
    db().flush()
    return {"photo_id": photo.id}


def _recorded(rows: list[IntegrityTest], words: str) -> ResponseReturnValue:
    """Say what was recorded, and go on: to a decision where a result stops the work."""
    flash(words)
    row = rows[0]
    step = row.operation
    if any(each.stops for each in rows):
        if step is not None and may("decisions.decide") and limit_checks.undecided(step):
            return redirect(url_for("decisions.decide", operation_id=step.id))
        flash(gettext("Add extra work if the customer is to be asked for the repair."))
    if step is not None and step.is_open:
        return redirect(url_for("jobs.visit", tag=row.job_head.tag))
    return redirect(url_for("integrity_tests.of_visit", tag=row.job_head.tag))


def _page(
    form: IntegrityTestForm,
    visit: Visit,
    kind: IntegrityKind,
    step: Operation | None,
    row: IntegrityTest | None,
) -> ResponseReturnValue:
    limits = integrity_limits.of_engine_type(db(), visit.head.engine_type)
    return form_page(
        "integrity_tests/result.html",
        form,
        visit=visit,
        kind=kind,
        step=step,
        row=row,
        limits=[limit for limit in limits if limit.kind is kind],
        methods=METHODS[kind],
        **_cautions(kind, step),
    )


def _cautions(kind: IntegrityKind, step: Operation | None) -> dict[str, Any]:
    hazards = [*integrity_tests.HAZARDS[kind], *(step.kind.cautions if step else ())]
    return {"cautions": texts(hazards), "deferral": DEFERRAL}


def _photos(visit: Visit) -> list[Any]:
    files = attachments.of_job(db(), visit.job)
    return [file for file in files if file.is_photo and file.job_head_id in (None, visit.id)]


def _kind(usual: IntegrityKind = IntegrityKind.PRESSURE) -> IntegrityKind:
    """The kind of test the address names. Raises NotFoundError for one that does not exist."""
    try:
        return IntegrityKind(request.args.get("kind") or usual)
    except ValueError:
        raise NotFoundError(gettext("this kind of test does not exist")) from None


def _step(visit: Visit) -> Operation | None:
    return operations.of_head(visit, request.args.get("operation", ""))
