"""Channels: an instrument's numbers scaled and filtered, and refused where they cannot be."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping

from shopflow.bench_agent.instruments import Instrument, InstrumentError, opened
from shopflow.bench_agent.settings import BenchSettings, ChannelSettings
from shopflow.texts import gettext


class Channel:
    """One quantity of a bench."""

    def __init__(self, settings: ChannelSettings, instrument: Instrument) -> None:
        self.settings = settings
        self.instrument = instrument
        self._last: float | None = None
        self._equal = 0

    def read(self) -> float:
        """The quantity now, in its unit.

        Raises InstrumentError where the instrument gives no number, one outside of what can be, or
        the same one for too long; the connection is then ended, so that no late answer is taken for
        the next one's.
        """
        try:
            raw = [self._checked(self.instrument.read(self.settings))
                   for _ in range(self.settings.filter_of)]  # fmt: skip
        except InstrumentError:
            self.instrument.close()
            raise
        reduced = (
            statistics.median(raw)
            if self.settings.filter == "median"
            else math.fsum(raw) / len(raw)
        )
        value = self.settings.scale * reduced + self.settings.offset
        if not self.settings.least <= value <= self.settings.most:
            self.instrument.close()
            raise InstrumentError(
                gettext("reads {value} {unit}, outside of what it can", value=f"{value:.6g}",
                        unit=self.settings.unit)
            )  # fmt: skip
        return value

    def _checked(self, number: float) -> float:
        if not math.isfinite(number):
            raise InstrumentError(gettext("gave no number"))
        self._equal = self._equal + 1 if number == self._last else 0
        self._last = number
        most = self.settings.stuck_after
        if most and self._equal >= most:
            raise InstrumentError(
                gettext("is stuck: {count} readings alike", count=self._equal + 1)
            )
        return number


def connected(settings: BenchSettings) -> dict[str, Channel]:
    """The channels of a bench; each instrument is one however many channels it has."""
    instruments = {name: opened(device) for name, device in settings.instruments.items()}
    return {
        name: Channel(channel, instruments[channel.instrument])
        for name, channel in settings.channels.items()
    }


def identify(settings: BenchSettings, channels: Mapping[str, Channel]) -> dict[str, str]:
    """Serial number of the instrument of each channel, by the channel's name.

    Raises InstrumentError where one answers with another than its settings name.
    """
    names: dict[str, str] = {}
    for name, channel in channels.items():
        device = settings.instruments[channel.settings.instrument]
        if device.serial_number and channel.instrument.KEEPS_IDENTITY:
            words = channel.instrument.identity()
            if device.serial_number not in words:
                raise InstrumentError(
                    gettext("{device} says it is {words}, not {serial_number}", device=device.name,
                            words=words, serial_number=device.serial_number)
                )  # fmt: skip
        names[name] = device.serial_number or device.name
    return names
