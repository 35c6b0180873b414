"""Parts of the agent beside a bench: its settings, channels, journal and instruments."""

from __future__ import annotations

import json
import os
import pty
import threading
import time
import tty
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from shopflow.bench_agent import settings as bench_settings
from shopflow.bench_agent.channels import Channel, connected, identify
from shopflow.bench_agent.clock import MachineClock
from shopflow.bench_agent.instruments import InstrumentError, opened
from shopflow.bench_agent.journal import Entry, Journal
from shopflow.bench_agent.posting import CREATED, Answer, Poster, Server
from shopflow.bench_agent.settings import BenchSettings, ChannelSettings, InstrumentSettings
from shopflow.bench_agent.simulated.bench import Fault, SimulatedBench
from shopflow.bench_agent.simulated.servers import MARK, Ports, serving, settings_for
from shopflow.errors import ShopflowError, ValidationError
from tests.patience import PATIENCE

NUMBER = r"([+-]\d\.\d{5}E[+-]\d\d)"


@pytest.fixture
def bench() -> SimulatedBench:
    return SimulatedBench(MachineClock(), time_constant=0.001)


@pytest.fixture
def ports(bench: SimulatedBench) -> Iterator[Ports]:
    with serving(bench) as ports:
        yield ports


@pytest.fixture
def settings(ports: Ports) -> BenchSettings:
    document = settings_for(ports)
    for device in document["instruments"].values():
        device["timeout"] = 0.2
    return bench_settings.read(document)


def closed(channels: dict[str, Channel]) -> None:
    for channel in channels.values():
        channel.instrument.close()


def test_numbers_come_over_scpi_and_modbus(settings: BenchSettings, bench: SimulatedBench):
    bench.set_lift("10 mm")
    channels = connected(settings)
    time.sleep(0.05)
    for name, channel in channels.items():
        assert channel.read() == pytest.approx(bench.truth(name), rel=0.02), name
    closed(channels)


def test_an_instrument_of_another_number_is_refused(settings: BenchSettings):
    channels = connected(settings)
    assert identify(settings, channels)["flow"] == "SIM-1001"
    other = bench_settings.read(
        {**settings_for_names(settings), "instruments": {"meter": {
            "protocol": "scpi", "address": settings.instruments["meter"].address,
            "serial_number": "SIM-2"}}}
    )  # fmt: skip
    with pytest.raises(InstrumentError, match="SIM-1001,1, not SIM-2"):
        identify(other, connected(other))
    closed(channels)


def settings_for_names(settings: BenchSettings) -> dict[str, Any]:
    return {"channels": {"flow": {"instrument": "meter", "unit": "cfm", "query": "MEAS:FLOW?"}}}


@pytest.mark.parametrize("fault", [Fault.DROPPED_BYTES, Fault.LATE_ANSWER, Fault.SWAPPED_WORDS])
def test_a_damaged_answer_is_no_number_and_harms_no_later_one(settings, bench, fault: Fault):
    channels = connected(settings)
    names = {"flow", "test pressure"}
    refused = 0
    bench.set_lift("10 mm", fault, 1.0)
    time.sleep(0.02)
    for _ in range(60):
        for name in names:
            try:
                assert channels[name].read() == pytest.approx(bench.truth(name), rel=0.02)
            except InstrumentError:
                refused += 1
    assert refused > 0
    closed(channels)


def test_a_stuck_instrument_is_told_by_numbers_all_alike(settings, bench):
    channels = connected(settings)
    bench.set_lift("10 mm", Fault.STUCK)
    for _ in range(5):
        channels["flow"].read()
    with pytest.raises(InstrumentError, match="is stuck: 6 readings alike"):
        channels["flow"].read()
    closed(channels)


def test_a_median_leaves_a_single_wrong_number_out():
    class Scripted:
        def __init__(self) -> None:
            self.numbers = iter([1.0, 900.0, 1.1])

        def read(self, channel: ChannelSettings) -> float:
            return next(self.numbers)

        def close(self) -> None:
            pass

    own = ChannelSettings("flow", "any", "cfm", scale=2.0, offset=0.5, filter="median", filter_of=3)
    assert Channel(own, Scripted()).read() == pytest.approx(2.7)  # type: ignore[arg-type]


def test_a_line_that_comes_by_itself_is_read_whole_over_a_serial_line():
    ours, theirs = pty.openpty()
    tty.setraw(theirs)
    device = InstrumentSettings("dial", "lines", os.ttyname(theirs), timeout=1.0)
    channel = bench_settings.read({
        "instruments": {"dial": {"protocol": "lines", "address": device.address}},
        "channels": {"flow": {"instrument": "dial", "unit": "cfm", "form": r"Q=(\d{3}\.\d) cfm"}},
    }).channels["flow"]  # fmt: skip
    instrument = opened(device)
    ended = threading.Event()

    def send() -> None:
        while not ended.wait(0.02):
            os.write(ours, b"Q=212.4 cfm\r\n")

    sender = threading.Thread(target=send)
    sender.start()
    try:
        assert instrument.read(channel) == 212.4
        assert instrument.read(channel) == 212.4
    finally:
        ended.set()
        sender.join()
    instrument.close()
    silent = opened(InstrumentSettings("dial", "lines", os.ttyname(theirs), timeout=0.1))
    with pytest.raises(InstrumentError, match="no whole line in time"):
        silent.read(channel)
    silent.close()
    os.close(ours)
    os.close(theirs)


def test_a_file_that_grows_gives_its_newest_whole_line(tmp_path: Path):
    path = tmp_path / "log.csv"
    path.write_text("old 1.0\n")
    instrument = opened(InstrumentSettings("log", "file", str(path), timeout=0.5))
    channel = bench_settings.read({
        "instruments": {"log": {"protocol": "file", "address": str(path)}},
        "channels": {"flow": {"instrument": "log", "unit": "cfm", "form": r"new (\d+\.\d)"}},
    }).channels["flow"]  # fmt: skip

    def grow() -> None:
        time.sleep(0.1)
        with path.open("a") as file:
            file.write("new 2.0\nnew 3.0\nnew 4")

    writer = threading.Thread(target=grow)
    writer.start()
    assert instrument.read(channel) == 3.0
    writer.join()
    with pytest.raises(InstrumentError, match="no new line in time"):
        instrument.read(channel)


def test_every_fault_of_a_file_is_told_with_its_key():
    with pytest.raises(ValidationError) as caught:
        bench_settings.read({
            "rate": -1, "colour": "red",
            "instruments": {"a": {"protocol": "telex", "address": "x"},
                            "b": {"protocol": "modbus", "address": "tcp://x"}},
            "channels": {"flow": {"instrument": "c", "unit": "mm", "form": "(", "filter": "sum"},
                         "noise": {"instrument": "a", "unit": "cfm"}},
        })  # fmt: skip
    keys = {fault.key for fault in caught.value.faults}
    assert keys >= {
        "rate", "colour", "instruments.a.protocol", "instruments.b.mark_register",
        "channels.flow.unit", "channels.flow.form", "channels.flow.filter", "channels.noise",
    }  # fmt: skip


def test_what_the_journal_holds_outlives_the_program(tmp_path: Path):
    path = tmp_path / "journal.jsonl"
    journal = Journal(path)
    first, second = journal.add("/a", {"n": 1}), journal.add("/a", {"n": 2})
    journal.settle(first, 201)
    journal.close()
    # A power cut in the middle of a line.
    with path.open("ab") as file:
        file.write(b'{"key": "half')
    again = Journal(path)
    assert (again.first(), len(again)) == (second, 1)
    again.settle(second, 409, "this test is saved already")
    third = again.add("/a", {"n": 3})
    again.close()
    last = Journal(path)
    assert last.first() == third
    assert [(entry.body, words) for entry, words in last.refused] == [
        ({"n": 2}, "this test is saved already")
    ]
    last.close()
    assert all(json.loads(line) for line in path.read_text().splitlines())


def test_a_reading_added_while_the_poster_falls_asleep_is_posted(tmp_path: Path):
    """The poster waits without an end: one that slept over a reading would never post it."""

    class Racing(Journal):
        racer: threading.Thread | None = None

        def first(self) -> Entry | None:
            """Nothing, while another thread adds a reading and wakes the poster."""
            entry = super().first()
            if self.racer is None:
                self.racer = threading.Thread(target=self.race)
                self.racer.start()
                while not len(self):
                    time.sleep(0.001)
            return entry

        def race(self) -> None:
            """Add a reading, as the agent does."""
            self.add("/api/1/visits/A/readings", {"lift": "0.1 in"})
            poster.wake()

    posted = threading.Event()

    class Taking(Server):
        def post(self, entry: Entry) -> Answer:
            """Take it."""
            posted.set()
            return Answer(CREATED, {})

    journal = Racing(tmp_path / "journal.jsonl")
    poster = Poster(journal, Taking("http://127.0.0.1:1", "token"), print)
    poster.start()
    assert posted.wait(PATIENCE)
    poster.end()
    assert not poster.is_alive()
    assert len(journal) == 0
    journal.close()


def test_two_agents_do_not_share_a_journal(tmp_path: Path):
    journal = Journal(tmp_path / "journal.jsonl")
    with pytest.raises(ShopflowError, match="another agent writes"):
        Journal(tmp_path / "journal.jsonl")
    journal.close()


def test_a_damaged_journal_is_kept_and_not_guessed_at(tmp_path: Path):
    path = tmp_path / "journal.jsonl"
    path.write_text('{"settled": "unknown", "status": 201, "refusal": ""}\n')
    with pytest.raises(ShopflowError, match="line 1 of the journal"):
        Journal(path)


def test_the_mark_of_the_simulated_transducers_is_exact():
    assert MARK == 123456.0
