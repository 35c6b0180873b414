"""Notes on the methods of calculation, in plain words."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow.documents import certificate_text, method_notes

blueprint = Blueprint("method_notes", __name__)


@blueprint.get("/how-the-numbers-are-made")
def index() -> ResponseReturnValue:
    """Show the meaning, the calculation and the limits of every result."""
    return render_template(
        "method_notes/index.html", wording=certificate_text, figures=method_notes.every()
    )
