"""The form that confirms a comparison of tests on unlike set-ups."""

from __future__ import annotations

from dataclasses import dataclass

from wtforms import RadioField

from shopflow.texts import gettext, lazy
from shopflow.web.fields import TypedField
from shopflow.web.forms import Form


class ConfirmForm(Form):
    """Reason why tests on unlike set-ups are compared."""

    way = RadioField(lazy("What is confirmed"), choices=[], default="meant", validate_choice=False)
    reason = TypedField(lazy("Reason"), lazy("For example: with the manifold."), needed=True)

    def offer_same(self) -> None:
        """Offer to confirm that the set-up was the same, where one test does not state it."""
        self.way.choices = [
            ("same", gettext("The set-up was the same: one test does not state it")),
            ("meant", gettext("The set-ups differed, and that is meant")),
        ]


@dataclass(frozen=True)
class SetUps:
    """Confirmations of the tests compared: the form where one is missing, and those there are."""

    form: ConfirmForm | None
    confirmed: list[str]
