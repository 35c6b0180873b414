"""Instruments that send a line of text by themselves, over a serial line or TCP."""

from __future__ import annotations

from typing import Any, ClassVar

from shopflow.bench_agent.instruments.instrument import InstrumentError, number_in
from shopflow.bench_agent.settings import ChannelSettings, InstrumentSettings
from shopflow.texts import gettext

LONGEST = 400
OLD = 65_536
"""Bytes that are thrown away at most before a line is waited for."""


class Lines:
    """One instrument by its serial device or a URL of pyserial, as "socket://192.0.2.7:4001".

    Each reading is the next whole line: what lay waiting is old and is thrown away with the line
    it ends in.
    """

    KEEPS_IDENTITY: ClassVar[bool] = False

    def __init__(self, settings: InstrumentSettings) -> None:
        self._settings = settings
        self._port: Any = None

    def read(self, channel: ChannelSettings) -> float:
        """As `Instrument.read`."""
        return number_in(channel.form, self._line())

    def identity(self) -> str:
        """As `Instrument.identity`: none is asked for."""
        return ""

    def close(self) -> None:
        """As `Instrument.close`."""
        port, self._port = self._port, None
        if port is not None:
            port.close()

    def _line(self) -> str:
        import serial

        try:
            if self._port is None:
                self._port = serial.serial_for_url(
                    self._settings.address,
                    baudrate=self._settings.baud or 9600,
                    timeout=self._settings.timeout,
                )
            waiting = self._port.in_waiting
            if waiting:
                self._port.read(min(waiting, OLD))
            # The line being sent now began before it was asked for.
            self._port.read_until(b"\n", LONGEST)
            line = self._port.read_until(b"\n", LONGEST)
        except (serial.SerialException, OSError) as error:
            raise InstrumentError(
                gettext("did not answer: {words}", words=str(error)[:200])
            ) from None
        if not line.endswith(b"\n"):
            raise InstrumentError(gettext("sent no whole line in time"))
        return str(line.decode("ascii", "replace").strip())
