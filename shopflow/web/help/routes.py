"""The guide: its pages, written in Markdown, which are readable in the tree too."""

from __future__ import annotations

from flask import Blueprint, abort, render_template
from flask.typing import ResponseReturnValue

from shopflow.web.help import guide

blueprint = Blueprint("help", __name__)


@blueprint.get("/help/")
def index() -> ResponseReturnValue:
    """Show the first page of the guide."""
    return page(guide.PAGES[0])


@blueprint.get("/help/<name>")
def page(name: str) -> ResponseReturnValue:
    """Show one page of the guide; 404 if there is no such page."""
    if name not in guide.PAGES:
        abort(404)
    return render_template("help/page.html", page=guide.read(name), pages=guide.titles(), name=name)
