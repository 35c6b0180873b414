"""The form of an export of open data."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.texts import lazy
from shopflow.web.forms import Form


class OpenDataForm(Form):
    """Choice of whether engine types are named."""

    with_family = BooleanField(
        lazy("Name the engine types"),
        description=lazy("Else only bore, stroke, cylinders and valves are published."),
    )
