"""A file that another program writes a line into for each of its readings."""

from __future__ import annotations

import time
from pathlib import Path
from typing import ClassVar

from shopflow.bench_agent.instruments.instrument import InstrumentError, number_in
from shopflow.bench_agent.settings import ChannelSettings, InstrumentSettings
from shopflow.texts import gettext

LOOK = 0.02
MOST = 65_536
"""Bytes of new lines that are read at a time."""


class GrowingFile:
    """One file; each reading is the last whole line written since the one before."""

    KEEPS_IDENTITY: ClassVar[bool] = False

    def __init__(self, settings: InstrumentSettings) -> None:
        self._path = Path(settings.address)
        self._timeout = settings.timeout
        self._place: int | None = None

    def read(self, channel: ChannelSettings) -> float:
        """As `Instrument.read`."""
        return number_in(channel.form, self._line())

    def identity(self) -> str:
        """As `Instrument.identity`: none is asked for."""
        return ""

    def close(self) -> None:
        """As `Instrument.close`: what is in the file by now is old."""
        self._place = None

    def _line(self) -> str:
        until = time.monotonic() + self._timeout
        try:
            size = self._path.stat().st_size
            if self._place is None or size < self._place:
                self._place = size
            while True:
                line = self._newest()
                if line is not None:
                    return line
                if time.monotonic() > until:
                    raise InstrumentError(gettext("wrote no new line in time"))
                time.sleep(LOOK)
        except OSError as error:
            raise InstrumentError(
                gettext("cannot be read: {words}", words=error.strerror)
            ) from None

    def _newest(self) -> str | None:
        with self._path.open("rb") as file:
            file.seek(self._place or 0)
            new = file.read(MOST)
        end = new.rfind(b"\n")
        if end < 0:
            return None
        self._place = (self._place or 0) + end + 1
        return new[:end].rsplit(b"\n", 1)[-1].decode("utf-8", "replace").strip()
