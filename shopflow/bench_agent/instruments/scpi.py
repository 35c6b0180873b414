"""Instruments that speak SCPI (SCPI-1999, IEEE 488.2) over a serial line or TCP, through VISA."""

from __future__ import annotations

from typing import Any, ClassVar

from shopflow.bench_agent.instruments.instrument import InstrumentError, number_in
from shopflow.bench_agent.settings import ChannelSettings, InstrumentSettings
from shopflow.texts import gettext


class Scpi:
    """One instrument by its VISA address, as "TCPIP::192.0.2.7::5025::SOCKET"."""

    KEEPS_IDENTITY: ClassVar[bool] = True

    def __init__(self, settings: InstrumentSettings) -> None:
        self._settings = settings
        self._resource: Any = None

    def read(self, channel: ChannelSettings) -> float:
        """As `Instrument.read`."""
        return number_in(channel.form, self._ask(channel.query))

    def identity(self) -> str:
        """As `Instrument.identity`: the answer to *IDN?."""
        return self._ask("*IDN?")

    def close(self) -> None:
        """As `Instrument.close`."""
        resource, self._resource = self._resource, None
        if resource is not None:
            resource.close()

    def _ask(self, query: str) -> str:
        import pyvisa

        try:
            if self._resource is None:
                self._resource = self._connected()
            return str(self._resource.query(query))
        except (pyvisa.Error, OSError, UnicodeDecodeError, ValueError) as error:
            words = " ".join(str(error).split())[:200]
            raise InstrumentError(gettext("did not answer: {words}", words=words)) from None

    def _connected(self) -> Any:
        import pyvisa

        manager = pyvisa.ResourceManager("@py")
        resource: Any = manager.open_resource(self._settings.address)
        resource.timeout = 1000.0 * self._settings.timeout
        resource.read_termination = resource.write_termination = "\n"
        resource.encoding = "ascii"
        if self._settings.baud:
            resource.baud_rate = self._settings.baud
        return resource
