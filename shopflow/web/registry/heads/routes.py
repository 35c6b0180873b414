"""Heads: the page of a casting with its whole life, and what is known of it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services import audit_log
from shopflow.services.analysis import since_stock
from shopflow.services.bench import test_names
from shopflow.services.registry import attachments, castings, heads
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.history.lines import of_record
from shopflow.web.registry.heads import life
from shopflow.web.registry.heads.forms import HeadForm

blueprint = Blueprint("heads", __name__, url_prefix="/heads")


@blueprint.get("/<int:head_id>")
def head(head_id: int) -> ResponseReturnValue:
    """One casting: its owners, and its visits in the shop."""
    row = heads.get(db(), head_id)
    return render_template(
        "heads/head.html",
        head=row,
        visits=heads.history(db(), row),
        owner=heads.owner(row),
        casting_state=castings.state_of(row),
        life=life.of_head(row),
        since_stock=since_stock.since_stock(row),
        stage_name=test_names.stage_name,
        files=attachments.of_head(db(), row),
        log=of_record(audit_log.of_record(db(), row)),
    )


@blueprint.route("/<int:head_id>/change", methods=["GET", "POST"])
def change(head_id: int) -> ResponseReturnValue:
    """Change what is known of a casting."""
    row = heads.get(db(), head_id)
    form = HeadForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            heads.change(db(), actor(), row, form.values)
            flash(gettext("The head is saved."))
            return redirect(url_for("heads.head", head_id=row.id))
    return form_page("heads/form.html", form, head=row)
