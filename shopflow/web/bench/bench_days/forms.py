"""The forms of a bench's day."""

from __future__ import annotations

from datetime import date

from shopflow.models import LeakCheck
from shopflow.texts import lazy
from shopflow.web.fields import CountField, DayField, QuantityField, TypedField, WordsField
from shopflow.web.forms import Form

USUAL_MINUTES = "20"


class WarmUpForm(Form):
    """Time that a bench ran before its first check."""

    minutes = CountField(lazy("Minutes run"), least=1, default=USUAL_MINUTES)


class LeakCheckForm(Form):
    """The leakage of a range with the valve shut, at one pressure."""

    pressure = QuantityField(lazy("Test pressure"), "pressure", kind="test pressure", needed=True)
    leakage = TypedField(
        lazy("Bench reading"), lazy("Valve shut, for example 0.8 cfm or 0.4 %."), needed=True
    )
    notes = WordsField(lazy("Notes"), rows=2)

    @classmethod
    def after(cls, last: LeakCheck | None) -> LeakCheckForm:
        """The form, starting from the pressure of the last check."""
        return cls(data={"pressure": last.pressure} if last else None)


class ExchangeForm(Form):
    """One plate measured here and by another shop."""

    plate = TypedField(lazy("Plate"), lazy("For example plate 2, 1.875 in."), needed=True)
    other_shop = TypedField(lazy("Other shop"), needed=True)
    measured_on = DayField(lazy("Measured here on"), needed=True)
    pressure = QuantityField(lazy("Test pressure"), "pressure", kind="test pressure", needed=True)
    own_flow = QuantityField(
        lazy("Flow measured here"), "volume flow", lazy("Corrected."), needed=True
    )
    own_uncertainty = QuantityField(
        lazy("Its ±, k = 2"), "ratio", lazy("For example 1.4 %."), needed=True
    )
    their_flow = QuantityField(lazy("Flow measured there"), "volume flow", needed=True)
    their_uncertainty = QuantityField(lazy("Its ±, k = 2"), "ratio", needed=True)
    notes = WordsField(lazy("Notes"), rows=2)

    @classmethod
    def on(cls, day: date) -> ExchangeForm:
        """The form, starting from today."""
        return cls(data={"measured_on": day})
