"""The form of a stretch of time."""

from __future__ import annotations

from datetime import datetime

from wtforms.widgets import DateTimeLocalInput

from shopflow.models import TimeSpent
from shopflow.texts import lazy
from shopflow.web.context import local_zone
from shopflow.web.fields import TypedField
from shopflow.web.forms import EditForm


class MomentField(TypedField):
    """A date and time in the shop's zone."""

    widget = DateTimeLocalInput()


class StretchForm(EditForm):
    """Start and end of a period of work."""

    started_at = MomentField(lazy("Started"), needed=True)
    ended_at = MomentField(lazy("Ended"), needed=True)

    @classmethod
    def over(cls, row: TimeSpent) -> StretchForm:
        """The form, filled with the shop's own time."""
        times = {"started_at": _local(row.started_at), "ended_at": _local(row.ended_at)}
        return cls(data={**times, "version": row.version})


def _local(value: datetime | None) -> str:
    return f"{value.astimezone(local_zone()):%Y-%m-%dT%H:%M}" if value else ""
