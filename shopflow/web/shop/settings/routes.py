"""The shop's settings."""

from __future__ import annotations

from pathlib import Path

from flask import Blueprint, Response, current_app, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow import signing, texts
from shopflow.errors import NotFoundError
from shopflow.services.shop import house_style as styles
from shopflow.services.shop import opening_hours
from shopflow.services.shop import settings as shop_settings
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db, no_transaction
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.shop.settings.forms import ShopForm
from shopflow.web.shop.settings.hours import HoursForm
from shopflow.web.shop.settings.house_style import HouseStyleForm

blueprint = Blueprint("shop", __name__)


@blueprint.route("/shop", methods=["GET", "POST"])
def settings() -> ResponseReturnValue:
    """Show and change how the shop is named and likes its figures."""
    row = shop_settings.get_shop(db())
    form = ShopForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            shop_settings.change(db(), actor(), row, form.values)
            # The next page is in the language just chosen.
            texts.speak(row.language)
            flash(gettext("The shop settings are saved."))
            return redirect(url_for("shop.settings"))
    return form_page("shop/settings.html", form, signs=signing.has_key(_folder()))


@blueprint.post("/shop/signing-key")
def make_key() -> ResponseReturnValue:
    """Make the key that signs the shop's documents."""
    digest = signing.make_key(_folder(), shop_settings.get_shop(db()).name, actor().at)
    flash(
        gettext(
            "Documents will be signed from now on. SHA-256 of the key's certificate: {digest}",
            digest=digest,
        )
    )
    return redirect(url_for("shop.settings"))


def _folder() -> Path:
    folder: Path = current_app.config["SHOPFLOW"].data
    return folder


@blueprint.route("/shop/house-style", methods=["GET", "POST"])
def house_style() -> ResponseReturnValue:
    """Show and change how the shop's papers look and what money papers say."""
    style = styles.the_style(db())
    form = HouseStyleForm(obj=style)
    if form.validate_on_submit():
        with faults_shown(form, style):
            with no_transaction():
                content = form.logo_file.data.read() if form.logo_file.data else b""
                logo = styles.picture(content) if content else b""
            styles.change(db(), actor(), style, form.style_values)
            if form.no_logo.data or content:
                styles.set_logo(db(), actor(), style, logo)
            flash(gettext("The house style is saved. New documents will use it."))
            return redirect(url_for("shop.house_style"))
    return form_page("shop/house_style.html", form, style=style)


@blueprint.route("/shop/hours", methods=["GET", "POST"])
def hours() -> ResponseReturnValue:
    """Show and change when the shop is open, and how many work in it."""
    row = opening_hours.the_hours(db())
    form = HoursForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            opening_hours.change(db(), actor(), row, form.values)
            flash(gettext("The opening hours are saved. The floor now uses them."))
            return redirect(url_for("shop.hours"))
    return form_page("shop/hours.html", form)


@blueprint.get("/shop/logo.png")
def logo() -> Response:
    """The logo on record."""
    style = styles.the_style(db())
    if not style.logo:
        raise NotFoundError(gettext("there is no logo yet: add one in House style"))
    return Response(style.logo, mimetype="image/png")
