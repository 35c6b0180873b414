"""Acts that can be undone: announced with a button that undoes them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from flask import Flask, flash, url_for

_PLAIN = "message"
"""Category that Flask gives a message without one."""


@dataclass(frozen=True, slots=True)
class Undo:
    """The button that undoes an act: where it posts, and with which fields."""

    url: str
    fields: dict[str, str]


def init_app(app: Flask) -> None:
    """Let templates read the button off a message."""
    app.add_template_global(undo_of)


def flash_undoable(
    message: str, endpoint: str, fields: dict[str, str] | None = None, **parts: Any
) -> None:
    """Announce an act; the endpoint, posted to with these fields, undoes it."""
    flash(message, json.dumps({"url": url_for(endpoint, **parts), "fields": fields or {}}))


def undo_of(category: str) -> Undo | None:
    """The button of a message of this category; none of one that cannot be undone."""
    return None if category == _PLAIN else Undo(**json.loads(category))
