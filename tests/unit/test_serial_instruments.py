"""Modbus RTU and SCPI over a serial line: a real pseudo-terminal, and the libraries that shops use.

The instruments at the other end are written here, from the specifications: "MODBUS over Serial
Line" V1.02 (frames and CRC) with the Application Protocol V1.1b3, and SCPI-1999 over IEEE 488.2.
"""

from __future__ import annotations

import os
import pty
import struct
import termios
import threading
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from shopflow.bench_agent import settings as bench_settings
from shopflow.bench_agent.channels import Channel, connected, identify
from shopflow.bench_agent.instruments import InstrumentError
from tests.patience import PATIENCE

MARK = 123456.0
DEVICE = 7
NUMBERS = {2: 28.04, 4: 991.7}
"""Floats by the register that each begins at, the high word first."""

Answer = Callable[[bytes], bytes]


def crc(content: bytes) -> bytes:
    """CRC-16 as "MODBUS over Serial Line" V1.02 6.2.2 describes it, low byte first."""
    value = 0xFFFF
    for byte in content:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return struct.pack("<H", value)


@pytest.mark.source("MODBUS over Serial Line V1.02, appendix B: the CRC of 02 07 is sent 41 12")
def test_the_crc_of_these_tests_is_that_of_the_specification() -> None:
    assert crc(b"\x02\x07") == b"\x41\x12"


def registers() -> bytes:
    block = struct.pack(">f", MARK)
    return block + b"".join(struct.pack(">f", NUMBERS[place]) for place in sorted(NUMBERS))


def rtu(question: bytes) -> bytes:
    """Answer of the instrument to a whole frame; nothing to one for another device."""
    content, sent = question[:-2], question[-2:]
    assert crc(content) == sent
    device, function, first, count = struct.unpack(">BBHH", content)
    if device != DEVICE:
        return b""
    if function != 3 or 2 * (first + count) > len(registers()):
        refusal = bytes([device, function | 0x80, 2])
        return refusal + crc(refusal)
    block = registers()[2 * first : 2 * (first + count)]
    answer = bytes([device, function, len(block)]) + block
    return answer + crc(answer)


def scpi(question: bytes) -> bytes:
    return {b"*IDN?\n": b"Loopback,Flow meter,S-77,1\n", b"MEAS:FLOW?\n": b"+1.42031E+02\n"}[
        question
    ]


class SerialDevice:
    """An instrument at one end of a pseudo-terminal; `spoil` damages its next answers."""

    def __init__(self, answer: Answer, is_whole: Callable[[bytes], bool]) -> None:
        self._end, other = pty.openpty()
        tty.setraw(other)
        self._other = other
        self.path = os.ttyname(other)
        self.questions: list[bytes] = []
        self.spoil: list[Answer] = []
        self._answer, self._is_whole = answer, is_whole
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def baud(self) -> int:
        """The rate that the line was set to, as termios has it."""
        return int(termios.tcgetattr(self._other)[4])

    def _serve(self) -> None:
        held = b""
        try:
            while content := os.read(self._end, 256):
                held += content
                if self._is_whole(held):
                    question, held = held, b""
                    self.questions.append(question)
                    answer = self._answer(question)
                    spoil = self.spoil.pop(0) if self.spoil else bytes
                    os.write(self._end, spoil(answer))
        except OSError:
            return

    def close(self) -> None:
        """Pull the plug."""
        os.close(self._other)
        os.close(self._end)
        self._thread.join(PATIENCE)


@contextmanager
def at_the_line(device: SerialDevice, **instrument: Any) -> Iterator[dict[str, Channel]]:
    """Channels of the instrument."""
    modbus = instrument["protocol"] == "modbus"
    channels = {
        "flow": {"unit": "cfm", **({"register": 2} if modbus else {"query": "MEAS:FLOW?"})},
        **({"barometer": {"unit": "hPa", "register": 4}} if modbus else {}),
    }
    if not modbus:
        channels["flow"]["form"] = r"([+-]\d\.\d{5}E[+-]\d\d)"
    settings = bench_settings.read({
        "instruments": {"one": {"timeout": 0.5, **instrument}},
        "channels": {name: {"instrument": "one", **rest} for name, rest in channels.items()},
    })  # fmt: skip
    opened = connected(settings)
    try:
        yield opened
    finally:
        for channel in opened.values():
            channel.instrument.close()


@pytest.fixture
def transducers() -> Iterator[SerialDevice]:
    device = SerialDevice(rtu, lambda held: len(held) >= 8)
    yield device
    device.close()


@pytest.fixture
def meter() -> Iterator[SerialDevice]:
    device = SerialDevice(scpi, lambda held: held.endswith(b"\n"))
    yield device
    device.close()


def rtu_settings(device: SerialDevice, **rest: Any) -> dict[str, Any]:
    return {"protocol": "modbus", "address": f"serial:{device.path}", "device_id": DEVICE,
            "mark_register": 0, "mark": MARK, **rest}  # fmt: skip


def test_numbers_come_over_modbus_rtu(transducers: SerialDevice) -> None:
    with at_the_line(transducers, **rtu_settings(transducers, baud=9600)) as channels:
        assert channels["flow"].read() == pytest.approx(28.04)
        assert channels["barometer"].read() == pytest.approx(991.7)
        assert transducers.baud() == termios.B9600
    # One request for mark and number, so that both are of one moment.
    assert transducers.questions[0][:6] == struct.pack(">BBHH", DEVICE, 3, 0, 4)


SPOILT: dict[str, Answer] = {
    "a bit flipped": lambda answer: answer[:5] + bytes([answer[5] ^ 1]) + answer[6:],
    "a byte lost": lambda answer: answer[:4] + answer[5:],
    "another device's": lambda answer: bytes([8]) + answer[1:-2] + crc(bytes([8]) + answer[1:-2]),
    "no answer": lambda answer: b"",
    "words swapped": lambda answer: _swapped(answer),
}


def _swapped(answer: bytes) -> bytes:
    words = [answer[place : place + 2] for place in range(3, len(answer) - 2, 2)]
    pairs = [words[place + 1] + words[place] for place in range(0, len(words), 2)]
    content = answer[:3] + b"".join(pairs)
    return content + crc(content)


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT)
def test_a_damaged_rtu_answer_is_a_fault_and_the_next_reading_is_right(
    transducers: SerialDevice, spoil: Answer
) -> None:
    with at_the_line(transducers, **rtu_settings(transducers)) as channels:
        channels["flow"].read()
        transducers.spoil.append(spoil)
        with pytest.raises(InstrumentError):
            channels["flow"].read()
        assert channels["flow"].read() == pytest.approx(28.04)


@pytest.mark.parametrize(
    ("setting", "words"),
    [({"device_id": 9}, "did not answer"), ({"mark_register": 40}, "refused")],
    ids=["another device's number", "a register that is not there"],
)
def test_wrong_settings_are_told_of_in_words(
    transducers: SerialDevice, setting: dict[str, int], words: str
) -> None:
    values = rtu_settings(transducers) | setting
    with (
        at_the_line(transducers, **values) as channels,
        pytest.raises(InstrumentError, match=words),
    ):
        channels["flow"].read()


def test_numbers_come_over_scpi_on_a_serial_line(meter: SerialDevice) -> None:
    values = {"protocol": "scpi", "address": f"ASRL{meter.path}::INSTR", "baud": 19200,
              "serial_number": "S-77"}  # fmt: skip
    with at_the_line(meter, **values) as channels:
        assert channels["flow"].read() == pytest.approx(142.031)
        assert meter.baud() == termios.B19200
        settings = bench_settings.read({
            "instruments": {"one": {"timeout": 0.5, **values}},
            "channels": {"flow": {"instrument": "one", "unit": "cfm"}},
        })  # fmt: skip
        assert identify(settings, channels)["flow"] == "S-77"


DAMAGED: dict[str, Answer] = {
    "a byte lost": lambda answer: answer[:3] + answer[4:],
    "no answer": lambda answer: b"",
    "no end of line": lambda answer: answer[:-1],
    "a letter garbled": lambda answer: b"\xff" + answer[1:],
}


@pytest.mark.parametrize("spoil", DAMAGED.values(), ids=DAMAGED)
def test_a_damaged_scpi_answer_is_a_fault_and_the_next_reading_is_right(
    meter: SerialDevice, spoil: Answer
) -> None:
    values = {"protocol": "scpi", "address": f"ASRL{meter.path}::INSTR"}
    with at_the_line(meter, **values) as channels:
        channels["flow"].read()
        meter.spoil.append(spoil)
        with pytest.raises(InstrumentError):
            channels["flow"].read()
        assert channels["flow"].read() == pytest.approx(142.031)


@pytest.mark.parametrize("kind", ["modbus", "scpi"])
def test_a_line_that_is_not_there_is_a_fault_in_words(kind: str) -> None:
    device = SerialDevice(scpi, lambda held: False)
    path = device.path
    device.close()
    values = rtu_settings(device) if kind == "modbus" else {
        "protocol": "scpi", "address": f"ASRL{path}::INSTR"}  # fmt: skip
    with at_the_line(device, **values) as channels, pytest.raises(InstrumentError) as raised:
        channels["flow"].read()
    assert str(raised.value)
