"""The flow certificate."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from shopflow.documents import certificate_text, snapshot
from shopflow.documents.head import HeadIdentity
from shopflow.documents.job import JobFacts
from shopflow.documents.session import Gain, SessionResult
from shopflow.documents.shop import Display, Letterhead, Party, SigningKey
from shopflow.documents.swirl import SwirlResult
from shopflow.documents.through_cam import CertifiedCam
from shopflow.texts import gettext


def _each(texts: Sequence[object]) -> Callable[[], tuple[str, ...]]:
    """Texts in the language spoken when a certificate is filled."""
    return lambda: tuple(map(str, texts))


@dataclass(frozen=True)
class Explained:
    """A figure in plain words: what it means, how it is made, what it does not say."""

    name: str
    means: str
    formula: str
    does_not_say: str
    source: str = ""


@dataclass(frozen=True)
class Answered:
    """A doubt of a result, and what the shop says of it."""

    doubt: str
    answer: str


@dataclass(frozen=True)
class AtLift:
    """Flow at the engine's own valve lift, SI: as tested, or in standard air."""

    side: str
    lift: float
    source: str
    """Source of the lift, in words."""

    session: str
    test_pressure: str
    tested_to: float
    """Highest lift of the test."""

    flow: float | None = None
    """None where the lift is beyond the test."""

    expanded_uncertainty: float | None = None
    reference_pressure: str = field(default="", metadata=snapshot.LATER)
    """Pressure of the flow in standard air; empty where the flow is as tested."""


@dataclass(frozen=True)
class PortSpread:
    """Spread of one side's ports at one stage: least and greatest mean effective area, SI."""

    side: str
    stage: str
    ports: int
    least: float
    greatest: float
    least_at: str
    greatest_at: str
    relative: float
    """Difference over the mean of the ports."""


@dataclass(frozen=True)
class LoggedRecords:
    """A head of the shop's record log, as much of it as fits on a line."""

    size: int
    root: str
    """First 32 hexadecimal digits of the Merkle tree's hash."""


@dataclass(frozen=True)
class FlowCertificate:
    """A flow certificate."""

    shop: Letterhead
    display: Display
    number: str
    revision: int
    revision_reason: str
    issued_at: datetime
    issued_by: str
    customer: Party
    job: JobFacts
    head: HeadIdentity
    sessions: tuple[SessionResult, ...]
    gains: tuple[Gain, ...]
    software: str
    url: str = ""
    """Target of the QR code, as the shop's verification page."""

    verify_at: str = ""
    """The same page without the code, to be typed."""

    signing_key: SigningKey | None = field(default=None, metadata=snapshot.LATER)
    """None for one that carries no signature."""

    drafted_by: str = ""
    checked_by: str = ""
    checked_at: datetime | None = None
    check_statement: str = ""
    compared_with: str = ""
    opinions: tuple[str, ...] = ()
    """Shop's opinions on the results; marked as such."""

    method: tuple[str, ...] = field(default_factory=_each(certificate_text.METHOD))
    uncertainty: tuple[str, ...] = field(default_factory=_each(certificate_text.UNCERTAINTY))
    scope: tuple[str, ...] = field(default_factory=_each(certificate_text.SCOPE))
    departures: str = field(default_factory=lambda: str(certificate_text.DEPARTURES))
    set_up: str = field(default_factory=lambda: str(certificate_text.SET_UP))
    """Paragraphs the certificate says of itself, kept with it as they stood when it was issued."""

    explained: tuple[Explained, ...] = field(default=(), metadata=snapshot.LATER)
    """Notes on method: the certificate's second part."""

    identification: str = field(default="", metadata=snapshot.LATER)
    """Identification of the head besides casting number and serial."""

    answers: tuple[Answered, ...] = field(default=(), metadata=snapshot.LATER)
    sampling: tuple[str, ...] = field(default=(), metadata=snapshot.LATER)
    """Ports tested and those not, side by side, and why these."""

    is_in_standard_air: bool = field(default=False, metadata=snapshot.LATER)
    """True where it leads with the flow that its gains are of; older ones lead with that as
    tested."""

    at_lift: tuple[AtLift, ...] = field(default=(), metadata=snapshot.LATER)
    spread: tuple[PortSpread, ...] = field(default=(), metadata=snapshot.LATER)
    valves: tuple[str, ...] = field(default=(), metadata=snapshot.LATER)
    """Sizes of the head's valves as measured, side by side, by place where they differ."""

    seats: tuple[str, ...] = field(default=(), metadata=snapshot.LATER)
    """Each distinct seat of the head in a line, and which seats have it."""

    through_cam: CertifiedCam | None = field(default=None, metadata=snapshot.LATER)
    """Its tests through the engine's cam, where the shop shows that."""

    swirl: tuple[SwirlResult, ...] = field(default=(), metadata=snapshot.LATER)
    """Swirl and tumble tests beside its flow tests."""

    record_log: LoggedRecords | None = field(default=None, metadata=snapshot.LATER)
    """Head of the shop's record log when the certificate was issued."""

    @property
    def title(self) -> str:
        """Number with its revision."""
        return (
            self.number
            if self.revision == 1
            else gettext("{number} revision {revision}", number=self.number, revision=self.revision)
        )

    @property
    def file_names(self) -> tuple[str, ...]:
        """Name of each test's file inside the PDF, in the order of the tests; none twice."""
        names: list[str] = []
        for number, session in enumerate(self.sessions, start=1):
            name = session.file_name or f"session-{number}.toml"
            names.append(name if name not in names else f"{number}-{name}")
        return tuple(names)

    @property
    def verification_code(self) -> str:
        """Sixteen digits calculated from all contents, as "9F2C-07AB-51E0-D3C4".

        The address is left out, so that it may hold the code.
        """
        digits = snapshot.fingerprint(replace(self, url=""))[:16].upper()
        return "-".join(digits[start : start + 4] for start in range(0, 16, 4))
