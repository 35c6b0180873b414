"""Form fields that keep exactly what was typed, and say at the field what is wrong with it.

The rules themselves are the services' readers: a field applies one early, so that every fault of
a form shows in one go.
"""

from __future__ import annotations

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


class TypedField(StringField):
    """A line of text; `needed` marks it as one that may not stay empty.

    Autocompletion stays on: without it a browser forgets what was typed on going back to a form.
    """

    reader: readers.Reader = staticmethod(readers.text())

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


class QuantityField(TypedField):
    """A quantity typed with its unit, as "44.5 mm"."""

    def __init__(self, label: str, dimension: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, **rest)
        self.reader = readers.quantity(dimension)


class ShimsField(TypedField):
    """Thicknesses of shims, separated by commas."""

    reader = staticmethod(shim_sizes.reader)


class MoneyField(TypedField):
    """An amount in the shop's currency."""

    reader = staticmethod(readers.amount())

    def __init__(self, label: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, render_kw={"inputmode": "decimal"}, **rest)


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
