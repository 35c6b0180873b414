"""Questions for customers: the counter's queue, and recording the answers."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.measuring import limit_checks
from shopflow.services.planning import questions
from shopflow.services.routing import decisions, operations
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.planning.questions.forms import AnswerForm

blueprint = Blueprint("questions", __name__)


@blueprint.get("/questions")
def index() -> ResponseReturnValue:
    """Everything the counter has to ask a customer, the oldest first."""
    return render_template("questions/index.html", questions=questions.open_questions(db()))


@blueprint.route("/steps/<int:operation_id>/answer", methods=["GET", "POST"])
def answer(operation_id: int) -> ResponseReturnValue:
    """Record a customer's answer: the head goes back to the workshop."""
    step = operations.get(db(), operation_id)
    form = AnswerForm()
    if form.validate_on_submit():
        with faults_shown(form):
            decisions.answer(db(), actor(), step, form.choice.data, form.reason.data)
            flash(
                gettext(
                    "Answer recorded: {kind}, {job_head}.",
                    job_head=step.job_head.tag,
                    kind=step.kind.name,
                )
            )
            return redirect(url_for("jobs.visit", tag=step.job_head.tag))
    return form_page(
        "questions/answer.html",
        form,
        step=step,
        question=limit_checks.question(step),
        figures=limit_checks.undecided(step),
    )
