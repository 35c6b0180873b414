"""The shop's settings."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, current_app, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow import signing
from shopflow.services import shop
from shopflow.web.auth import actor
from shopflow.web.db import db, edited_from
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.shop.forms import ShopForm

blueprint = Blueprint("shop", __name__)


@blueprint.route("/shop", methods=["GET", "POST"])
def settings() -> ResponseReturnValue:
    """Show and change how the shop is named and likes its figures."""
    row = shop.settled(db())
    form = ShopForm(obj=row)
    if form.validate_on_submit():
        edited_from(row, form.version.data)
        with faults_shown(form, row):
            shop.change(db(), actor(), row, form.values)
            flash("The shop's settings are saved.")
            return redirect(url_for("shop.settings"))
    return form_page("shop/settings.html", form, signs=signing.has_key(_folder()))


@blueprint.post("/shop/signing-key")
def make_key() -> ResponseReturnValue:
    """Make the key that signs the shop's certificates."""
    digest = signing.make_key(_folder(), shop.settled(db()).name, actor().at)
    flash(f"Certificates are signed from now on. SHA-256 of the key's certificate: {digest}")
    return redirect(url_for("shop.settings"))


def _folder() -> Path:
    folder: Path = current_app.config["SHOPFLOW"].data
    return folder
