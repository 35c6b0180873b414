"""Opening hours as a form."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField

from shopflow.models.opening_hours import WEEKDAYS
from shopflow.services.shop.opening_hours import SPECIFICATION
from shopflow.texts import lazy
from shopflow.web.fields import CountField, TypedField, WordsField
from shopflow.web.forms import EditForm


class _SettingField(TypedField):
    """A setting whose rule is the service's."""

    def __init__(self, label: str, setting: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, **rest)
        self.reader = SPECIFICATION[setting]


class _ClosedDaysField(WordsField):
    """Days the shop is closed, a line each."""

    reader = staticmethod(SPECIFICATION["closed_days"])


def _hours(name: str, day: str) -> _SettingField:
    return _SettingField(name, day, render_kw={"inputmode": "decimal"})


class HoursForm(EditForm):
    """Hours of each weekday, days closed, people at the bench."""

    monday = _hours(lazy("Monday"), "monday")
    tuesday = _hours(lazy("Tuesday"), "tuesday")
    wednesday = _hours(lazy("Wednesday"), "wednesday")
    thursday = _hours(lazy("Thursday"), "thursday")
    friday = _hours(lazy("Friday"), "friday")
    saturday = _hours(lazy("Saturday"), "saturday")
    sunday = _hours(lazy("Sunday"), "sunday")
    opens_at = _SettingField(
        lazy("Opens at"),
        "opens_at",
        lazy("For example 08:00. Used to work out the hours left today."),
    )
    people_at_bench = CountField(
        lazy("People at the bench"),
        lazy("People who cut, measure and assemble during all open hours."),
        least=1,
    )
    closed_days = _ClosedDaysField(
        lazy("Closed days"),
        lazy("One per line. For example 2026-12-25 Christmas, or 2026-07-20 to 2026-07-31 summer."),
        rows=5,
    )
    calendar_names = BooleanField(lazy("Show customer names in calendars"))

    @property
    def days(self) -> list[_SettingField]:
        """The fields of the weekdays in order."""
        return [self[day] for day in WEEKDAYS]
