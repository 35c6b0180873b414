"""Time as the agent measures it; a simulated bench runs its own."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """Time that passes."""

    def seconds(self) -> float:
        """Seconds since some moment; they never go back."""

    def sleep(self, seconds: float) -> None:
        """Wait."""

    def moment(self) -> datetime:
        """The moment, with its zone."""


class MachineClock:
    """The machine's own."""

    def seconds(self) -> float:
        """As `Clock.seconds`."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """As `Clock.sleep`."""
        time.sleep(seconds)

    def moment(self) -> datetime:
        """As `Clock.moment`."""
        return datetime.now(UTC)
