"""The form of a private link."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.services.links import LASTS, USUAL
from shopflow.web.fields import ChoiceField
from shopflow.web.forms import Form


class LinkForm(Form):
    """How long a link opens the page, and what it shows."""

    days = ChoiceField(
        "Good for", {days: f"{days} days" for days in LASTS}, coerce=int, default=USUAL
    )
    shows_prices = BooleanField("Show what the work comes to, the deposit and what is left to pay")
