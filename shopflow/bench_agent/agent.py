"""The agent at work: at each press of the lift key it takes a reading of the test at its bench."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote

from shopflow.bench_agent.capturing import BenchReading, Capturing, RefusedError
from shopflow.bench_agent.channels import connected, identify
from shopflow.bench_agent.clock import Clock
from shopflow.bench_agent.instruments import InstrumentError
from shopflow.bench_agent.journal import Journal
from shopflow.bench_agent.posting import Poster, Server, UnreachableError
from shopflow.bench_agent.settings import BenchSettings
from shopflow.errors import ShopflowError
from shopflow.texts import gettext
from shopflow.units import from_si, parse, to_si

BELL = "\a"
AGAIN, END = "again", "end"

Tell = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Test:
    """The flow test being taken at the bench, as the server last told of it."""

    tag: str
    key: str
    lift_unit: str
    lifts: tuple[str, ...]
    """Lifts of its rows without a reading, each with its unit, in order."""


class NoTestError(ShopflowError):
    """There is no one test that a reading could belong to."""


class Agent:
    """Takes readings for one bench."""

    def __init__(
        self,
        settings: BenchSettings,
        server: Server,
        journal: Journal,
        clock: Clock,
        tell: Tell,
        on_lift: Callable[[str], None] = lambda lift: None,
    ) -> None:
        self._settings = settings
        self._server = server
        self._journal = journal
        self._tell = tell
        self._on_lift = on_lift
        channels = connected(settings)
        self._serials = identify(settings, channels)
        self._capturing = Capturing(settings, channels, clock)
        self._poster = Poster(journal, server, tell)
        self._test: Test | None = None
        self._last_lift = ""

    def run(self, keys: Iterable[str]) -> None:
        """Take a reading at each line of `keys`: "again" repeats the last lift, "end" ends."""
        self._poster.start()
        try:
            if self._journal.refused:
                count = len(self._journal.refused)
                self._tell(gettext("{count} readings of before were refused: see the journal.",
                                   count=count))  # fmt: skip
            self._look(is_first=True)
            for key in keys:
                if key.strip() == END:
                    break
                self._at_key(is_again=key.strip() == AGAIN)
        finally:
            self._poster.end()
            if len(self._journal):
                self._tell(gettext("{count} readings wait in the journal and are posted at the "
                                   "next start.", count=len(self._journal)))  # fmt: skip

    def _at_key(self, *, is_again: bool) -> None:
        try:
            self._look()
            test = self._test
            if test is None:
                raise NoTestError(gettext("no flow test is being taken at this bench"))
            lift = self._lift(test, is_again=is_again)
            self._on_lift(lift)
            taken = self._capturing.take(is_new_lift=lift != self._last_lift)
            lift = self._shown(taken, lift)
            self._journal.add(
                f"/api/1/visits/{quote(test.tag)}/readings", self._body(test, lift, taken)
            )
        except (RefusedError, NoTestError) as error:
            self._tell(f"{BELL}{BELL}{gettext('NOT TAKEN: {error}', error=error)}")
            return
        self._poster.wake()
        self._test = replace(test, lifts=tuple(item for item in test.lifts if item != lift))
        self._last_lift = lift
        flow = taken.samples["flow"]
        words = gettext("{lift}: {mean} {unit}, scatter {sd}, {count} samples", lift=lift,
                        mean=f"{flow.mean:.5g}", unit=flow.unit, sd=f"{flow.sd:.2g}",
                        count=len(flow.values))  # fmt: skip
        self._tell(f"{BELL}{'; '.join((words, *taken.doubts))}")
        self._say_next()

    def _look(self, *, is_first: bool = False) -> None:
        """Ask the server which test is being taken; without it, the one known goes on."""
        try:
            answer = self._server.get("/api/1/bench")
        except UnreachableError:
            if self._test is None:
                raise NoTestError(gettext("the server cannot be reached")) from None
            return
        except NoTestError:
            return
        if answer.status != 200:
            raise ShopflowError(gettext("the server refuses: {words}", words=answer.detail))
        before = self._test
        try:
            self._test = self._chosen(answer.content)
        except NoTestError as error:
            if not is_first:
                raise
            self._tell(str(error))
            return
        if before is None or before.key != self._test.key:
            self._tell(gettext("Flow test of {tag}.", tag=self._test.tag))
            self._last_lift = ""
        if is_first:
            self._say_next()

    def _chosen(self, content: Mapping[str, Any]) -> Test:
        label = self._settings.label
        tests = [item for item in content["tests"] if label in ("", item["tag"])]
        if not tests:
            raise NoTestError(gettext("no flow test is being taken at {bench}: open it and choose "
                                      "this bench", bench=content["name"]))  # fmt: skip
        if len(tests) > 1:
            tags = ", ".join(item["tag"] for item in tests)
            raise NoTestError(gettext("several tests are being taken here ({tags}): name one with "
                                      "--label", tags=tags))  # fmt: skip
        (only,) = tests
        unit = only["lift_unit"]
        # Readings on their way are in no row yet.
        waiting = {self._last_lift} if self._test is None or len(self._journal) else set()
        lifts = [f"{row['lift']} {unit}" for row in only["rows"] if row["lift"] and not row["runs"]]
        kept = self._test.lifts if self._test and self._test.key == only["test"] else None
        rest = [lift for lift in lifts if lift not in waiting and (kept is None or lift in kept)]
        return Test(only["tag"], only["test"], unit, tuple(rest))

    def _lift(self, test: Test, *, is_again: bool) -> str:
        """The lift that the operator has set: the next one, or the last again."""
        if is_again and self._last_lift:
            return self._last_lift
        if test.lifts:
            return test.lifts[0]
        if "lift" in self._settings.channels:
            return ""
        raise NoTestError(gettext("every lift of the test has a reading: add rows to it"))

    def _shown(self, taken: BenchReading, lift: str) -> str:
        """The lift that the indicator shows, as the test names it. Raises RefusedError."""
        shown = taken.samples.get("lift")
        if shown is None:
            return lift
        at = to_si(shown.mean, shown.unit)
        near = parse(self._settings.lift_tolerance, "length").si
        wanted = self._test.lifts if self._test else ()
        for item in (lift, *wanted):
            if item and abs(parse(item, "length").si - at) <= near:
                return item
        unit = self._test.lift_unit if self._test else shown.unit
        if lift:
            raise RefusedError(
                gettext("the indicator reads {at} {unit}, and the next lift is {lift}",
                        at=f"{from_si(at, unit):.4g}", unit=unit, lift=lift)
            )  # fmt: skip
        return f"{from_si(at, unit):.4g} {unit}"

    def _body(self, test: Test, lift: str, taken: BenchReading) -> dict[str, Any]:
        return {
            "test": test.key,
            "taken_at": taken.at.isoformat(),
            "lift": lift,
            "channels": [
                {"name": name, "unit": item.unit, "mean": item.mean, "sd": item.sd,
                 "samples": list(item.values), "instrument": self._serials[name]}
                for name, item in taken.samples.items()
            ],
            "doubts": list(taken.doubts),
        }  # fmt: skip

    def _say_next(self) -> None:
        if self._test and self._test.lifts:
            self._tell(gettext("Set {lift}, then press the lift key.", lift=self._test.lifts[0]))
        elif self._test:
            self._tell(gettext("Every lift has a reading."))


def ready(settings: BenchSettings, token: str, journal: Journal, clock: Clock, tell: Tell,
          on_lift: Callable[[str], None] = lambda lift: None) -> Agent:  # fmt: skip
    """An agent whose instruments are who they should be. Raises ShopflowError."""
    try:
        return Agent(settings, Server(settings.server, token), journal, clock, tell, on_lift)
    except InstrumentError as error:
        raise ShopflowError(gettext("an instrument is at fault: {error}", error=error)) from None
