"""How the numbers are made, in plain words."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow.documents import certificate_text, method_notes

blueprint = Blueprint("numbers", __name__)


@blueprint.get("/how-the-numbers-are-made")
def index() -> ResponseReturnValue:
    """What every figure means, how it is worked out, and what it does not mean."""
    return render_template(
        "numbers/index.html", wording=certificate_text, figures=method_notes.every()
    )
