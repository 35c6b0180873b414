"""Bench sessions: taking one, and looking at it."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow import testfile
from shopflow.calc.workings.lift import workings
from shopflow.errors import ConflictError, NotFoundError, RuleError, ValidationError
from shopflow.models import BenchSession, Visit
from shopflow.papers import several_pressures
from shopflow.services import withdrawals
from shopflow.services.bench import (
    budgets,
    readings,
    sessions,
    sizes,
    test_drafts,
    test_names,
)
from shopflow.services.bench.hints import hints_on
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.sessions import columns, live, start, taking
from shopflow.web.bench.sessions.entry import Entry
from shopflow.web.bench.sessions.figures import (
    against_first,
    component_table,
    session_figures,
    trial_figures,
)
from shopflow.web.bench.sessions.forms import ExcludeForm, SessionForm, UploadForm
from shopflow.web.bench.sessions.taking import DESK
from shopflow.web.context import system
from shopflow.web.db import db, keeping
from shopflow.web.drawing import View, plots
from shopflow.web.forms import faults_shown, form_page, show_faults
from shopflow.web.spreadsheet import csv_answer
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("sessions", __name__)


@blueprint.route("/heads/<tag>/test", methods=["GET", "POST"])
def new(tag: str) -> ResponseReturnValue:
    """Record a flow test: set up, read, save."""
    return taking.take(tag, DESK)


@blueprint.get("/heads/<tag>/test/sizes")
def sizes_of_side(tag: str) -> ResponseReturnValue:
    """The sizes a test of a side and cylinder starts from, for the page's script."""
    visit = jobs.visit(db(), tag)
    known_sizes = start.sizes_of(visit, request.args)
    fields = {
        f"{table}-{key}": text
        for table, typed in start.as_fields(known_sizes).items()
        for key, text in typed.items()
    }
    notes = render_template("sessions/parts/sizes.html", sizes=known_sizes)
    return {"fields": fields, "notes": notes}


@blueprint.post("/heads/<tag>/test/results")
def worked_out(tag: str) -> ResponseReturnValue:
    """Keep what is typed so far; its figures, for the page to show beside the form."""
    visit = jobs.visit(db(), tag)
    try:
        count = _keep(visit)
    except (ConflictError, RuleError) as error:
        return str(error), 409
    return _figures_so_far(visit), {"X-Kept": str(count)} if count else {}


def _keep(visit: Visit) -> int:
    """Save the draft as it is; return the number of times it was saved, 0 for no draft."""
    key = request.form.get("entry", "")
    if not key:
        return 0
    with keeping() as apart:
        return test_drafts.keep(
            apart,
            actor(),
            visit,
            key=key,
            writer=request.form.get("writer", ""),
            seen=live.count_of(request.form.get("seen", "")),
            typed=Entry(request.form).to_keep,
            captured=live.count_of(request.form.get("captured", "")),
        ).count


@blueprint.get("/heads/<tag>/test/captured")
def captured(tag: str) -> ResponseReturnValue:
    """The readings that instruments posted since, for the page's script."""
    visit = jobs.visit(db(), tag)
    return live.since(visit, request.args.get("entry", ""), request.args.get("since", ""))


def _figures_so_far(visit: Visit) -> str:
    layout = taking.LAYOUTS.get(request.args.get("layout", ""), DESK)
    against = request.form.get("against", "")
    try:
        document, reduction = taking.reduced(visit)
    except ValidationError as error:
        return render_template(
            layout.unfinished,
            faults=error.faults[:6],
            labels=SessionForm().labels,
            before=taking.curve_behind(visit, against, request.form.get("side"), layout),
        )
    figures = trial_figures(visit, document, reduction, against, layout.size(request.form))
    differing = taking.differing(visit, document)
    return render_template(layout.figures, figures=figures, differing=differing)


@blueprint.post("/heads/<tag>/test/file")
def upload(tag: str) -> ResponseReturnValue:
    """Store a session file."""
    visit = jobs.visit(db(), tag)
    form = UploadForm()
    if form.validate_on_submit() and form.file.data:
        try:
            document = testfile.loads(form.file.data.read())
            row = sessions.store(db(), actor(), visit, document)
            flash(gettext("The test file is imported, exactly as typed."))
            return redirect(url_for("sessions.session", session_id=row.id))
        except ValidationError as error:
            show_faults(form, ValidationError(error.faults))
    else:
        form.file.errors = [gettext("choose a test file")]
    return form_page("sessions/upload.html", form, visit=visit)


@blueprint.get("/flow-tests/<int:session_id>")
def session(session_id: int) -> ResponseReturnValue:
    """One session: its figures, curves and readings."""
    row = sessions.get(db(), session_id)
    same_side = [other for other in row.job_head.sessions if other.side == row.side]
    same_side += [] if row.counts else [row]
    view = View.from_query(request.args)
    figures = session_figures(row, same_side, view)
    return render_template(
        "sessions/session.html",
        session=row,
        visit=row.job_head,
        view=view,
        plots=plots(),
        figures=figures,
        gained=against_first(row, same_side),
        components=component_table(figures.result),
        budget=budgets.of_session(row),
        hints=hints_on(db(), row),
        differing=sizes.of_test(db(), row),
        captured=live.of_test(row),
        form=ExcludeForm(),
        name=test_names.session_name,
        exponent_headings=several_pressures.HEADINGS,
        exponent_note=several_pressures.NOTE_ON_EXPONENT,
        **_standing(row),
    )


def _standing(row: BenchSession) -> dict[str, Any]:
    """Later history of a test, and the certificates that state it."""
    return {
        "current": withdrawals.current(row),
        "earlier": withdrawals.earlier_versions(db(), row),
        "stated_on": withdrawals.certificates_on(db(), row),
        "row_certificates": partial(withdrawals.certificates_on, db()),
    }


@blueprint.get("/flow-tests/<int:session_id>/lifts/<int:place>")
def working(session_id: int, place: int) -> ResponseReturnValue:
    """Show the calculation of each result at one lift of a test."""
    row = sessions.get(db(), session_id)
    lifts = sessions.reduction(row).lifts.tolist()
    if not 1 <= place <= len(lifts):
        raise NotFoundError(gettext("this flow test does not have that lift"))
    return render_template(
        "sessions/working.html",
        session=row,
        visit=row.job_head,
        name=test_names.session_name(row),
        lifts=lifts,
        place=place - 1,
        lift=lifts[place - 1],
        readings=readings.in_words(sessions.document(row), place - 1),
        workings=list(workings(sessions.reduction(row), place - 1, system())),
    )


@blueprint.get("/flow-tests/<int:session_id>/file")
def export(session_id: int) -> ResponseReturnValue:
    """The session as a file."""
    row = sessions.get(db(), session_id)
    text = testfile.dumps(sessions.document(row))
    headers = {"Content-Disposition": f'attachment; filename="session-{row.id}.toml"'}
    return Response(text, mimetype="application/toml", headers=headers)


@blueprint.get("/flow-tests/<int:session_id>/results.csv")
def results(session_id: int) -> ResponseReturnValue:
    """Download the results of a test as CSV."""
    row = sessions.get(db(), session_id)
    cells = columns.rows(sessions.reduction(row), system())
    return csv_answer(f"results-{row.id}", columns.header(system()), cells)


@blueprint.post("/flow-tests/readings/<int:reading_id>/exclude")
def exclude(reading_id: int) -> ResponseReturnValue:
    """Leave a reading out, with the reason."""
    reading = sessions.get_reading(db(), reading_id)
    session_id = reading.lift.session_id
    form = ExcludeForm()
    if form.validate_on_submit():
        with faults_shown(form):
            sessions.exclude(db(), actor(), reading, form.reason.data or "")
            flash_undoable(
                gettext("The reading is excluded. The results are calculated again."),
                "sessions.include",
                reading_id=reading.id,
            )
            return redirect(url_for("sessions.session", session_id=session_id))
    return form_page("sessions/exclude.html", form, reading=reading, session_id=session_id)


@blueprint.post("/flow-tests/readings/<int:reading_id>/include")
def include(reading_id: int) -> ResponseReturnValue:
    """Count a reading again."""
    reading = sessions.get_reading(db(), reading_id)
    sessions.include(db(), actor(), reading)
    flash(gettext("The reading is included again."))
    return redirect(url_for("sessions.session", session_id=reading.lift.session_id))
