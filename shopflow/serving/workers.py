"""The processes of a server: workers that answer, one that sends mail and webhooks, and this one
that keeps them running."""

from __future__ import annotations

import logging
import mmap
import os
import signal
import struct
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NoReturn

from shopflow.texts import gettext

LAST_ANSWERS = 15.0
"""Seconds that processes are given to end by themselves; the sender may be handing over a message.
"""

SOON = 1.0
"""A process that ends within these seconds is replaced only after them."""

SILENCE = 30.0
"""Seconds without a sign of life, after which a process counts as stopped."""

_SIGNALS = (signal.SIGTERM, signal.SIGINT)

log = logging.getLogger(__name__)


class Heartbeat:
    """A sign of life that other processes forked from the same one can see."""

    def __init__(self) -> None:
        self._memory = mmap.mmap(-1, 8)
        self.beat()

    def beat(self) -> None:
        """Say that this process is at work."""
        self._memory[:] = struct.pack("d", time.monotonic())

    def is_alive(self) -> bool:
        """True where a beat was felt lately."""
        (last,) = struct.unpack("d", self._memory[:])
        return time.monotonic() - float(last) < SILENCE


@dataclass(slots=True)
class Processes:
    """Processes forked from this one, each replaced when it ends, until this one is told to end.

    What they do is called in the fork; it returns, or raises SystemExit, when SIGTERM came.
    """

    tasks: list[tuple[str, Callable[[], None]]]
    """Name of each process, for the log, and what it does."""

    _running: dict[int, tuple[str, Callable[[], None], float]] = field(default_factory=dict)

    def run(self) -> None:
        """Start them, and keep them running until SIGTERM or SIGINT."""
        ours, theirs = os.pipe()
        try:
            for sign in _SIGNALS:
                signal.signal(sign, _end)
            for name, task in self.tasks:
                self._start(name, task, ours, theirs)
            while True:
                pid, status = os.waitpid(-1, 0)
                if pid in self._running:
                    self._replace(pid, status, ours, theirs)
        except SystemExit:
            pass
        finally:
            self._end_all()
            os.close(ours)
            os.close(theirs)

    def _start(self, name: str, task: Callable[[], None], ours: int, theirs: int) -> None:
        # A signal between the fork and the child's own handlers would be taken for the parent's.
        signal.pthread_sigmask(signal.SIG_BLOCK, _SIGNALS)
        pid = os.fork()
        if not pid:
            os.close(theirs)
            _work(task, ours)
        self._running[pid] = name, task, time.monotonic()
        signal.pthread_sigmask(signal.SIG_UNBLOCK, _SIGNALS)

    def _replace(self, pid: int, status: int, ours: int, theirs: int) -> None:
        name, task, since = self._running.pop(pid)
        log.error(
            gettext(
                "process {pid} ({name}) ended with status {status}; starting another",
                pid=pid,
                name=name,
                status=os.waitstatus_to_exitcode(status),
            )
        )
        time.sleep(max(0.0, since + SOON - time.monotonic()))
        self._start(name, task, ours, theirs)

    def _end_all(self) -> None:
        """Ask them to end, and end those that do not."""
        for sign in _SIGNALS:
            signal.signal(sign, signal.SIG_IGN)
        self._send(signal.SIGTERM)
        last = time.monotonic() + LAST_ANSWERS
        while self._running and time.monotonic() < last:
            pid, _ = os.waitpid(-1, os.WNOHANG)
            self._running.pop(pid, None)
            if not pid:
                time.sleep(0.02)
        self._send(signal.SIGKILL)

    def _send(self, sign: signal.Signals) -> None:
        for pid in self._running:
            os.kill(pid, sign)


def _end(*_: object) -> NoReturn:
    raise SystemExit(0)


def _work(task: Callable[[], None], lifeline: int) -> NoReturn:
    """Do a child's work, and end without what the parent would do at its end."""
    status = 1
    try:
        signal.signal(signal.SIGTERM, _end)
        # Ctrl+C reaches all of them; the parent then tells its children.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        threading.Thread(target=_end_with_parent, args=(lifeline,), daemon=True).start()
        signal.pthread_sigmask(signal.SIG_UNBLOCK, _SIGNALS)
        task()
        status = 0
    except SystemExit:
        status = 0
    except BaseException:
        log.exception("a process of the server failed")
    finally:
        os._exit(status)


def _end_with_parent(lifeline: int) -> None:
    """End at once where the parent was killed: nobody else would, and the port stays taken."""
    os.read(lifeline, 1)
    os._exit(1)


def until_told(works: Sequence[Callable[[threading.Event], None]], heart: Heartbeat) -> None:
    """Do each work in a thread until SIGTERM comes, and give it time to be done with what it does.

    Raises RuntimeError where one ends by itself.
    """
    stop = threading.Event()
    threads = [threading.Thread(target=work, args=(stop,), daemon=True) for work in works]
    # Waited for and not handled: a handler must not touch an Event that is being waited on.
    signal.pthread_sigmask(signal.SIG_BLOCK, (signal.SIGTERM,))
    for thread in threads:
        thread.start()
    heart.beat()
    while signal.sigtimedwait((signal.SIGTERM,), 1.0) is None:
        if not all(thread.is_alive() for thread in threads):
            raise RuntimeError("the work ended by itself")
        heart.beat()
    stop.set()
    last = time.monotonic() + LAST_ANSWERS - 5
    for thread in threads:
        thread.join(timeout=max(0.0, last - time.monotonic()))
