"""What the papers are made from: plain frozen data, whatever records it came from.

Figures that were worked out are SI numbers, shown in the reader's units; what was typed is text.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal

from shopflow.papers import amounts, dates, snapshot, wording
from shopflow.units import UNIT_SYSTEMS, UnitSystem


@dataclass(frozen=True)
class Display:
    """How figures and times are shown."""

    unit_system: str = "us"
    time_zone: str = "UTC"
    paper_size: str = "Letter"
    date_format: str = "iso"
    """A key of dates.FORMATS."""

    currency: str = "USD"

    @property
    def units(self) -> UnitSystem:
        """The unit system itself."""
        return UNIT_SYSTEMS[self.unit_system]

    def day(self, found: date | None) -> str:
        """A date as this shop writes it, or a dash."""
        return dates.day(found, self.date_format)

    def money(self, amount: Decimal) -> str:
        """An amount in the shop's currency."""
        return amounts.written(amount, self.currency)

    def moment(self, found: datetime | None, *, clock: bool = False) -> str:
        """A moment's day in the shop's zone, with its time where `clock`; or a dash."""
        return dates.moment(found, self.time_zone, self.date_format, clock=clock)


@dataclass(frozen=True)
class Letterhead:
    """The shop a paper comes from."""

    name: str
    address: str = ""
    phone: str = ""
    email: str = ""
    logo: bytes = b""
    """A picture file, or nothing."""

    accent: str = "#0f4c75"
    second: str = "#5a6472"
    """House colours of the bar over each page, and of its rules and kind."""


@dataclass(frozen=True)
class Party:
    """A customer."""

    name: str
    address: str = ""
    phone: str = ""
    email: str = ""


@dataclass(frozen=True)
class HeadIdentity:
    """A head, and how it is known."""

    tag: str
    engine_type: str
    casting_number: str = ""
    serial: str = ""
    material: str = ""
    ports: str = ""
    chamber: str = ""
    condition: str = ""
    parts_received: str = ""
    came_back_because: str = ""


@dataclass(frozen=True)
class Measured:
    """One measured figure as typed, with its limits and verdict in words."""

    what: str
    where: str
    when: str
    value: str
    limits: str = ""
    verdict: str = ""
    decision: str = ""
    """How to go on from a figure outside its limits, as decided."""


@dataclass(frozen=True)
class Step:
    """One operation of a routing."""

    name: str
    instructions: str = ""
    planned_minutes: int = 0
    state: str = "planned"
    by: str = ""
    at: datetime | None = None
    note: str = ""
    blanks: tuple[str, ...] = ()
    """Measurements it should leave behind that are not written down yet."""

    remarks: tuple[str, ...] = ()
    """Why it is done again, that it is not to be cut yet, or who released it."""

    released: bool = False
    """Whether the owner lets it be cut ahead of the customer's approval."""


@dataclass(frozen=True)
class Photo:
    """A picture of a head, as JPEG or PNG, and what it shows."""

    caption: str
    image: bytes


@dataclass(frozen=True)
class WorkOrderHead:
    """One head's page of a work order."""

    head: HeadIdentity
    steps: tuple[Step, ...]
    measured: tuple[Measured, ...]
    cautions: tuple[str, ...]
    """Keys of the hazards of exactly these steps."""

    url: str = ""
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True)
class JobFacts:
    """What a paper says of the job."""

    number: str
    booked_in: datetime
    promised_on: date | None = None
    purpose: str = ""
    induction: str = ""
    boost: str = ""
    rev_limit: str = ""
    fuel: str = ""
    intake_lift: str = ""
    exhaust_lift: str = ""
    asked_for: str = ""
    approval: str = ""


@dataclass(frozen=True)
class WorkOrder:
    """A job's work order."""

    shop: Letterhead
    display: Display
    job: JobFacts
    customer: Party
    heads: tuple[WorkOrderHead, ...]
    printed_at: datetime


@dataclass(frozen=True)
class ResultPoint:
    """A session's figures at one lift, SI."""

    lift: float
    lift_over_diameter: float
    runs: int
    flow: float
    expanded_uncertainty: float
    cd_curtain: float
    cd_head: float
    cd_least_area: float | None
    velocity: float | None
    kinetic_energy_flux: float | None


@dataclass(frozen=True)
class Excluded:
    """A reading that was left out, as typed."""

    lift: str
    flow: str
    reason: str


@dataclass(frozen=True)
class BudgetLine:
    """One component of a flow's uncertainty, SI."""

    name: str
    kind: str
    standard: float
    measure: str
    """What `standard` is of: "flow", "ratio" or "lift"."""

    sensitivity: float
    contribution: float
    freedom: float | None
    """Degrees of freedom; None where it is taken as known."""


@dataclass(frozen=True)
class Budget:
    """What the uncertainty of a session's highest flow is made of, SI."""

    lift: float
    flow: float
    lines: tuple[BudgetLine, ...]
    combined: float
    freedom: float | None
    factor_95: float


@dataclass(frozen=True)
class SectionPoint:
    """One section of a port, SI; without a session there is no velocity."""

    distance: float
    area: float
    over_tightest: float
    """Its area over that of the tightest section, 1 there."""

    over_throat: float | None
    velocity: float | None
    mach: float | None
    """None too where the section is choked."""

    choked: bool = False


@dataclass(frozen=True)
class PortSurvey:
    """The sections of a port as they were before or after the work, by distance; SI."""

    when: str
    points: tuple[SectionPoint, ...]
    volume: float | None
    """Between the first and the last section; none where there is one."""

    mean_area: float

    @property
    def tightest(self) -> SectionPoint:
        """The section with the least area."""
        return min(self.points, key=lambda point: point.area)


@dataclass(frozen=True)
class AlongPort:
    """A port's areas against distance, with a flow through them; SI."""

    side: str
    cylinder: str
    datum: str
    """What the distances are taken from."""

    from_seat: bool
    surveys: tuple[PortSurvey, ...]
    """Before the work, then after it, each where it was measured."""

    stands: int = -1
    """Which of them the figures are about: the port as it was when the flow was measured."""

    session: str = ""
    reference_pressure: str = ""
    lift: float | None = None
    flow: float | None = None
    curtain: float | None = None
    least: float | None = None
    throat: float | None = None
    """Areas of all the port's valves at this lift; none where they are not known."""


@dataclass(frozen=True)
class SessionResult:
    """One bench session: how it was made and what it gave."""

    name: str
    side: str
    stage: str
    cylinder: str
    operator: str
    measured_at: datetime | None
    conditions: tuple[tuple[str, str], ...]
    """Label and value as typed: air, bench, valve, port, leakage."""

    air_density: float
    mean_flow: float
    reference_pressure: str
    points: tuple[ResultPoint, ...]
    excluded: tuple[Excluded, ...]
    warnings: tuple[str, ...]
    calibration: str
    file_name: str
    file_text: str
    as_received: bool = False
    """Whether the head was tested before anything was done to it."""

    calibration_overdue: bool = False
    """Whether the calibration relied on was past its date when the test was made."""

    opinions: tuple[str, ...] = ()
    """What the shop makes of the result; marked as opinion."""

    budget: Budget | None = field(default=None, metadata=snapshot.LATER)
    along_port: AlongPort | None = field(default=None, metadata=snapshot.LATER)
    """The port's sections, where any were measured."""


@dataclass(frozen=True)
class GainPoint:
    """What a change was worth at one lift, SI."""

    lift: float
    before: float
    after: float
    gain: float
    gain_percent: float
    expanded_uncertainty: float
    significant: bool


@dataclass(frozen=True)
class Gain:
    """A later session against an earlier one of the same port."""

    before: str
    after: str
    side: str
    points: tuple[GainPoint, ...]
    mean_gain_percent: float | None
    before_file: str = ""
    after_file: str = ""
    """The session files it can be worked out from again."""


@dataclass(frozen=True)
class Explained:
    """A figure in plain words: what it means, how it is made, what it does not say."""

    name: str
    means: str
    formula: str
    does_not_say: str
    source: str = ""


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
    """Where the code to scan leads, as the shop's verification page."""

    verify_at: str = ""
    """The same page without the code, to be typed."""

    drafted_by: str = ""
    checked_by: str = ""
    checked_at: datetime | None = None
    check_statement: str = ""
    compared_with: str = ""
    opinions: tuple[str, ...] = ()
    """What the shop makes of the results; marked as opinion."""

    method: tuple[str, ...] = wording.METHOD
    uncertainty: tuple[str, ...] = wording.UNCERTAINTY
    scope: tuple[str, ...] = wording.SCOPE
    departures: str = wording.DEPARTURES
    set_up: str = wording.SET_UP
    """Paragraphs the certificate says of itself, kept with it as they stood when it was issued."""

    explained: tuple[Explained, ...] = field(default=(), metadata=snapshot.LATER)
    """How the numbers are made: the certificate's second part."""

    @property
    def title(self) -> str:
        """Number with its revision."""
        return self.number if self.revision == 1 else f"{self.number} revision {self.revision}"

    @property
    def verification_code(self) -> str:
        """Sixteen digits worked out from everything stated here, as "9F2C-07AB-51E0-D3C4".

        The address is left out, so that it may hold the code.
        """
        digits = snapshot.fingerprint(replace(self, url=""))[:16].upper()
        return "-".join(digits[place : place + 4] for place in range(0, 16, 4))


@dataclass(frozen=True)
class Figure:
    """A figure for the assembler and how it was come by."""

    name: str
    value: str
    working: str = ""
    decisive: bool = False
    """Whether it is what the others lead up to, to be set or checked by the assembler."""


@dataclass(frozen=True)
class ValveFigures:
    """One side's set-up."""

    side: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True)
class HandOff:
    """A hand-off sheet for one head."""

    shop: Letterhead
    display: Display
    job: JobFacts
    customer: Party
    head: HeadIdentity
    addressee: str
    valves: tuple[ValveFigures, ...]
    figures: tuple[Figure, ...]
    measured: tuple[Measured, ...]
    to_check: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: str
    signed_by: str
    signed_at: datetime | None
    written_at: datetime
