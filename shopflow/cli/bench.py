"""The command beside a flow bench: reads its instruments, and posts what is steady."""

from __future__ import annotations

import argparse
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from queue import Queue

from shopflow.bench_agent import settings as bench_settings
from shopflow.bench_agent.agent import ready
from shopflow.bench_agent.clock import MachineClock
from shopflow.bench_agent.journal import Journal
from shopflow.bench_agent.settings import BenchSettings
from shopflow.bench_agent.simulated.bench import SimulatedBench
from shopflow.bench_agent.simulated.servers import serving, settings_for
from shopflow.errors import ShopflowError
from shopflow.texts import gettext

LIBRARIES = {"scpi": ("pyvisa", "pyvisa_py"), "modbus": ("pymodbus",), "lines": ("serial",)}


def bench(arguments: argparse.Namespace) -> int:
    """Take readings at each press of Enter or of the foot switch, until end of input."""
    with ExitStack() as stack:
        on_lift: Callable[[str], None] = _nothing
        if arguments.simulated:
            simulated = SimulatedBench(MachineClock())
            ports = stack.enter_context(serving(simulated))
            settings = bench_settings.read(settings_for(ports))
            on_lift = simulated.set_lift
        elif arguments.file is None:
            raise ShopflowError(gettext("name the bench's file, or ask for --simulated"))
        else:
            settings = bench_settings.load(arguments.file)
        settings = _completed(settings, arguments)
        _need_libraries(settings)
        journal = Journal(Path(settings.journal))
        stack.callback(journal.close)
        agent = ready(settings, _token(settings), journal, MachineClock(), _tell, on_lift)
        try:
            agent.run(_keys(settings.foot_switch))
        except KeyboardInterrupt:
            print(flush=True)
    return 0


def _completed(settings: BenchSettings, arguments: argparse.Namespace) -> BenchSettings:
    """Settings with what the command line says instead."""
    given = {
        "server": arguments.server,
        "token_file": arguments.token and str(arguments.token),
        "label": arguments.label,
        "journal": arguments.journal and str(arguments.journal),
    }
    settings = replace(settings, **{name: value for name, value in given.items() if value})
    if not settings.server or not settings.token_file:
        raise ShopflowError(
            gettext("name the server and the file of the bench's token: --server, --token")
        )
    return settings


def _need_libraries(settings: BenchSettings) -> None:
    used = {item.protocol for item in settings.instruments.values()}
    lacking = [name for kind in used for name in LIBRARIES.get(kind, ()) if find_spec(name) is None]
    if lacking or (settings.foot_switch and find_spec("serial") is None):
        raise ShopflowError(
            gettext("the instruments need their libraries: install 'shopflow[bench]'")
        )


def _token(settings: BenchSettings) -> str:
    path = Path(settings.token_file)
    try:
        return path.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise ShopflowError(
            gettext("cannot read {path}: {error}", path=path, error=error)
        ) from None


def _keys(foot_switch: str) -> Iterator[str]:
    """Lines from the keyboard, and from the foot switch where there is one, as they come."""
    if not foot_switch:
        yield from sys.stdin
        return
    pressed: Queue[str | None] = Queue()

    def keyboard() -> None:
        for line in sys.stdin:
            pressed.put(line)
        pressed.put(None)

    for source in (keyboard, lambda: _pedal(foot_switch, pressed)):
        threading.Thread(target=source, daemon=True).start()
    while (line := pressed.get()) is not None:
        yield line


def _pedal(device: str, pressed: Queue[str | None]) -> None:
    """Any line of the foot switch is a press; one that went away ends the command."""
    import serial

    try:
        with serial.serial_for_url(device, baudrate=9600) as port:
            while port.read_until(b"\n"):
                pressed.put("")
    except (serial.SerialException, OSError) as error:
        _tell(gettext("the foot switch is gone: {error}", error=error))
    pressed.put(None)


def _nothing(lift: str) -> None:
    """Do nothing: a real valve is set by hand."""


def _tell(words: str) -> None:
    print(words, flush=True)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {"bench": bench}
