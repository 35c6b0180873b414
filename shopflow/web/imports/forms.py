"""Forms of an import: the file and how it is written; the confirmation of what was shown."""

from __future__ import annotations

from typing import Any

from flask import request
from flask_wtf.file import FileField
from wtforms import HiddenField

from shopflow.errors import NotFoundError
from shopflow.services.imports.flows import Air
from shopflow.services.imports.reading import (
    DATE_ORDERS,
    DECIMAL_MARKS,
    ENCODINGS,
    OF_A_PAGE,
    SEPARATORS,
    Writing,
)
from shopflow.texts import gettext, lazy
from shopflow.units import UnitError, parse
from shopflow.web.fields import ChoiceField, QuantityField, WordsField
from shopflow.web.forms import Form

LETTERS = {"utf-8": "UTF-8", "windows-1252": lazy("Windows-1252 (Western European)")}
MARKS = {"point": lazy("Point: 0.050"), "comma": lazy("Comma: 0,050")}
ORDERS = {
    "ymd": lazy("Year, month, day: 2019-05-31"),
    "mdy": lazy("Month, day, year: 5/31/2019"),
    "dmy": lazy("Day, month, year: 31.5.2019"),
}
SEPARATOR_NAMES = {
    "comma": lazy("Comma"),
    "semicolon": lazy("Semicolon"),
    "tab": lazy("Tab"),
}
SETTINGS = ("encoding", "separator", "decimal_mark", "date_order")


class UploadForm(Form):
    """A file, or its rows pasted, and how it is written."""

    refusal = lazy("Not imported yet.")

    file = FileField(
        lazy("CSV file"), description=lazy("At most {megabytes} MB.", megabytes=OF_A_PAGE.megabytes)
    )
    pasted = WordsField(
        lazy("Or paste the rows"), lazy("With the headings in the first row."), rows=6
    )
    encoding = ChoiceField(
        lazy("Character encoding"), LETTERS, lazy("Your spreadsheet may call it the character set.")
    )
    separator = ChoiceField(lazy("Column separator"), SEPARATOR_NAMES)
    decimal_mark = ChoiceField(lazy("Decimal mark"), MARKS)
    date_order = ChoiceField(lazy("Dates"), ORDERS, default="ymd")
    barometer = QuantityField(
        lazy("Barometer if a row has none"),
        "pressure",
        lazy("Absolute. For example 29.92 inHg or 1013 mbar."),
        kind="air pressure",
    )
    temperature = QuantityField(
        lazy("Air temperature if a row has none"),
        "temperature",
        lazy("For example 68 degF or 20 degC."),
    )

    @property
    def content(self) -> bytes:
        """The file's bytes; empty, with a fault at the field, where there is nothing to read."""
        if self.file.data:
            content: bytes = self.file.data.read(OF_A_PAGE.bytes + 1)
        else:
            content = (self.pasted.data or "").encode()
            # What is pasted came as Unicode, whatever its file was.
            self.encoding.data = "utf-8"
        if not content.strip():
            self.file.errors = [
                *self.file.errors,
                gettext("no rows: choose a file, or paste its rows below"),
            ]
            return b""
        if len(content) > OF_A_PAGE.bytes:
            words = gettext(
                "more than {megabytes} MB: import it in parts", megabytes=OF_A_PAGE.megabytes
            )
            self.file.errors = [*self.file.errors, words]
            return b""
        return content

    @property
    def as_query(self) -> dict[str, str]:
        """Format of the file and the air, as the preview's address carries them."""
        names = (*SETTINGS, "barometer", "temperature")
        return {name: self.data[name] for name in names if self.data[name]}


class OpenDataForm(Form):
    """A file of open data."""

    refusal = lazy("Nothing was imported.")

    file = FileField(
        lazy("JSON file"),
        description=lazy("At most {megabytes} MB.", megabytes=OF_A_PAGE.megabytes),
    )

    @property
    def content(self) -> bytes:
        """The file's bytes; empty, with a fault at the field, where there is nothing to read."""
        content: bytes = self.file.data.read(OF_A_PAGE.bytes + 1) if self.file.data else b""
        if not content.strip():
            self.file.errors = [*self.file.errors, gettext("no contents: choose a file")]
            return b""
        if len(content) > OF_A_PAGE.bytes:
            words = gettext(
                "more than {megabytes} MB: import it by the command",
                megabytes=OF_A_PAGE.megabytes,
            )
            self.file.errors = [*self.file.errors, words]
            return b""
        return content


class ConfirmForm(Form):
    """The plan that was shown."""

    mark = HiddenField()


def settings_in_address() -> tuple[Writing, Air]:
    """Read the format of the file and the air from the preview's address.

    Raises NotFoundError where the address was not made here.
    """
    settings: dict[str, Any] = {
        name: request.args.get(name, getattr(Writing(), name)) for name in SETTINGS
    }
    choices_of = (ENCODINGS, SEPARATORS, DECIMAL_MARKS, DATE_ORDERS)
    air = {name: request.args.get(name, "") for name in ("barometer", "temperature")}
    try:
        for name, dimension in (("barometer", "pressure"), ("temperature", "temperature")):
            if air[name]:
                parse(air[name], dimension)
    except UnitError as error:
        raise NotFoundError(str(error)) from None
    if not all(
        settings[name] in choices for name, choices in zip(SETTINGS, choices_of, strict=True)
    ):
        raise NotFoundError(gettext("this preview has expired: import the file again"))
    return Writing(**settings), Air(**air)
