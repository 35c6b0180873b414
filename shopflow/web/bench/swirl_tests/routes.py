"""Swirl and tumble tests of a head: listed, added, shown, compared and discarded."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.papers import swirl
from shopflow.services.bench import swirl_tests
from shopflow.services.engine import swirl_comparison, swirl_sheets
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.swirl_tests.forms import CompareForm, SwirlTestForm, motion_name
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("swirl_tests", __name__)


@blueprint.get("/heads/<tag>/swirl")
def index(tag: str) -> ResponseReturnValue:
    """The swirl and tumble tests of a head."""
    visit = jobs.visit(db(), tag)
    rows = swirl_tests.of_visit(db(), visit)
    return render_template(
        "swirl_tests/index.html",
        visit=visit,
        tests=[(row, motion_name(row), swirl_sheets.result(db(), row)) for row in rows],
        is_testable=bool(swirl_tests.testable(visit)),
        with_margin=swirl.with_margin,
    )


@blueprint.route("/heads/<tag>/swirl/new", methods=["GET", "POST"])
def create(tag: str) -> ResponseReturnValue:
    """Add a swirl or tumble test from a meter's readings."""
    visit = jobs.visit(db(), tag)
    form = SwirlTestForm.of(visit, swirl_tests.latest(db()))
    if form.validate_on_submit():
        with faults_shown(form):
            operations.must_be_open(visit)
            row = swirl_tests.add(db(), actor(), visit, form.values)
            flash(gettext("The test is saved."))
            return redirect(url_for("swirl_tests.swirl_test", swirl_test_id=row.id))
    return form_page("swirl_tests/form.html", form, visit=visit)


@blueprint.get("/swirl-tests/<int:swirl_test_id>")
def swirl_test(swirl_test_id: int) -> ResponseReturnValue:
    """A swirl or tumble test with its results, beside an earlier one where there is one."""
    row = swirl_tests.get(db(), swirl_test_id)
    content, units = swirl_sheets.result(db(), row), system()
    others = swirl_comparison.offered(db(), row)
    form = CompareForm.from_query(request.args, others, swirl_comparison.suggested(row, others))
    before = next((other for other in others if str(other.id) == form.before.data), None)
    return render_template(
        "swirl_tests/test.html",
        row=row,
        visit=row.session.job_head,
        content=content,
        name=swirl.name(content),
        chart=draw(swirl.chart(content, units), "swirl"),
        about_test=swirl.about_test(content, units),
        figures=swirl.figures(content, units),
        remarks=swirl.remarks(content),
        titles=swirl.titles(content, units),
        rows=swirl.rows(content, units),
        about=swirl.ABOUT,
        formulas=swirl.formulas(content),
        form=form,
        compared=None if before is None else swirl_comparison.compared(before, row),
        with_margin=swirl.with_margin,
    )


@blueprint.post("/swirl-tests/<int:swirl_test_id>/discard")
def discard(swirl_test_id: int) -> ResponseReturnValue:
    """Discard a test that was entered by mistake."""
    row = swirl_tests.get(db(), swirl_test_id)
    tag = row.session.job_head.tag
    swirl_tests.discard(db(), actor(), row)
    flash(gettext("The test is discarded."))
    return redirect(url_for("swirl_tests.index", tag=tag))
