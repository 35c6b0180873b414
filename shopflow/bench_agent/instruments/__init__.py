"""Instruments, each by an open protocol: SCPI, Modbus, lines of text, and files that grow.

Their libraries are the extra `bench` and are imported only where a bench has such an instrument.
"""

from __future__ import annotations

from shopflow.bench_agent.instruments.growing_file import GrowingFile
from shopflow.bench_agent.instruments.instrument import Instrument, InstrumentError
from shopflow.bench_agent.instruments.lines import Lines
from shopflow.bench_agent.instruments.modbus import Modbus
from shopflow.bench_agent.instruments.scpi import Scpi
from shopflow.bench_agent.settings import InstrumentSettings

__all__ = ["Instrument", "InstrumentError", "opened"]

_KINDS: dict[str, type[Instrument]] = {
    "scpi": Scpi,
    "modbus": Modbus,
    "lines": Lines,
    "file": GrowingFile,
}


def opened(settings: InstrumentSettings) -> Instrument:
    """An instrument as its settings name it; it connects when it is first asked."""
    return _KINDS[settings.protocol](settings)
