"""Ports through an engine's cam; SI but for crank degrees."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime

from shopflow import sentences
from shopflow.calc.area_gain import AreaComparison, AreaGain
from shopflow.calc.cam_gain import CamMean
from shopflow.calc.cycle import Cycle, SideOfCycle
from shopflow.calc.cycle_curves import Curve
from shopflow.calc.gain_source import GainSource
from shopflow.calc.verdicts import Verdict
from shopflow.documents import snapshot
from shopflow.documents.engine import EngineView
from shopflow.documents.head import HeadIdentity
from shopflow.documents.shop import Display, Letterhead
from shopflow.texts import gettext

UNKNOWN = "–"


@dataclass(frozen=True)
class AreaOverAngle:
    """A port's effective area over crank angle, from opening to closing."""

    side: str
    test: str
    """The flow test's name."""

    curve: Curve
    figures: SideOfCycle
    mean: CamMean
    last_lift: float
    """The greatest lift tested."""

    is_first: bool = False
    """True for the earlier of two tests."""


@dataclass(frozen=True)
class OverCams:
    """One test against another of its side in the mean over cams, a part for each cam."""

    side: str
    before: str
    after: str
    is_gain: bool
    """True where both are of one port that was cut in between."""

    cuts: str
    """Cuts between them, as a sentence; empty where they are of two ports."""

    cams: tuple[str, ...]
    """Names of the cams, in the order of the parts."""

    areas: AreaComparison
    reasons: tuple[str, ...]
    """Reasons that nothing is stated, where nothing is."""

    sources: tuple[GainSource | None, ...] = ()
    """Opening and all else behind each part, None where its cam does not lift so far; empty where a
    seat is not stated."""

    @property
    def source_rows(self) -> list[tuple[str, str]]:
        """Parts from the opening and from all else over each cam; none where it is not
        known."""
        pairs = zip(self.areas.parts, self.sources, strict=False)
        return [
            sentences.sources_of(gain, source) if source else (UNKNOWN, UNKNOWN)
            for gain, source in pairs
        ]

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """Each cam with the difference over it and the verdict on that, in words."""
        return [
            (cam, sentences.percent(part), sentences.called(part.verdict, self.is_gain))
            for cam, part in zip(self.cams, self.areas.parts, strict=False)
        ]

    def on(self, cam: str) -> str:
        """The difference over one of the cams with its verdict; empty where it is not compared."""
        for name, difference, verdict in self.rows:
            if name == cam:
                return gettext(
                    "{difference} in mean effective area over the cam: {verdict}",
                    difference=difference,
                    verdict=verdict,
                )
        return ""


@dataclass(frozen=True)
class DrawnCam:
    """Ports through one cam, as they are drawn."""

    name: str
    of_job: bool
    speed: str
    engine: str
    """Bore and stroke as typed."""

    stand_ins: tuple[str, ...]
    """Sides whose lobe nobody measured."""

    ports: tuple[AreaOverAngle, ...]
    overlap: Curve
    """Area of both ports in series at angles; empty where there is none."""

    blowdown: Curve
    """Area of the exhaust from its opening to bottom dead centre."""


@dataclass(frozen=True)
class OneCam(DrawnCam):
    """A head's ports through one cam."""

    latest: Cycle
    """Of the later tests, as far as there are any."""

    earlier: Cycle | None
    """Of the earlier ones, where there are any."""


@dataclass(frozen=True)
class GainOverCam:
    """One test of a certificate against an earlier one in the mean over its cam, SI."""

    side: str
    before: str
    after: str
    before_file: str
    after_file: str
    """The flow test files it can be calculated from again."""

    is_gain: bool
    low: float
    high: float
    area_before: float
    area_after: float
    """Over the time that both tests cover."""

    expanded_uncertainty: float | None
    """Of the relative gain for 95 %; None where it is not stated."""

    verdict: str
    reasons: tuple[str, ...] = ()
    set_ups: str = field(default="", metadata=snapshot.LATER)
    """Sentence of who confirmed that unlike set-ups are meant, as on the certificate's gain."""

    @property
    def in_words(self) -> tuple[str, str]:
        """The difference with its uncertainty, and the verdict on it."""
        gain = AreaGain(
            *(self.low, self.high, self.area_before, self.area_after),
            self.expanded_uncertainty,
            Verdict(self.verdict),
        )
        return sentences.percent(gain), sentences.called(gain.verdict, self.is_gain)


@dataclass(frozen=True)
class CertifiedCam(DrawnCam):
    """The flow tests of a certificate through one cam, with all that it can be calculated from
    again.

    A certificate keeps it as it stands: a field added to it or to its parts later has
    `metadata=snapshot.LATER`.
    """

    test_files: tuple[str, ...]
    """Flow test file of each port."""

    gains: tuple[GainOverCam, ...]
    file_name: str
    file_text: str
    """Of the cam."""

    @property
    def drawn(self) -> DrawnCam:
        """Only the ports that its chart shows: the best of each side, and the test before it."""
        return replace(self, ports=tuple(port for port in self.ports if port.curve))


@dataclass(frozen=True)
class ThroughCam:
    """A head's ports through the cams chosen, the first of them drawn."""

    shop: Letterhead
    display: Display
    head: HeadIdentity
    job: str
    cam: OneCam
    """The one that is drawn."""

    comparisons: tuple[OverCams, ...]
    made_at: datetime
    engine: EngineView | None = None
    """The engine behind the later test of the intake; None without one."""
