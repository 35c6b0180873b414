"""The form of a webhook."""

from __future__ import annotations

from shopflow.services.webhooks import events
from shopflow.texts import lazy
from shopflow.web.fields import TicksField, TypedField
from shopflow.web.forms import Form


class WebhookForm(Form):
    """Address, and the events that it is told of."""

    url = TypedField(lazy("Address"), lazy("For example https://example.com/shopflow"), needed=True)
    events = TicksField(lazy("Events"), default=list(events.TYPES))

    def offer(self) -> WebhookForm:
        """The form with the events to choose from."""
        self.events.choices = [(name, str(words)) for name, words in events.TYPES.items()]
        return self
