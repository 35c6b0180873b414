"""The form of a private link."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField

from shopflow.models import Certificate
from shopflow.models.customer_link import HIDDEN, NO_CURVE, WHOLE
from shopflow.services.registry.customer_links import LASTS, USUAL
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField
from shopflow.web.forms import Form

PREFIX = "certificate-"
SHOWN = {
    WHOLE: lazy("Document and curves"),
    NO_CURVE: lazy("Document only"),
    HIDDEN: lazy("Not shown"),
}


class LinkForm(Form):
    """Validity of a link, and the contents it shows."""

    days = ChoiceField(
        lazy("Valid for"),
        {days: lazy("{days} days", days=days) for days in LASTS},
        coerce=int,
        default=USUAL,
    )
    shows_prices = BooleanField(lazy("Show prices, payments and the balance"))

    @property
    def certificates(self) -> dict[str, str]:
        """Part of each certificate that the link shows, by number."""
        choices = {name: value for name, value in self.values.items() if name.startswith(PREFIX)}
        return {name.removeprefix(PREFIX): value for name, value in choices.items()}


def link_form(certificates: Sequence[Certificate]) -> LinkForm:
    """The form with a choice to each certificate of the job."""
    fields = {
        f"{PREFIX}{row.number}": ChoiceField(
            gettext("Certificate {row}", row=row.title), SHOWN, default=WHOLE
        )
        for row in certificates
    }
    form: LinkForm = type("LinkFormOfJob", (LinkForm,), fields)()
    return form
