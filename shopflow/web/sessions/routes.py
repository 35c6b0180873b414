"""Bench sessions: taking one, looking at it, comparing two."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow import sessionfile
from shopflow.errors import FaultsError, NotFoundError
from shopflow.models import BenchSession, JobHead, Operation
from shopflow.services import benches, budgets, jobs, outcomes, sessions
from shopflow.services.reading import hints_on
from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.auth import actor, signed_in
from shopflow.web.context import local_zone, system, today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page, show_faults
from shopflow.web.sessions.figures import (
    comparison_figures,
    session_figures,
    trial_figures,
)
from shopflow.web.sessions.forms import ExcludeForm, SessionForm, UploadForm, start_values

blueprint = Blueprint("sessions", __name__)


@blueprint.route("/heads/<tag>/test", methods=["GET", "POST"])
def new(tag: str) -> ResponseReturnValue:
    """Take a flow test: set up, read, keep."""
    stay = jobs.visit(db(), tag)
    form = SessionForm.for_head(stay, None if request.method == "POST" else _start(stay))
    figures = None
    if form.more_rows.data:
        for _ in range(5):
            if len(form.rows) < form.rows.max_entries:
                form.rows.append_entry()
    elif form.is_submitted():
        sound = form.validate()
        with faults_shown(form):
            # Every fault is shown in one go: the readings' beside the missing fields'.
            document = form.document(stay.head.engine_type.title, stay.head.identity)
            if sound and form.save.data:
                made = sessions.store(db(), actor(), stay, document, _followed(stay, form))
                flash("The session is kept.")
                return redirect(url_for("sessions.session", session_id=made.id))
            if sound:
                figures = trial_figures(document, _yardstick(stay, document.side))
    return form_page(
        "sessions/new.html",
        form,
        stay=stay,
        upload=UploadForm(),
        figures=figures,
        benches=[bench for bench in benches.everyone(db()) if bench.active],
        today=today(),
    )


@blueprint.post("/heads/<tag>/test/worked-out")
def worked_out(tag: str) -> ResponseReturnValue:
    """The figures of what is typed so far, for the page to show beside the form."""
    stay = jobs.visit(db(), tag)
    form = SessionForm.for_head(stay, None)
    try:
        document = form.document(stay.head.engine_type.title, stay.head.identity)
    except FaultsError as error:
        return render_template(
            "sessions/parts/unfinished.html", faults=error.faults[:6], labels=form.labels
        )
    figures = trial_figures(document, _yardstick(stay, document.side))
    return render_template("sessions/parts/figures.html", figures=figures)


@blueprint.post("/heads/<tag>/test/file")
def upload(tag: str) -> ResponseReturnValue:
    """Store a session file."""
    stay = jobs.visit(db(), tag)
    form = UploadForm()
    if form.validate_on_submit() and form.file.data:
        try:
            document = sessionfile.loads(form.file.data.read())
            made = sessions.store(db(), actor(), stay, document)
            flash("The session file is kept, exactly as typed.")
            return redirect(url_for("sessions.session", session_id=made.id))
        except FaultsError as error:
            show_faults(form, FaultsError(error.faults))
    else:
        form.file.errors = ["choose a session file"]
    return form_page("sessions/upload.html", form, stay=stay)


@blueprint.get("/sessions/<int:session_id>")
def session(session_id: int) -> ResponseReturnValue:
    """One session: its figures, curves and readings."""
    row = sessions.get(db(), session_id)
    same_side = [other for other in row.job_head.sessions if other.side == row.side]
    return render_template(
        "sessions/session.html",
        session=row,
        stay=row.job_head,
        others=[other for other in row.job_head.sessions if other is not row],
        figures=session_figures(row, same_side),
        budget=budgets.of_session(row),
        hints=hints_on(row),
        form=ExcludeForm(),
        name=outcomes.session_name,
    )


@blueprint.get("/sessions/<int:session_id>/file")
def export(session_id: int) -> ResponseReturnValue:
    """The session as a file."""
    row = sessions.get(db(), session_id)
    text = sessionfile.dumps(sessions.document(row))
    headers = {"Content-Disposition": f'attachment; filename="session-{row.id}.toml"'}
    return Response(text, mimetype="application/toml", headers=headers)


@blueprint.post("/sessions/readings/<int:reading_id>/exclude")
def exclude(reading_id: int) -> ResponseReturnValue:
    """Leave a reading out, with the reason."""
    reading = sessions.get_reading(db(), reading_id)
    session_id = reading.lift.session_id
    form = ExcludeForm()
    if form.validate_on_submit():
        with faults_shown(form):
            sessions.exclude(db(), actor(), reading, form.reason.data or "")
            flash("The reading is left out; the figures are worked out anew.")
            return redirect(url_for("sessions.session", session_id=session_id))
    return form_page("sessions/exclude.html", form, reading=reading, session_id=session_id)


@blueprint.post("/sessions/readings/<int:reading_id>/include")
def include(reading_id: int) -> ResponseReturnValue:
    """Count a reading again."""
    reading = sessions.get_reading(db(), reading_id)
    sessions.include(db(), actor(), reading)
    flash("The reading counts again.")
    return redirect(url_for("sessions.session", session_id=reading.lift.session_id))


@blueprint.get("/heads/<tag>/compare")
def compare(tag: str) -> ResponseReturnValue:
    """Two sessions of a head against each other."""
    stay = jobs.visit(db(), tag)
    chosen = [_of_head(stay, request.args.get(name, "")) for name in ("before", "after")]
    before, after = chosen
    if before is None and after is None and len(stay.sessions) > 1:
        before, after = _first_and_last(stay)
    figures = comparison_figures(before, after) if before and after else None
    return render_template(
        "sessions/compare.html",
        stay=stay,
        before=before,
        after=after,
        figures=figures,
        name=outcomes.session_name,
    )


def _of_head(stay: JobHead, key: str) -> BenchSession | None:
    """One of the head's sessions by the key in the address."""
    if not key:
        return None
    found = [row for row in stay.sessions if str(row.id) == key]
    if not found:
        raise NotFoundError("that head has no such session")
    return found[0]


def _first_and_last(stay: JobHead) -> tuple[BenchSession, BenchSession]:
    """What one most often wants to see: a port as received and as it is now."""
    last = stay.sessions[-1]
    same = [row for row in stay.sessions if (row.side, row.cylinder) == (last.side, last.cylinder)]
    return (same[0], last) if len(same) > 1 else (stay.sessions[0], last)


def _yardstick(stay: JobHead, side: str) -> BenchSession | None:
    """The session a new one is held against: the latest of its side."""
    same = [row for row in stay.sessions if row.side == side]
    return same[-1] if same else None


def _followed(stay: JobHead, form: SessionForm) -> Operation | None:
    return next((step for step in stay.operations if str(step.id) == form.after.data), None)


def _start(stay: JobHead) -> dict[str, Any]:
    """Values to start from: the head's last session, else a blank set-up; the bench as asked."""
    last = sessions.latest(db(), stay)
    values = start_values(sessions.document(last)) if last else _blank()
    values["operator"] = signed_in().name
    values["measured_at"] = f"{datetime.now(local_zone()):%Y-%m-%d %H:%M}"
    values["stage"], values["title"] = "", ""
    done = [step for step in stay.operations if not step.is_open]
    values["after"] = str(done[-1].id) if done else ""
    range_id = request.args.get("range", "")
    if range_id.isdecimal() and int(range_id) <= LARGEST_KEY:
        _use_range(values, int(range_id))
    return values


def _blank() -> dict[str, Any]:
    """A set-up in the shop's own units."""
    us = system().unit("flow") == "cfm"
    return {
        "air": {"humidity": "50 %"},
        "valve": {"count": "1"},
        "bench": {"test_pressure": "28 inH2O", "leakage": "0 cfm", "calibration_factor": "1.0"},
        "lift_unit": "in" if us else "mm",
        "flow_unit": "cfm" if us else "L/s",
        "rows": [{"lift": f"{0.05 * step:.3f}" if us else str(step)} for step in range(1, 11)],
    }


def _use_range(values: dict[str, Any], range_id: int) -> None:
    """Set up for a range of a bench, with the calibration in force today."""
    chosen = benches.get_range(db(), range_id)
    bench = values["bench"] = {**values.get("bench", {}), "name": chosen.bench.name}
    bench["reading"] = chosen.bench.reading.value
    if chosen.full_scale is not None:
        bench["range"] = chosen.full_scale.text
        values["flow_unit"] = "%"
    calibration = chosen.calibration_on(today())
    if calibration is not None:
        bench["calibration_id"] = calibration.identifier
        bench["calibration_factor"] = str(calibration.factor)
        stated = calibration.expanded_uncertainty.text
        values["uncertainty"] = {**values.get("uncertainty", {}), "calibration": stated}
