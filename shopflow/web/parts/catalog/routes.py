"""The catalog of parts: the list, a part with its movements, counting and correcting its stock."""

from __future__ import annotations

from decimal import Decimal

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Part
from shopflow.services import audit_log
from shopflow.services.parts import catalog, needs, stock, suppliers
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.history.lines import of_record
from shopflow.web.parts import must_be_used
from shopflow.web.parts.catalog.forms import CorrectForm, CountForm, PartForm

blueprint = Blueprint("catalog", __name__, url_prefix="/parts")
blueprint.before_request(must_be_used)

FAR = 1_000_000


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Parts with their stock, those that run low first, narrowed by what is typed."""
    text = request.args.get("q", "").strip()
    skip = min(max(request.args.get("skip", 0, type=int), 0), FAR)
    rows = catalog.search(db(), text, skip=skip)
    return render_template(
        "catalog/index.html",
        rows=rows[: catalog.A_PAGE],
        text=text,
        earlier=max(skip - catalog.A_PAGE, 0) if skip else None,
        later=skip + catalog.A_PAGE if len(rows) > catalog.A_PAGE else None,
    )


@blueprint.get("/<int:part_id>")
def part(part_id: int) -> ResponseReturnValue:
    """One part: its stock, the heads that need it, and every movement."""
    row = catalog.get(db(), part_id)
    return render_template(
        "catalog/part.html",
        part=row,
        on_hand=stock.on_hand(db(), row),
        coming=needs.outstanding(db(), [row.id])[row.id],
        needs=[need for need in needs.of_part(db(), row) if need.left],
        movements=stock.movements(db(), row),
        log=of_record(audit_log.of_record(db(), row)),
    )


@blueprint.route("/new", methods=["GET", "POST"])
def add() -> ResponseReturnValue:
    """Add a part."""
    form = _form(None)
    if form.validate_on_submit():
        with faults_shown(form):
            row = catalog.add(db(), actor(), form.values)
            flash(gettext("Part added: {part}.", part=row.title))
            return _to_part(row)
    return form_page("catalog/form.html", form, part=None)


@blueprint.route("/<int:part_id>/change", methods=["GET", "POST"])
def change(part_id: int) -> ResponseReturnValue:
    """Change a part."""
    row = catalog.get(db(), part_id)
    form = _form(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            catalog.change(db(), actor(), row, form.values)
            flash(gettext("Part saved: {part}.", part=row.title))
            return _to_part(row)
    return form_page("catalog/form.html", form, part=row)


@blueprint.route("/<int:part_id>/count", methods=["GET", "POST"])
def count(part_id: int) -> ResponseReturnValue:
    """Set a part's stock to what was counted."""
    row = catalog.get(db(), part_id)
    form = CountForm()
    if form.validate_on_submit():
        with faults_shown(form):
            counted = Decimal(str(form.counted.data).strip())
            stock.count(db(), actor(), row, counted, form.why.data)
            return _moved(row)
    on_hand = stock.on_hand(db(), row)
    return form_page("catalog/count.html", form, part=row, on_hand=on_hand)


@blueprint.route("/<int:part_id>/correct", methods=["GET", "POST"])
def correct(part_id: int) -> ResponseReturnValue:
    """Add to a part's stock, or take from it, with the reason."""
    row = catalog.get(db(), part_id)
    form = CorrectForm()
    if form.validate_on_submit():
        with faults_shown(form):
            by = Decimal(str(form.change.data).strip())
            stock.correct(db(), actor(), row, by, form.why.data)
            return _moved(row)
    on_hand = stock.on_hand(db(), row)
    return form_page("catalog/correct.html", form, part=row, on_hand=on_hand)


def _moved(row: Part) -> ResponseReturnValue:
    needs.settle_holds(db(), actor(), [row.id])
    flash(gettext("Stock of {part}: {on_hand}.", part=row.title, on_hand=stock.on_hand(db(), row)))
    return _to_part(row)


def _to_part(row: Part) -> ResponseReturnValue:
    db().flush()
    return redirect(url_for("catalog.part", part_id=row.id))


def _form(row: Part | None) -> PartForm:
    return PartForm.over(row, get_shop(db()), suppliers.list_all(db()))
