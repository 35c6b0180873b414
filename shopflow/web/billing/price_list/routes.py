"""The price list: looking at it, adding, changing and removing prices."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import PriceEntry
from shopflow.services.billing import price_list
from shopflow.services.registry import engine_types
from shopflow.services.routing import work_plans
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.price_list.forms import PriceForm
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("price_list", __name__, url_prefix="/price-list")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every price, and the work plan templates that are packages."""
    return render_template(
        "price_list/index.html",
        entries=price_list.everything(db()),
        packages=[row for row in work_plans.list_all(db()) if row.package_price is not None],
    )


@blueprint.route("/new", methods=["GET", "POST"])
def add() -> ResponseReturnValue:
    """Add a price."""
    form = _form(None)
    if form.validate_on_submit():
        with faults_shown(form):
            entry = price_list.add(db(), actor(), form.values)
            db().flush()
            flash(gettext("Price added: {name}.", name=entry.title))
            return redirect(url_for("price_list.index"))
    return form_page("price_list/form.html", form, entry=None)


@blueprint.route("/<int:entry_id>/change", methods=["GET", "POST"])
def change(entry_id: int) -> ResponseReturnValue:
    """Change a price; what was priced by it keeps its own."""
    entry = price_list.get(db(), entry_id)
    form = _form(entry)
    if form.validate_on_submit():
        with faults_shown(form, entry):
            price_list.change(db(), actor(), entry, form.values)
            db().flush()
            flash(gettext("Price saved: {name}.", name=entry.title))
            return redirect(url_for("price_list.index"))
    return form_page("price_list/form.html", form, entry=entry)


@blueprint.post("/<int:entry_id>/remove")
def remove(entry_id: int) -> ResponseReturnValue:
    """Take a price off the list."""
    entry = price_list.get(db(), entry_id)
    name = entry.title
    price_list.remove(db(), actor(), entry)
    flash(gettext("Price removed: {name}.", name=name))
    return redirect(url_for("price_list.index"))


def _form(entry: PriceEntry | None) -> PriceForm:
    kinds = built_in_kinds.operation_kinds(db())
    own = [entry.kind] if entry and entry.kind and not entry.kind.active else []
    return PriceForm.over(entry, [*kinds, *own], engine_types.list_all(db()))
