"""Bench sessions, and what a change was worth; SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from shopflow.calc.pressure_exponent import AtPressure, Exponent
from shopflow.calc.set_up import NOT_STATED, SetUp
from shopflow.documents import snapshot
from shopflow.documents.port import AlongPort
from shopflow.texts import gettext_noop, translated

SIDES = (gettext_noop("intake"), gettext_noop("exhaust"))


@dataclass(frozen=True)
class Margins:
    """Expanded uncertainties of a lift's figures for 95 %, each in its figure's unit, SI."""

    flow_as_tested: float
    flow_isentropic: float
    flow: float
    effective_area: float
    cd_curtain: float
    cd_head: float
    cd_least_area: float | None
    velocity: float | None
    kinetic_energy_flux: float | None


@dataclass(frozen=True)
class LaterResult:
    """A result that has no field of its own in `ResultPoint`, SI."""

    key: str
    value: float | None
    expanded_uncertainty: float | None


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
    flow_as_tested: float | None = field(default=None, metadata=snapshot.LATER)
    """Corrected, at the test pressure; None on a certificate from before it was printed."""

    flow_isentropic: float | None = field(default=None, metadata=snapshot.LATER)
    """Through the same effective area at the reference pressure."""

    effective_area: float | None = field(default=None, metadata=snapshot.LATER)
    choked: bool = field(default=False, metadata=snapshot.LATER)
    margins: Margins | None = field(default=None, metadata=snapshot.LATER)
    """None where the uncertainty is not stated."""

    more: tuple[LaterResult, ...] = field(default=(), metadata=snapshot.LATER)

    def value(self, key: str) -> float | None:
        """The result with this key of the registry; None where the point has none."""
        own: float | None = getattr(self, key, None)
        return next((item.value for item in self.more if item.key == key), own)

    def margin(self, key: str) -> float | None:
        """The expanded uncertainty of that result for 95 %; None where it has none."""
        own: float | None = getattr(self.margins, key, None)
        return next((item.expanded_uncertainty for item in self.more if item.key == key), own)


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
    """Quantity of `standard`: "flow", "ratio" or "lift"."""

    sensitivity: float
    contribution: float
    freedom: float | None
    """Degrees of freedom; None where it is taken as known."""

    is_stated: bool = field(default=True, metadata=snapshot.LATER)
    """True where it is known: one stated as 0 is."""


@dataclass(frozen=True)
class Budget:
    """Uncertainty budget of a test's highest flow, SI."""

    lift: float
    flow: float
    lines: tuple[BudgetLine, ...]
    combined: float
    freedom: float | None
    factor_95: float
    is_stated: bool = field(default=True, metadata=snapshot.LATER)
    """True where enough is known for an uncertainty of the flow."""

    is_as_tested: bool = field(default=False, metadata=snapshot.LATER)
    """True where it is of the flow at the test pressure, for 95 %; else of that restated, k = 2."""


@dataclass(frozen=True, kw_only=True)
class SessionCurve:
    """Curve of a flow test for a chart."""

    name: str
    side: str
    cylinder: str
    points: tuple[ResultPoint, ...]
    as_received: bool = False
    set_up: SetUp = NOT_STATED


@dataclass(frozen=True, kw_only=True)
class TrialResult(SessionCurve):
    """Results so far of a test that is still being taken."""

    air_density: float
    mean_flow: float
    reference_pressure: str
    test_pressure: str
    warnings: tuple[str, ...]
    mean_flow_uncertainty: float | None
    mean_area: float
    mean_area_uncertainty: float | None


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
    """True where the head was tested before any work on it."""

    calibration_overdue: bool = False
    """True where the calibration relied on was overdue when the test was made."""

    opinions: tuple[str, ...] = ()
    """Shop's opinions on the result; marked as such."""

    budget: Budget | None = field(default=None, metadata=snapshot.LATER)
    along_port: AlongPort | None = field(default=None, metadata=snapshot.LATER)
    """The port's sections, where any were measured."""

    test_pressure: str = field(default="", metadata=snapshot.LATER)
    mean_flow_uncertainty: float | None = field(default=None, metadata=snapshot.LATER)
    mean_area: float | None = field(default=None, metadata=snapshot.LATER)
    """Mean effective area over the lifts, m2."""

    mean_area_uncertainty: float | None = field(default=None, metadata=snapshot.LATER)
    at_pressures: tuple[AtPressure, ...] = field(default=(), metadata=snapshot.LATER)
    """Each lift at each pressure, where lifts were tested at several."""

    exponents: tuple[Exponent, ...] = field(default=(), metadata=snapshot.LATER)
    """Exponent of the flow at each lift that was tested at several pressures."""

    @property
    def title(self) -> str:
        """Its side and name, as "Intake: as received"."""
        return f"{translated(self.side).capitalize()}: {self.name}"

    @property
    def is_as_tested(self) -> bool:
        """True where its results begin with the flow as tested, as all but older certificates'
        do."""
        return any(point.flow_as_tested is not None for point in self.points)

    @property
    def is_in_standard_air(self) -> bool:
        """True where each lift has its flow in standard air."""
        return all(point.value("flow_standard") is not None for point in self.points)


@dataclass(frozen=True)
class GainPoint:
    """Gain at one lift, SI."""

    lift: float
    before: float
    after: float
    gain: float
    gain_percent: float
    expanded_uncertainty: float
    significant: bool


@dataclass(frozen=True)
class AreaGain:
    """Gain in effective area, at a lift or in the mean over several, SI."""

    low: float
    high: float
    area_before: float
    area_after: float
    flow_before: float
    flow_after: float
    """Through those areas, at one pressure and in one air."""

    gain: float
    """Relative; of the area and of the flow alike."""

    expanded_uncertainty: float | None
    """Of `gain` for 95 %; None where it is not stated."""

    verdict: str
    finding: str = field(default="", metadata=snapshot.LATER)
    """Printed for the verdict where no metal was cut, so that it is no gain of the work."""


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
    """The session files it can be calculated from again."""

    areas: tuple[AreaGain, ...] = field(default=(), metadata=snapshot.LATER)
    """Printed gains, lift by lift; older certificates printed `points`."""

    mean: AreaGain | None = field(default=None, metadata=snapshot.LATER)
    conclusion: str = field(default="", metadata=snapshot.LATER)
    reasons: tuple[str, ...] = field(default=(), metadata=snapshot.LATER)
    """Reasons why no gain is stated, where none is."""

    flow_at: str = field(default="", metadata=snapshot.LATER)
    """Pressure and air that `flow_before` and `flow_after` are stated at, in words."""

    set_ups: str = field(default="", metadata=snapshot.LATER)
    """Sentence of who confirmed that unlike set-ups are compared as meant, and why; empty where
    nobody had to, or did."""
