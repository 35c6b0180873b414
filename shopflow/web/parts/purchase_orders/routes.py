"""Purchase orders: what to order, drafting, placing, receiving and cancelling."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import PurchaseOrder, StockMovement
from shopflow.services import audit_log
from shopflow.services.parts import catalog, orders, suppliers
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.history.lines import of_record
from shopflow.web.parts import must_be_used
from shopflow.web.parts.purchase_orders.forms import (
    CancelOrderForm,
    StartForm,
    draft_form,
    receive_form,
)

blueprint = Blueprint("purchase_orders", __name__, url_prefix="/purchase-orders")
blueprint.before_request(must_be_used)


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Parts to order of each supplier, and the orders."""
    return render_template(
        "purchase_orders/index.html",
        wanted=orders.wanted(db()),
        orders=orders.recent(db()),
        state=lambda order: orders.expected(order, today()),
    )


@blueprint.route("/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Begin an order of a supplier with what is wanted of it."""
    form = StartForm.offering(suppliers.list_all(db(), active=True))
    if form.validate_on_submit():
        with faults_shown(form):
            return _draft(int(form.supplier_id.data))
    return form_page("purchase_orders/new.html", form)


@blueprint.post("/of-supplier/<int:supplier_id>")
def draft(supplier_id: int) -> ResponseReturnValue:
    """Begin an order with all that is wanted of a supplier."""
    return _draft(supplier_id)


def _draft(supplier_id: int) -> ResponseReturnValue:
    supplier = suppliers.get(db(), supplier_id)
    wanted = orders.wanted(db()).get(supplier, [])
    order = orders.draft(db(), actor(), supplier, wanted)
    flash(gettext("Order {number} is a draft: check it, then place it.", number=order.number))
    return _to_order(order)


@blueprint.get("/<number>")
def order(number: str) -> ResponseReturnValue:
    """One order: its lines, what came and what is to come."""
    row = orders.get(db(), number)
    if row.is_draft:
        return redirect(url_for("purchase_orders.change", number=number))
    return render_template(
        "purchase_orders/order.html",
        order=row,
        state=orders.expected(row, today()),
        log=of_record(audit_log.of_record(db(), row)),
    )


@blueprint.route("/<number>/change", methods=["GET", "POST"])
def change(number: str) -> ResponseReturnValue:
    """Change a draft, add a part to it, and place it."""
    row = orders.get(db(), number)
    form = draft_form(row, catalog.offered(db()))
    if form.validate_on_submit():
        with faults_shown(form):
            orders.change(db(), actor(), row, form.order_values, form.lines)
            if form.added:
                orders.add_line(db(), actor(), row, form.added)
            if form.place.data:
                orders.issue(db(), actor(), row)
                flash(gettext("Order {number} is placed.", number=row.number))
            else:
                flash(gettext("Order {number} is saved.", number=row.number))
            return _to_order(row)
    return form_page("purchase_orders/change.html", form, order=row)


@blueprint.route("/<number>/receive", methods=["GET", "POST"])
def receive(number: str) -> ResponseReturnValue:
    """Put what came on the shelf, line by line."""
    row = orders.get(db(), number)
    form = receive_form(row)
    if form.validate_on_submit():
        with faults_shown(form):
            return _received(row, orders.receive(db(), actor(), row, form.quantities))
    return form_page("purchase_orders/receive.html", form, order=row)


@blueprint.post("/<number>/receive-all")
def receive_all(number: str) -> ResponseReturnValue:
    """Put all that is to come on the shelf."""
    row = orders.get(db(), number)
    return _received(row, orders.receive(db(), actor(), row))


def _received(row: PurchaseOrder, moved: list[StockMovement]) -> ResponseReturnValue:
    parts = ", ".join(f"{item.change} {item.part.name}" for item in moved)
    flash(gettext("Received: {parts}.", parts=parts))
    return _to_order(row)


@blueprint.post("/lines/<int:line_id>/cancel")
def cancel_rest(line_id: int) -> ResponseReturnValue:
    """Cancel what is still to come on a line."""
    line = orders.get_line(db(), line_id)
    orders.cancel_rest(db(), actor(), line)
    flash(gettext("Back order cancelled: {part}.", part=line.description))
    return _to_order(line.order)


@blueprint.route("/<number>/cancel", methods=["GET", "POST"])
def cancel(number: str) -> ResponseReturnValue:
    """Cancel an order, saying why."""
    row = orders.get(db(), number)
    form = CancelOrderForm()
    if form.validate_on_submit():
        with faults_shown(form):
            orders.cancel(db(), actor(), row, form.cancel_reason.data)
            flash(gettext("Order {number} is cancelled.", number=row.number))
            return _to_order(row)
    return form_page("purchase_orders/cancel.html", form, order=row)


def _to_order(row: PurchaseOrder) -> ResponseReturnValue:
    return redirect(url_for("purchase_orders.order", number=row.number))
