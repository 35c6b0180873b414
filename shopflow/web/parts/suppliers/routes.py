"""Suppliers: the list, adding and changing them."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.parts import suppliers
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.parts import must_be_used
from shopflow.web.parts.suppliers.forms import SupplierForm

blueprint = Blueprint("suppliers", __name__, url_prefix="/suppliers")
blueprint.before_request(must_be_used)


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every supplier by name."""
    return render_template("suppliers/index.html", suppliers=suppliers.list_all(db()))


@blueprint.route("/new", methods=["GET", "POST"])
def add() -> ResponseReturnValue:
    """Add a supplier."""
    form = SupplierForm()
    if form.validate_on_submit():
        with faults_shown(form):
            row = suppliers.add(db(), actor(), form.values)
            flash(gettext("Supplier added: {name}.", name=row.name))
            return redirect(url_for("suppliers.index"))
    return form_page("suppliers/form.html", form, supplier=None)


@blueprint.route("/<int:supplier_id>/change", methods=["GET", "POST"])
def change(supplier_id: int) -> ResponseReturnValue:
    """Change a supplier."""
    row = suppliers.get(db(), supplier_id)
    form = SupplierForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            suppliers.change(db(), actor(), row, form.values)
            flash(gettext("Supplier saved: {name}.", name=row.name))
            return redirect(url_for("suppliers.index"))
    return form_page("suppliers/form.html", form, supplier=row)
