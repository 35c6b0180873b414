"""Common to all instruments: asked for a number, they give it or say what went wrong."""

from __future__ import annotations

import re
from typing import ClassVar, Protocol

from shopflow.bench_agent.settings import ChannelSettings, InstrumentSettings
from shopflow.errors import ShopflowError
from shopflow.texts import gettext


class InstrumentError(ShopflowError):
    """An instrument gave no number: what it did instead."""


class Instrument(Protocol):
    """One device."""

    KEEPS_IDENTITY: ClassVar[bool]
    """True where it can be asked who it is."""

    def __init__(self, settings: InstrumentSettings) -> None: ...

    def read(self, channel: ChannelSettings) -> float:
        """The channel's number now. Raises InstrumentError."""

    def identity(self) -> str:
        """Its own words of what it is, with its serial number. Raises InstrumentError."""

    def close(self) -> None:
        """End the connection; the next `read` begins another."""


def number_in(form: re.Pattern[str], answer: str) -> float:
    """The number of an answer that has a channel's form from its first letter to its last.

    Raises InstrumentError for any other: a byte that was lost makes another number of many forms.
    """
    match = form.fullmatch(answer)
    if match is None:
        raise InstrumentError(
            gettext("answered {answer}, which is not of the form stated", answer=repr(answer[:60]))
        )
    return float(match[1])
