"""A thousand readings of a simulated bench, every fault injected: none is wrong without a word.

The instruments answer on real sockets; the clock is simulated, so that a reading takes milliseconds
and not seconds. A reading is wrong where its mean is further from the truth than `WRONG`. The
steadiness test passes a drift of the instrument below the tolerance (0.6 % over the window of 2 s),
which looks like nothing at all: over the 4 s of a reading it comes to no more than that.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from shopflow.bench_agent import settings as bench_settings
from shopflow.bench_agent.capturing import Capturing, RefusedError
from shopflow.bench_agent.channels import connected, identify
from shopflow.bench_agent.simulated.bench import Fault, SimulatedBench
from shopflow.bench_agent.simulated.servers import SERIAL, serving, settings_for

COUNT = 1_000
WRONG = 0.0125
CHANNELS = ("flow", "test pressure")


class SimulatedClock:
    """A clock that moves only when somebody waits."""

    def __init__(self) -> None:
        self.now = 0.0

    def seconds(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        self.now += seconds

    def moment(self) -> datetime:
        return datetime(2026, 3, 2, tzinfo=UTC) + timedelta(seconds=self.now)


@pytest.fixture
def simulated() -> Iterator[tuple[SimulatedBench, Capturing]]:
    clock = SimulatedClock()
    bench = SimulatedBench(clock, seed=3)
    with serving(bench) as ports:
        document = settings_for(ports, rate=10.0, window=2.0, patience=9.0)
        for device in document["instruments"].values():
            device["timeout"] = 0.08
        settings = bench_settings.read(document)
        settings = replace(settings, channels={name: settings.channels[name] for name in CHANNELS})
        channels = connected(settings)
        assert identify(settings, channels)["flow"] == SERIAL
        yield bench, Capturing(settings, channels, clock)
        for channel in channels.values():
            channel.instrument.close()


@pytest.mark.slow
@pytest.mark.source("Simulation of known truth: faults of instruments, one kind at a time")
def test_no_reading_is_wrong_without_a_word(simulated: tuple[SimulatedBench, Capturing]):
    bench, capturing = simulated
    rng = random.Random(5)
    outcomes: Counter[tuple[Fault, str]] = Counter()
    silent: list[tuple[Fault, float, float]] = []
    kinds = [*Fault]
    for number in range(COUNT):
        fault, severity = kinds[number % len(kinds)], rng.random()
        bench.set_lift(f"{rng.uniform(1.0, 12.0):.3f} mm", fault, severity)
        try:
            taken = capturing.take()
        except RefusedError:
            outcomes[fault, "refused"] += 1
            continue
        if taken.doubts:
            outcomes[fault, "flagged"] += 1
            continue
        outcomes[fault, "taken"] += 1
        errors = [abs(item.mean / bench.truth(name) - 1.0) for name, item in taken.samples.items()]
        silent.append((fault, severity, max(errors)))
    wrong = [item for item in silent if item[2] > WRONG]
    assert not wrong, (wrong, outcomes)
    # Nor is everything refused: without a fault nearly all are taken, and are right.
    each = COUNT // len(kinds)
    assert outcomes[Fault.NONE, "taken"] >= 0.9 * each, outcomes
    right = [error for fault, _, error in silent if fault is Fault.NONE]
    assert max(right) < 0.004
    # And every fault did strike.
    for fault in kinds[1:]:
        if fault is not Fault.LAG:
            assert outcomes[fault, "refused"] + outcomes[fault, "flagged"] > 0.2 * each, outcomes
    assert sum(outcomes.values()) == COUNT
