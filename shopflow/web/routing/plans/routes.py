"""A head's work plan: copied from another head or job, saved as a template."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.jobs import jobs
from shopflow.services.routing import like_heads, operations, work_plans
from shopflow.services.search import plans
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.routing.like_heads import meant, named
from shopflow.web.routing.plans.forms import CopyForm, TemplateForm

blueprint = Blueprint("plans", __name__)


@blueprint.route("/heads/<tag>/work-plan/copy", methods=["GET", "POST"])
def copy(tag: str) -> ResponseReturnValue:
    """Add the steps of another head, chosen by its label or a search."""
    visit = jobs.visit(db(), tag)
    text = request.args.get("q", "")
    form = CopyForm.offering(visit, plans.to_copy(db(), visit, text))
    if form.is_submitted() and form.validate():
        if not form.chosen:
            form.source.errors = [gettext("choose the head whose plan to copy")]
        else:
            with faults_shown(form):
                heads = meant(form, visit)
                past = jobs.visit(db(), form.chosen)
                steps = like_heads.add_like(db(), actor(), heads, past)
                flash(
                    ngettext(
                        "Plan of {label}: {num} step added{heads}.",
                        "Plan of {label}: {num} steps added{heads}.",
                        len(steps),
                        label=past.tag,
                        heads=named(heads),
                    )
                )
                return redirect(url_for("jobs.visit", tag=tag, _anchor="routing"))
    return form_page("plans/copy.html", form, visit=visit, text=text)


@blueprint.route("/heads/<tag>/work-plan/template", methods=["GET", "POST"])
def save_template(tag: str) -> ResponseReturnValue:
    """Save a head's plan as a template."""
    visit = jobs.visit(db(), tag)
    form = TemplateForm()
    if form.validate_on_submit():
        with faults_shown(form):
            row = work_plans.save_plan(
                db(),
                actor(),
                visit,
                form.name.data,
                form.notes.data,
                with_prices=form.prices.data,
            )
            flash(gettext("{template} is saved as a template.", template=row.name))
            return redirect(url_for("jobs.visit", tag=tag, _anchor="routing"))
    steps = operations.steps_to_copy(visit)
    return form_page("plans/template.html", form, visit=visit, steps=steps)
