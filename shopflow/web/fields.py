"""Form fields that keep exactly what was typed, and say at the field what is wrong with it.

The rules themselves are the services' readers: a field applies one early, so that every fault of
a form shows in one go.
"""

from __future__ import annotations

import re
from contextlib import suppress
from enum import StrEnum
from typing import Any

from wtforms import SelectField, SelectMultipleField, StringField
from wtforms.validators import ValidationError
from wtforms.widgets import CheckboxInput, DateInput, ListWidget, PasswordInput, TextArea

from shopflow.calc.metering import ElementKind
from shopflow.services import fields as readers
from shopflow.services.accounts import passwords
from shopflow.services.messaging import smtp_settings
from shopflow.services.shop import shim_sizes
from shopflow.texts import gettext, translated
from shopflow.unit_words import understood
from shopflow.web.context import system


class TypedField(StringField):
    """A line of text; `needed` marks it as one that may not stay empty.

    Autocompletion stays on: without it a browser forgets what was typed on going back to a form.
    """

    reader: readers.Reader = staticmethod(readers.text())
    data: Any

    def __init__(self, label: str, hint: str = "", *, needed: bool = False, **rest: Any) -> None:
        super().__init__(label, description=hint, **rest)
        if needed:
            self.flags.required = True

    def _value(self) -> str:
        return "" if self.data is None else str(self.data)

    def pre_validate(self, form: Any) -> None:
        """Report what the reader makes of it."""
        if self.flags.required and not self._value().strip():
            raise ValidationError(gettext("required: enter a value"))
        try:
            self.reader(self.data)
        except ValueError as error:
            raise ValidationError(str(error)) from None


class WordsField(TypedField):
    """Several lines of text."""

    widget = TextArea()
    reader = staticmethod(readers.words())

    def __init__(self, label: str, hint: str = "", *, rows: int = 3, **rest: Any) -> None:
        super().__init__(label, hint, render_kw={"rows": rows}, **rest)


class PasswordField(TypedField):
    """A password, never sent back to the page."""

    widget = PasswordInput(hide_value=True)
    reader = staticmethod(str)
    purpose = "current-password"

    def __init__(self, label: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, needed=True, render_kw={"autocomplete": self.purpose}, **rest)


class NewPasswordField(PasswordField):
    """A password to be."""

    purpose = "new-password"

    def pre_validate(self, form: Any) -> None:
        """Refuse one too short before anything is done with the rest of the form."""
        super().pre_validate(form)
        if len(self.data) < passwords.SHORTEST:
            raise ValidationError(
                gettext(
                    "too short: enter at least {shortest} characters", shortest=passwords.SHORTEST
                )
            )


class RepeatedPasswordField(PasswordField):
    """The field `password` typed once more."""

    purpose = "new-password"

    def pre_validate(self, form: Any) -> None:
        """Refuse a slip of the fingers."""
        super().pre_validate(form)
        if self.data != form.password.data:
            raise ValidationError(gettext("the two passwords differ: type the same one twice"))


class AddressField(TypedField):
    """One e-mail address."""

    reader = staticmethod(smtp_settings.one_address)

    def __init__(self, label: str, hint: str = "", **rest: Any) -> None:
        super().__init__(
            label, hint, needed=True, render_kw={"type": "email", "autocomplete": "off"}, **rest
        )


class AddressesField(TypedField):
    """E-mail addresses, any number of them."""

    reader = staticmethod(smtp_settings.several_addresses)

    def __init__(self, label: str, **rest: Any) -> None:
        hint = gettext("Separated by commas. Everyone sees these addresses.")
        super().__init__(label, hint, render_kw={"autocomplete": "off"}, **rest)


USUAL_KINDS = {
    "length": "length",
    "area": "port area",
    "volume": "volume",
    "volume flow": "flow",
    "pressure": "boost",
    "temperature": "temperature",
    "velocity": "velocity",
    "power": "power",
    "force": "force",
    "force per length": "spring rate",
    "density": "density",
    "mass flow": "mass flow",
    "ratio": "ratio",
    "specific consumption": "consumption",
}
"""Kind of result whose unit a bare number is in, by what is measured."""

ONLY_UNITS = {"angle": "deg", "time": "s", "speed of rotation": "rpm"}
"""Unit of a bare number where every shop has the same."""


def usual_unit(dimension: str, kind: str = "") -> str | None:
    """Symbol of the unit of a bare number in this shop; None where one must be typed.

    `kind` of result whose unit is usual, where it is not the dimension's.
    """
    kind = kind or USUAL_KINDS.get(dimension, "")
    return system().unit(kind) if kind else ONLY_UNITS.get(dimension)


class QuantityField(TypedField):
    """A quantity: a bare number in the shop's unit, which the page shows, or with a unit typed."""

    def __init__(
        self,
        label: str,
        dimension: str,
        hint: str = "",
        *,
        kind: str = "",
        needs_unit: bool = False,
        **rest: Any,
    ) -> None:
        """`kind` of result whose unit is usual here; `needs_unit` where none is."""
        super().__init__(label, hint, **rest)
        self.dimension, self.kind = dimension, kind
        self.needs_unit = needs_unit
        self.reader = readers.quantity(dimension)
        self._written: dict[str, str] = {}

    @property
    def usual_unit(self) -> str | None:
        """Symbol of the unit of a bare number; None where one must be typed."""
        return None if self.needs_unit else usual_unit(self.dimension, self.kind)

    def _value(self) -> str:
        """The text as typed, where the form is shown again."""
        text = super()._value()
        return self._written.get(text, text)

    @property
    def shown_unit(self) -> str | None:
        """The usual unit, to be shown beside the box; None where its value brings one."""
        return None if re.search(r"[^\W\d]|[%°\"']", self._value()) else self.usual_unit

    def process_formdata(self, valuelist: list[Any]) -> None:
        """Keep what was typed, written as files have it; what cannot be read stays as it is."""
        super().process_formdata(valuelist)
        if isinstance(self.data, str) and self.data.strip():
            with suppress(ValueError):
                written = self.data
                self.data = understood(written.strip(), self.dimension, self.usual_unit)
                self._written[self.data] = written

    def pre_validate(self, form: Any) -> None:
        """Report what keeps it from being a quantity."""
        if isinstance(self.data, str) and self.data.strip():
            try:
                understood(self.data.strip(), self.dimension, self.usual_unit)
            except ValueError as error:
                raise ValidationError(str(error)) from None
        super().pre_validate(form)


class ShimsField(TypedField):
    """Thicknesses of shims, separated by commas."""

    reader = staticmethod(shim_sizes.reader)


class MoneyField(TypedField):
    """An amount in the shop's currency."""

    reader = staticmethod(readers.amount())

    def __init__(self, label: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, render_kw={"inputmode": "decimal"}, **rest)


class SignedMoneyField(MoneyField):
    """An amount that may be below zero."""

    reader = staticmethod(readers.decimal(places=2, least=None))


class DecimalField(TypedField):
    """An exact decimal without a unit."""

    reader = staticmethod(readers.decimal())

    def __init__(self, label: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, render_kw={"inputmode": "decimal"}, **rest)


class CountField(TypedField):
    """A whole number."""

    def __init__(self, label: str, hint: str = "", *, least: int = 0, **rest: Any) -> None:
        super().__init__(label, hint, render_kw={"inputmode": "numeric"}, **rest)
        self.reader = readers.count(least=least)


class DayField(TypedField):
    """A date."""

    widget = DateInput()
    reader = staticmethod(readers.day())


class ChoiceField(SelectField):
    """One of an enumeration's words, or of what SelectField takes: {value: words}, a callable."""

    def __init__(
        self, label: str, choices: Any, hint: str = "", *, needed: bool = False, **rest: Any
    ) -> None:
        if isinstance(choices, type) and issubclass(choices, StrEnum):
            choices = {member.value: member for member in choices}
        if isinstance(choices, dict):
            # A field is made with its form, so that the reader's language is known.
            choices = {value: _label(words) for value, words in choices.items()}
        super().__init__(label, description=hint, choices=choices, **rest)
        if needed:
            self.flags.required = True

    def pre_validate(self, form: Any) -> None:
        """Refuse what is not on offer, and nothing chosen where something must be."""
        if self.flags.required and not self.data:
            raise ValidationError(gettext("required: choose one"))
        try:
            super().pre_validate(form)
        except ValueError:
            raise ValidationError(gettext("not on the list: choose one from it")) from None


def _label(words: object) -> str:
    return translated(words).capitalize() if isinstance(words, StrEnum) else str(words)


class TicksField(SelectMultipleField):
    """Any of several, each with a box to tick."""

    widget = ListWidget(prefix_label=False)
    option_widget = CheckboxInput()

    def __init__(self, label: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, description=hint, choices={}, **rest)


class ElementField(ChoiceField):
    """Metering element across which a bench's pressure difference is read, or none."""

    def __init__(self, **rest: Any) -> None:
        kinds = {kind.value: translated(kind) for kind in ElementKind}
        super().__init__(gettext("Metering element"), {"": gettext("none"), **kinds}, **rest)
