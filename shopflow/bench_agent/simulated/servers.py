"""The instruments of the simulated bench, as servers on loopback: real sockets, real bytes."""

from __future__ import annotations

import socketserver
import struct
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, ClassVar

from shopflow.bench_agent.simulated.bench import Fault, SimulatedBench

SERIAL = "SIM-1001"
MARK = 123456.0
"""The known number in the first registers."""

REGISTERS = ("test pressure", "barometer", "temperature", "humidity")
"""Quantities after the mark, two registers each, from register 2."""

READ_HOLDING, ILLEGAL_FUNCTION, ILLEGAL_ADDRESS = 3, 1, 2


@dataclass(frozen=True, slots=True)
class Ports:
    """TCP ports that the instruments answer at."""

    scpi: int
    modbus: int


class _Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = True
    daemon_threads = True

    def __init__(
        self, handler: type[socketserver.BaseRequestHandler], bench: SimulatedBench
    ) -> None:
        super().__init__(("127.0.0.1", 0), handler)
        self.bench = bench


class _Scpi(socketserver.StreamRequestHandler):
    """A flow meter: one answer to a line, in scientific notation of fixed width."""

    def handle(self) -> None:
        """Answer until the other end hangs up."""
        bench: SimulatedBench = self.server.bench  # type: ignore[attr-defined]
        held = b""
        try:
            for line in self.rfile:
                answer = self._answer(line.strip().decode("ascii", "replace"), bench)
                if bench.happens(Fault.LATE_ANSWER, 0.05) and not held:
                    # It comes with the answer to the next question, before that.
                    held = answer
                    continue
                if bench.happens(Fault.DROPPED_BYTES, 0.15):
                    place = bench.place_in(len(answer))
                    answer = answer[:place] + answer[place + 1 :]
                self.wfile.write(held + answer)
                held = b""
        except OSError:
            return

    def _answer(self, question: str, bench: SimulatedBench) -> bytes:
        if question == "*IDN?":
            return f"Loopback,Flow meter,{SERIAL},1\n".encode()
        if question == "MEAS:FLOW?":
            return f"{bench.shown('flow'):+.5E}\n".encode()
        return b'-113,"Undefined header"\n'


class _Modbus(socketserver.BaseRequestHandler):
    """A set of transducers: floats in holding registers, the high word first."""

    WORDS: ClassVar[int] = 2 * (1 + len(REGISTERS))

    def handle(self) -> None:
        """Answer until the other end hangs up."""
        bench: SimulatedBench = self.server.bench  # type: ignore[attr-defined]
        try:
            while header := self._exactly(7):
                transaction, _, length, device = struct.unpack(">HHHB", header)
                answer = self._answer(self._exactly(length - 1), bench)
                packet = struct.pack(">HHHB", transaction, 0, len(answer) + 1, device) + answer
                if bench.happens(Fault.DROPPED_BYTES, 0.15):
                    place = bench.place_in(len(packet))
                    packet = packet[:place] + packet[place + 1 :]
                self.request.sendall(packet)
        except OSError:
            return

    def _exactly(self, count: int) -> bytes:
        content = b""
        while len(content) < count:
            more = self.request.recv(count - len(content))
            if not more:
                return b""
            content += more
        return content

    def _answer(self, question: bytes, bench: SimulatedBench) -> bytes:
        function, first, count = struct.unpack(">BHH", question[:5])
        if function != READ_HOLDING:
            return bytes([function | 0x80, ILLEGAL_FUNCTION])
        if first + count > self.WORDS:
            return bytes([function | 0x80, ILLEGAL_ADDRESS])
        numbers = [MARK, *(bench.shown(name) for name in REGISTERS)]
        pairs = [struct.pack(">f", number) for number in numbers]
        if bench.happens(Fault.SWAPPED_WORDS, 0.3):
            pairs = [pair[2:] + pair[:2] for pair in pairs]
        block = b"".join(pairs)[2 * first : 2 * (first + count)]
        return bytes([function, len(block)]) + block


@contextmanager
def serving(bench: SimulatedBench) -> Iterator[Ports]:
    """The instruments of a bench, answering until the end."""
    servers = [_Server(handler, bench) for handler in (_Scpi, _Modbus)]
    threads = [
        threading.Thread(target=item.serve_forever, args=(0.05,), daemon=True) for item in servers
    ]
    for thread in threads:
        thread.start()
    try:
        yield Ports(*(int(item.server_address[1]) for item in servers))
    finally:
        for item in servers:
            item.shutdown()
            item.server_close()


def settings_for(ports: Ports, **own: Any) -> dict[str, Any]:
    """The settings file of the simulated bench, as a document."""
    modbus = {"instrument": "transducers"}
    return {
        "rate": 20.0,
        "window": 1.0,
        "settle": 0.2,
        "samples": 10,
        "patience": 20.0,
        **own,
        "instruments": {
            "meter": {
                "protocol": "scpi",
                "address": f"TCPIP::127.0.0.1::{ports.scpi}::SOCKET",
                "timeout": 0.5,
                "serial_number": SERIAL,
            },
            "transducers": {
                "protocol": "modbus",
                "address": f"tcp://127.0.0.1:{ports.modbus}",
                "timeout": 0.5,
                "mark_register": 0,
                "mark": MARK,
            },
        },
        "channels": {
            "flow": {
                "instrument": "meter", "unit": "cfm", "query": "MEAS:FLOW?",
                "form": r"([+-]\d\.\d{5}E[+-]\d\d)", "least": 0.0, "most": 600.0,
                "tolerance": "0.6 %", "scatter": "1 %", "stuck_after": 5,
            },
            "test pressure": {**modbus, "unit": "inH2O", "register": 2, "least": 1.0,
                              "most": 60.0, "tolerance": "0.6 %", "scatter": "1 %",
                              "stuck_after": 5},
            "barometer": {**modbus, "unit": "hPa", "register": 4, "least": 500.0, "most": 1100.0,
                          "tolerance": 1.0},
            "temperature": {**modbus, "unit": "degC", "register": 6, "least": -20.0, "most": 60.0,
                            "tolerance": 0.5},
            "humidity": {**modbus, "unit": "%", "register": 8, "least": 0.0, "most": 100.0,
                         "tolerance": 2.0},
        },
    }  # fmt: skip
