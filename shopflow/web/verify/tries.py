"""Slowing down whoever tries codes: so many wrong ones from one address, then a pause."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from threading import Lock

MOST_WRONG = 20
WINDOW = 600.0
"""Seconds."""

MOST_ADDRESSES = 10_000
"""Kept in memory at once; the longest known is forgotten first."""


class WrongTries:
    """Wrong tries by address within the window, in this process."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._tries: dict[str, deque[float]] = {}
        self._lock = Lock()

    def too_many(self, address: str) -> bool:
        """Whether this address has to wait."""
        with self._lock:
            tries = self._tries.get(address, deque())
            while tries and tries[0] < self._clock() - WINDOW:
                tries.popleft()
            return len(tries) >= MOST_WRONG

    def count(self, address: str) -> None:
        """Note a wrong try."""
        with self._lock:
            tries = self._tries.pop(address, deque(maxlen=MOST_WRONG))
            tries.append(self._clock())
            self._tries[address] = tries
            if len(self._tries) > MOST_ADDRESSES:
                del self._tries[next(iter(self._tries))]
