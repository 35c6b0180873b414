"""Comparing any bench sessions of any heads."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import NotFoundError
from shopflow.models import BenchSession
from shopflow.services.analysis import comparisons, test_choice
from shopflow.services.analysis.comparisons import Member
from shopflow.services.bench import set_up_confirmations, set_ups, test_names
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.analysis.comparisons import worked
from shopflow.web.analysis.comparisons.figures import figures
from shopflow.web.analysis.comparisons.forms import ConfirmForm, SetUps
from shopflow.web.analysis.comparisons.query import MODES, Query, with_gain
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("comparisons", __name__)


@blueprint.get("/compare")
def index() -> ResponseReturnValue:
    """The sessions that the address names, side by side, and a picker for more."""
    query = Query.read(request.args)
    rows = test_choice.chosen(db(), query.keys)
    members = comparisons.members(rows)
    return render_template(
        "comparisons/index.html",
        asked=query,
        members=members,
        figures=figures(members, query, system()) if members else None,
        offered=test_choice.on_offer(db(), query.text, rows),
        modes=MODES,
        plots=with_gain(),
        most=test_choice.MOST,
        session_name=test_names.session_name,
        set_ups=_set_ups(rows),
    )


@blueprint.post("/compare/confirm")
def confirm() -> ResponseReturnValue:
    """Confirm that tests on unlike set-ups are meant to be compared."""
    query = Query.read(request.args)
    rows = test_choice.chosen(db(), query.keys)
    form = ConfirmForm()
    is_same = form.way.data == "same"
    if form.validate_on_submit():
        with faults_shown(form):
            set_up_confirmations.confirm(
                db(), actor(), rows, form.reason.data or "", is_same=is_same
            )
            flash(gettext("The comparison is confirmed."))
            return redirect(query.address())
    return form_page("comparisons/confirm.html", form, asked=query, set_ups=_set_ups(rows, form))


def _set_ups(rows: Sequence[BenchSession], form: ConfirmForm | None = None) -> SetUps:
    """Confirmations of the tests: the form where one is missing, and those there are."""
    waiting = set_up_confirmations.unconfirmed(rows)
    form = ConfirmForm() if form is None else form
    parts = [item for pair in waiting for item in set_ups.unlike(*pair)]
    if parts and all(item.is_half_stated for item in parts):
        form.offer_same()
    return SetUps(form if waiting else None, set_up_confirmations.among(db(), rows))


@blueprint.get("/compare/<int:number>/lifts/<int:place>")
def at_lift(number: int, place: int) -> ResponseReturnValue:
    """Show the calculation of a comparison at one lift, of the numbered pair or group."""
    query = Query.read(request.args)
    members = comparisons.members(test_choice.chosen(db(), query.keys))
    return _worked_out(query, members, worked.at_lift(members, query, number, place, system()))


@blueprint.get("/compare/<int:number>/parts/<name>")
def in_part(number: int, name: str) -> ResponseReturnValue:
    """Show the calculation of the means over a part of the lift, and of the gain in them."""
    query = Query.read(request.args)
    members = comparisons.members(test_choice.chosen(db(), query.keys))
    return _worked_out(query, members, worked.in_part(members, query, number, name, system()))


@blueprint.get("/heads/<tag>/compare")
def of_head(tag: str) -> ResponseReturnValue:
    """A head's sessions: a port as it came and as it is, or with `ports` its ports as they are."""
    visit = jobs.visit(db(), tag)
    if "ports" in request.args:
        return _to(test_choice.latest_of_ports([visit]), mode="ports")
    named = [request.args[name] for name in ("before", "after") if request.args.get(name)]
    of_head = {str(row.id): row for row in visit.sessions}
    if not of_head.keys() >= set(named):
        raise NotFoundError(gettext("this flow test is of another head"))
    if named:
        return _to([of_head[key] for key in named])
    return _to(test_choice.first_and_last(visit), q=None if visit.sessions else tag)


@blueprint.get("/jobs/<number>/compare")
def of_job(number: str) -> ResponseReturnValue:
    """A job's heads by their ports as they are now; of one head, each side before and after."""
    tested = [visit for visit in jobs.get(db(), number).heads if visit.sessions]
    if len(tested) == 1:
        return _to(test_choice.first_and_last(tested[0]))
    mode = "heads" if len(tested) == 2 else None
    return _to(test_choice.latest_of_ports(tested), mode=mode, q=None if tested else number)


def _worked_out(query: Query, members: list[Member], working: worked.Worked) -> ResponseReturnValue:
    return render_template(
        "comparisons/working.html", asked=query, members=members, working=working
    )


def _to(
    rows: list[BenchSession], mode: str | None = None, q: str | None = None
) -> ResponseReturnValue:
    keys = [row.id for row in rows]
    return redirect(url_for("comparisons.index", s=keys, mode=mode, q=q))
