"""Taking a reading: wait until every channel is steady, take the samples, note what is doubtful."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from shopflow.bench_agent.channels import Channel
from shopflow.bench_agent.clock import Clock
from shopflow.bench_agent.instruments import InstrumentError
from shopflow.bench_agent.settings import BenchSettings, ChannelSettings
from shopflow.calc.steadiness import FEWEST, is_steady, trend
from shopflow.errors import ShopflowError
from shopflow.texts import gettext

HELD = 10
"""Sweeps that all channels must be found steady at, one after the other."""

FEWEST_SAMPLES = 5
ALIKE = 3.0
"""Standard uncertainties within which two flows count as one."""


class RefusedError(ShopflowError):
    """No reading could be taken: nothing was steady in time, or an instrument is at fault."""


@dataclass(frozen=True, slots=True)
class Samples:
    """The steady samples of one channel."""

    unit: str
    values: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Their mean."""
        return math.fsum(self.values) / len(self.values)

    @property
    def sd(self) -> float:
        """Their sample standard deviation."""
        return statistics.stdev(self.values)


@dataclass(frozen=True, slots=True)
class BenchReading:
    """A reading, with what is doubtful of it."""

    at: datetime
    samples: Mapping[str, Samples]
    doubts: tuple[str, ...] = ()


@dataclass
class _Window:
    """The latest samples of a channel, as long as the window of the test is."""

    settings: ChannelSettings
    times: list[float] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def add(self, moment: float, value: float, span: float) -> None:
        self.times.append(moment)
        self.values.append(value)
        # One sample more than the span needs, so that the window is never shorter.
        while len(self.times) > 2 and moment - self.times[1] >= span:
            del self.times[0], self.values[0]

    def clear(self) -> None:
        self.times.clear()
        self.values.clear()

    def is_steady(self, span: float) -> bool:
        full = len(self.times) >= FEWEST and self.times[-1] - self.times[0] >= span
        return full and is_steady(self.times, self.values, tolerance(self.settings, self.values))


class Capturing:
    """Takes readings of the channels of one bench."""

    def __init__(
        self, settings: BenchSettings, channels: Mapping[str, Channel], clock: Clock
    ) -> None:
        self._settings = settings
        self._channels = channels
        self._clock = clock
        self._windows = {name: _Window(item.settings) for name, item in channels.items()}
        self._faults: dict[str, str] = {}
        self._before: Samples | None = None

    def take(self, *, is_new_lift: bool = True) -> BenchReading:
        """A reading of every channel, once all are steady. Raises RefusedError."""
        self._restart()
        until = self._clock.seconds() + self._settings.patience
        self._clock.sleep(self._settings.settle)
        held, samples = 0, {name: list[float]() for name in self._channels}
        while self._clock.seconds() < until:
            values = self._sweep()
            if values is None or not self._all_steady():
                held, samples = 0, {name: [] for name in self._channels}
                continue
            held += 1
            if held > HELD:
                for name, value in values.items():
                    samples[name].append(value)
            if held == HELD + max(self._settings.samples, FEWEST_SAMPLES):
                return self._reading_of(samples, is_new_lift=is_new_lift)
        raise RefusedError(self._why_not())

    def _restart(self) -> None:
        for window in self._windows.values():
            window.clear()
        self._faults.clear()

    def _sweep(self) -> dict[str, float] | None:
        """A number of each channel, at the next moment for it; None where one gave none."""
        began = self._clock.seconds()
        values: dict[str, float] = {}
        for name, channel in self._channels.items():
            try:
                values[name] = channel.read()
            except InstrumentError as error:
                self._faults[name] = str(error)
                self._windows[name].clear()
            else:
                window = self._windows[name]
                window.add(self._clock.seconds(), values[name], self._settings.window)
        self._clock.sleep(max(began + 1.0 / self._settings.rate - self._clock.seconds(), 0.0))
        return values if len(values) == len(self._channels) else None

    def _all_steady(self) -> bool:
        span = self._settings.window
        return all(window.is_steady(span) for window in self._windows.values())

    def _reading_of(self, values: Mapping[str, list[float]], *, is_new_lift: bool) -> BenchReading:
        samples = {
            name: Samples(self._channels[name].settings.unit, tuple(numbers))
            for name, numbers in values.items()
        }
        doubts = list(self._doubts(samples))
        if is_new_lift and self._before is not None and _alike(samples["flow"], self._before):
            doubts.append(gettext("the flow is that of the lift before: check lift and instrument"))
        self._before = samples["flow"]
        return BenchReading(self._clock.moment(), samples, tuple(doubts))

    def _doubts(self, samples: Mapping[str, Samples]) -> list[str]:
        doubts = []
        for name, item in samples.items():
            limit = self._channels[name].settings.scatter
            if name in ("flow", "test pressure") and item.sd > limit * abs(item.mean):
                percent = f"{100.0 * item.sd / abs(item.mean):.2g}" if item.mean else "?"
                doubts.append(gettext("{name} scatters by {percent} %", name=name, percent=percent))
        return doubts

    def _why_not(self) -> str:
        """The first reason why a reading was not to be had."""
        span = self._settings.window
        for name, window in self._windows.items():
            if not window.is_steady(span):
                if name in self._faults:
                    return f"{name}: {self._faults[name]}"
                if len(window.times) < FEWEST:
                    return gettext("{name}: too few readings in time", name=name)
                change = trend(window.times, window.values).most_change
                return gettext(
                    "{name} is not steady: it may change by {change} {unit} in {span} s", name=name,
                    change=f"{change:.2g}", unit=window.settings.unit, span=f"{span:g}",
                )  # fmt: skip
        return gettext("nothing was steady for long enough")


def tolerance(settings: ChannelSettings, values: list[float]) -> float:
    """Change over a window that a channel may have, in its unit."""
    if not settings.is_relative:
        return settings.tolerance
    return settings.tolerance * abs(math.fsum(values) / len(values))


def _alike(one: Samples, other: Samples) -> bool:
    apart = abs(one.mean - other.mean)
    spread = one.sd**2 / len(one.values) + other.sd**2 / len(other.values)
    return apart <= ALIKE * math.sqrt(spread)
