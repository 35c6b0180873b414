"""Customers: the list, the page of one with its jobs, adding and changing."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.documents import countries
from shopflow.services import audit_log
from shopflow.services.billing import ledger
from shopflow.services.registry import customers
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.history.lines import of_record
from shopflow.web.registry.customers.forms import CustomerForm

blueprint = Blueprint("customers", __name__, url_prefix="/customers")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Customers by name, narrowed by what is typed."""
    text = request.args.get("q", "").strip()
    rows = customers.list_all(db(), text)
    return render_template("customers/index.html", customers=rows, text=text)


@blueprint.get("/<int:customer_id>")
def customer(customer_id: int) -> ResponseReturnValue:
    """One customer, and the jobs they brought."""
    row = customers.get(db(), customer_id)
    log = of_record(audit_log.of_record(db(), row))
    balance = ledger.balance_of_customer(db(), row)
    return render_template(
        "customers/customer.html",
        customer=row,
        log=log,
        balance=balance,
        country=countries.name,
    )


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Add a customer."""
    form = CustomerForm()
    if form.validate_on_submit():
        with faults_shown(form):
            row = customers.create(db(), actor(), form.values)
            flash(gettext("{row} was added.", row=row.name))
            return redirect(url_for("customers.customer", customer_id=row.id))
    return form_page("customers/form.html", form, customer=None)


@blueprint.route("/<int:customer_id>/change", methods=["GET", "POST"])
def change(customer_id: int) -> ResponseReturnValue:
    """Change a customer."""
    row = customers.get(db(), customer_id)
    form = CustomerForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            customers.change(db(), actor(), row, form.values)
            flash(gettext("{row} is saved.", row=row.name))
            return redirect(url_for("customers.customer", customer_id=row.id))
    return form_page("customers/form.html", form, customer=row)
