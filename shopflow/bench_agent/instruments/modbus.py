"""Instruments that speak Modbus (Application Protocol V1.1b3) over TCP or a serial line (RTU).

A number takes two registers, and which comes first differs from maker to maker. So the settings
name a mark: a register whose number is known. It is read with every value, in the same request
where they lie close enough, and the answer is refused where the mark is not what it should be.
"""

from __future__ import annotations

import math
import struct
from typing import Any, ClassVar

from shopflow.bench_agent.instruments.instrument import InstrumentError
from shopflow.bench_agent.settings import ChannelSettings, InstrumentSettings
from shopflow.texts import gettext

MOST_AT_ONCE = 125
FORMS = {"float32": ">f", "int32": ">i", "uint32": ">I", "int16": ">h", "uint16": ">H"}


class Modbus:
    """One instrument by "tcp://HOST:PORT" or "serial:DEVICE"."""

    KEEPS_IDENTITY: ClassVar[bool] = False

    def __init__(self, settings: InstrumentSettings) -> None:
        self._settings = settings
        self._client: Any = None

    def read(self, channel: ChannelSettings) -> float:
        """As `Instrument.read`."""
        width = struct.calcsize(FORMS[channel.type]) // 2
        mark = self._settings.mark_register
        if mark is None:
            return self._number(channel.type, self._registers(channel.register, width))
        first = min(channel.register, mark)
        count = max(channel.register + width, mark + 2) - first
        if count > MOST_AT_ONCE:
            self._check_mark(self._registers(mark, 2))
            return self._number(channel.type, self._registers(channel.register, width))
        words = self._registers(first, count)
        self._check_mark(words[mark - first : mark - first + 2])
        place = channel.register - first
        return self._number(channel.type, words[place : place + width])

    def identity(self) -> str:
        """As `Instrument.identity`: none is asked for."""
        return ""

    def close(self) -> None:
        """As `Instrument.close`."""
        client, self._client = self._client, None
        if client is not None:
            client.close()

    def _check_mark(self, words: list[int]) -> None:
        shown = self._number("float32", words)
        if not math.isclose(shown, self._settings.mark, rel_tol=1e-6):
            raise InstrumentError(
                gettext("its mark reads {shown}, not {mark}: words may be swapped",
                        shown=f"{shown:.6g}", mark=f"{self._settings.mark:.6g}")
            )  # fmt: skip

    def _number(self, kind: str, words: list[int]) -> float:
        if self._settings.word_order == "low first":
            words = words[::-1]
        raw = struct.pack(f">{len(words)}H", *words)
        return float(struct.unpack(FORMS[kind], raw)[0])

    def _registers(self, first: int, count: int) -> list[int]:
        from pymodbus import ModbusException

        try:
            if self._client is None:
                self._client = self._connected()
            asked = {"count": count, "device_id": self._settings.device_id}
            answer = self._client.read_holding_registers(first, **asked)
        except (ModbusException, OSError) as error:
            raise InstrumentError(
                gettext("did not answer: {words}", words=str(error)[:200])
            ) from None
        if answer.isError() or len(answer.registers) != count:
            raise InstrumentError(gettext("refused: {words}", words=str(answer)[:200]))
        return list(answer.registers)

    def _connected(self) -> Any:
        from pymodbus.client import ModbusSerialClient, ModbusTcpClient

        kind, _, rest = self._settings.address.partition(":")
        patience: dict[str, Any] = {"timeout": self._settings.timeout, "retries": 0}
        client: Any
        if kind == "tcp":
            host, _, port = rest.removeprefix("//").partition(":")
            client = ModbusTcpClient(host, port=int(port or 502), **patience)
        else:
            client = ModbusSerialClient(rest, baudrate=self._settings.baud or 19200, **patience)
        if not client.connect():
            raise InstrumentError(gettext("cannot be reached at {address}",
                                          address=self._settings.address))  # fmt: skip
        return client
