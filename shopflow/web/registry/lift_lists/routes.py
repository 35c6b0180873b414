"""Saved lists of lifts: the list, making one, changing and removing one."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.registry import lift_lists
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.registry.lift_lists.forms import LiftListForm

blueprint = Blueprint("lift_lists", __name__, url_prefix="/lift-lists")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every saved list."""
    return render_template("lift_lists/index.html", lists=lift_lists.list_all(db()))


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Save a list."""
    form = LiftListForm(data={"unit": system().unit("lift")})
    if form.validate_on_submit():
        with faults_shown(form):
            lift_list = lift_lists.create(db(), actor(), form.values)
            flash(gettext("{lift_list} is saved.", lift_list=lift_list.name))
            return redirect(url_for("lift_lists.index"))
    return form_page("lift_lists/form.html", form, row=None)


@blueprint.route("/<int:list_id>/change", methods=["GET", "POST"])
def change(list_id: int) -> ResponseReturnValue:
    """Change a list; tests taken by it keep their lifts."""
    row = lift_lists.get(db(), list_id)
    form = LiftListForm.over(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            lift_lists.change(db(), actor(), row, form.values)
            flash(gettext("{row} is saved.", row=row.name))
            return redirect(url_for("lift_lists.index"))
    return form_page("lift_lists/form.html", form, row=row)


@blueprint.post("/<int:list_id>/remove")
def remove(list_id: int) -> ResponseReturnValue:
    """Take a list off."""
    row = lift_lists.get(db(), list_id)
    lift_lists.remove(db(), actor(), row)
    flash(gettext("{row} was removed. Tests made with it keep their lifts.", row=row.name))
    return redirect(url_for("lift_lists.index"))
