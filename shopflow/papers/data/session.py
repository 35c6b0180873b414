"""Bench sessions, and what a change was worth; SI."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from shopflow.papers import snapshot
from shopflow.papers.data.port import AlongPort


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


@dataclass(frozen=True, kw_only=True)
class SessionCurve:
    """What a chart draws of a session."""

    name: str
    side: str
    cylinder: str
    points: tuple[ResultPoint, ...]
    as_received: bool = False


@dataclass(frozen=True, kw_only=True)
class TrialResult(SessionCurve):
    """What a session that is still being taken gives so far."""

    air_density: float
    mean_flow: float
    reference_pressure: str
    warnings: tuple[str, ...]


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
