"""Bench mode: choose head, port and bench by tapping, then take the test on one screen."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, make_response, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Visit
from shopflow.services.bench import (
    bench_checks,
    bench_days,
    sessions,
    test_drafts,
    test_names,
    testable_heads,
)
from shopflow.services.bench.testable_heads import TestableHead
from shopflow.services.counter import development
from shopflow.services.jobs import jobs
from shopflow.services.registry import casting_status, engine_types, heads
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.bench_mode import scans
from shopflow.web.bench.bench_mode.forms import MoveForm, NewHeadForm
from shopflow.web.bench.sessions import start, taking
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("bench_mode", __name__)


@blueprint.get("/bench")
def index() -> ResponseReturnValue:
    """Choose a head by tapping or scanning, or go on with a test left open."""
    label = scans.label_of(request.args.get("label", ""))
    rows = testable_heads.heads(db())
    own = development.standing(db())
    if any(label == tag for tag in [row.tag for row in rows] + [visit.tag for visit in own]):
        return redirect(url_for("bench_mode.ports", tag=label))
    form = NewHeadForm.offering(engine_types.list_all(db()))
    return _choice_of_heads(form, rows, own, label)


def _choice_of_heads(
    form: NewHeadForm, rows: list[TestableHead], own: list[Visit], label: str = ""
) -> ResponseReturnValue:
    begun = {visit.head_id for visit in own}
    return form_page(
        "bench_mode/index.html",
        form,
        heads=rows,
        own=own,
        spares=[head for head in casting_status.spares(db()) if head.id not in begun],
        label=label,
        drafts=[draft for draft in test_drafts.all_open(db()).values() if draft.reading_count],
        scans_open_bench=scans.opens_bench_mode(),
    )


@blueprint.post("/bench/own-heads")
def begin_own() -> ResponseReturnValue:
    """Begin the development of a casting that nobody booked in."""
    form = NewHeadForm.offering(engine_types.list_all(db()))
    if form.validate():
        with faults_shown(form):
            engine_type = engine_types.get(db(), int(form.engine_type.data))
            values = {"serial": form.serial.data}
            visit = development.begin_new(db(), actor(), engine_type, values)
            return redirect(url_for("bench_mode.ports", tag=visit.tag))
    return _choice_of_heads(form, testable_heads.heads(db()), development.standing(db()))


@blueprint.post("/bench/own-heads/<int:head_id>")
def begin_spare(head_id: int) -> ResponseReturnValue:
    """Begin the development of a casting on record."""
    visit = development.begin(db(), actor(), heads.get(db(), head_id))
    return redirect(url_for("bench_mode.ports", tag=visit.tag))


@blueprint.post("/bench/<tag>/end")
def end(tag: str) -> ResponseReturnValue:
    """End the development of a casting."""
    visit = jobs.visit(db(), tag)
    development.end(db(), actor(), visit)
    flash(gettext("The development of {tag} is ended. Its tests stay on the head.", tag=tag))
    return redirect(url_for("bench_mode.index"))


@blueprint.route("/bench/<tag>/move", methods=["GET", "POST"])
def move(tag: str) -> ResponseReturnValue:
    """Move the tests of a casting in development to a head on a job."""
    visit = jobs.visit(db(), tag)
    form = MoveForm.offering(development.offered_for(db(), visit))
    if form.validate_on_submit():
        with faults_shown(form):
            to = jobs.visit(db(), form.label.data)
            development.move_tests(db(), actor(), visit, to)
            flash(gettext("The tests of {tag} are on {to} now.", tag=tag, to=to.tag))
            return redirect(url_for("jobs.visit", tag=to.tag))
    return form_page("bench_mode/move.html", form, visit=visit)


@blueprint.post("/bench/scans")
def set_scans() -> ResponseReturnValue:
    """Set whether labels scanned with this device open bench mode."""
    answer = make_response(redirect(url_for("bench_mode.index")))
    return scans.remember(answer, opens=not scans.opens_bench_mode())


@blueprint.get("/bench/<tag>")
def ports(tag: str) -> ResponseReturnValue:
    """Choose the port to test, or continue the test left open."""
    visit = jobs.visit(db(), tag)
    draft = test_drafts.of_head(db(), visit)
    return render_template(
        "bench_mode/ports.html",
        visit=visit,
        ports=testable_heads.ports(visit),
        draft=draft if draft and draft.reading_count else None,
        saved=_saved(visit, request.args.get("saved", "")),
        stage=test_names.stage_name,
    )


def _saved(visit: Visit, key: str) -> int | None:
    """Key of the test just saved, where it is of this head."""
    return next((row.id for row in visit.sessions if str(row.id) == key), None)


@blueprint.get("/bench/<tag>/benches")
def benches(tag: str) -> ResponseReturnValue:
    """Choose the range of a bench; where there is no choice, go on."""
    visit = jobs.visit(db(), tag)
    port = start.chosen_port()
    if port is None:
        return redirect(url_for("bench_mode.ports", tag=tag))
    ranges = taking.ranges_in_use()
    last = sessions.latest(db(), visit)
    chosen: dict[str, Any] = {"tag": tag, "side": port.side, "cylinder": port.cylinder}
    if not ranges:
        return redirect(url_for("bench_mode.test", **chosen))
    return render_template(
        "bench_mode/benches.html",
        visit=visit,
        port=port,
        chosen=chosen,
        ranges=ranges,
        last=last,
        check_faults=bench_checks.faults,
        day_missing=lambda row: bench_days.missing_of_range(db(), row, today()),
        today=today(),
    )


@blueprint.route("/bench/<tag>/test", methods=["GET", "POST"])
def test(tag: str) -> ResponseReturnValue:
    """Take the test."""
    return taking.take(tag, taking.BENCH)
