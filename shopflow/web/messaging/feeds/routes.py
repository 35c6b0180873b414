"""A person's calendar address: made, renewed and revoked; and what is found at it."""

from __future__ import annotations

from flask import Blueprint, Response, abort, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import NotFoundError
from shopflow.services.messaging import feeds
from shopflow.services.shop import opening_hours
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.web.auth import actor, signed_in
from shopflow.web.db import db
from shopflow.web.forms import Form, faults_shown, form_page
from shopflow.web.headers import PRIVATE
from shopflow.web.messaging.feeds.ical import calendar

blueprint = Blueprint("feeds", __name__)


@blueprint.get("/calendar/<token>.ics")
def feed(token: str) -> Response:
    """The promised dates of open jobs, for anyone with the address."""
    try:
        feeds.opened_by(db(), token)
    except NotFoundError:
        words = gettext("This calendar address does not work. Create a new one in shopflow.\n")
        abort(Response(words, 404, PRIVATE, content_type="text/plain; charset=utf-8"))
    names = opening_hours.the_hours(db()).calendar_names
    name = gettext("Promised, {get_shop}", get_shop=get_shop(db()).name)
    content = calendar(name, feeds.promises(db(), names=names))
    return Response(content, content_type="text/calendar; charset=utf-8", headers=PRIVATE)


@blueprint.get("/me/calendar")
def own() -> ResponseReturnValue:
    """Show the user's calendar address, with the ways to create or revoke it."""
    return _page(Form())


@blueprint.post("/me/calendar")
def make() -> ResponseReturnValue:
    """Make an address, in place of the one before; it is shown this once."""
    form = Form()
    if not form.validate_on_submit():
        return _page(form)
    _, token = feeds.make(db(), actor(), signed_in())
    address = url_for("feeds.feed", token=token, _external=True)
    web = get_shop(db()).web_address
    if web:
        address = web + url_for("feeds.feed", token=token)
    page = render_template("feeds/made.html", address=address, reachable=bool(web))
    return page, {"Cache-Control": "no-store", "Content-Location": url_for("feeds.own")}


@blueprint.post("/me/calendar/revoke")
def revoke() -> ResponseReturnValue:
    """Shut the address for good."""
    form = Form()
    if form.validate_on_submit():
        with faults_shown(form):
            feeds.revoke(db(), actor(), signed_in())
            flash(gettext("The calendar address is revoked. Calendars that use it no longer work."))
            return redirect(url_for("feeds.own"))
    return _page(form)


def _page(form: Form) -> ResponseReturnValue:
    return form_page(
        "feeds/own.html",
        form,
        feed=feeds.of_person(db(), signed_in()),
        names=opening_hours.the_hours(db()).calendar_names,
    )
