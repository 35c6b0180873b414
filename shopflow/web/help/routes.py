"""The guide: its pages, written in Markdown, which are readable in the tree too."""

from __future__ import annotations

from flask import Blueprint, Response, abort, render_template, request, send_from_directory
from flask.typing import ResponseReturnValue

from shopflow.resources import GUIDE
from shopflow.web.help import guide

blueprint = Blueprint("help", __name__)
blueprint.add_app_template_global(guide.glossary, "glossary")


@blueprint.get("/help/")
def index() -> ResponseReturnValue:
    """Show the first page of the guide, or what a search of the guide finds."""
    text = request.args.get("q", "").strip()
    if not text:
        return page(guide.PAGES[0])
    return render_template(
        "help/search.html", text=text, hits=guide.search(text), **_contents(), name=""
    )


@blueprint.get("/help/<path:name>")
def page(name: str) -> ResponseReturnValue:
    """Show one page of the guide; 404 if there is no such page."""
    if name not in (*guide.PAGES, *guide.HOW_TOS):
        abort(404)
    return render_template(
        "help/page.html", page=guide.read(name), **_contents(), name=name, text=""
    )


@blueprint.get("/help/how-to/pictures/<name>.webp")
def picture(name: str) -> Response:
    """A picture of a how-to; 404 if there is no such picture."""
    return send_from_directory(GUIDE / "how-to" / "pictures", f"{name}.webp")


def _contents() -> dict[str, dict[str, str]]:
    return {"pages": guide.titles(), "tasks": guide.titles(guide.HOW_TOS)}
