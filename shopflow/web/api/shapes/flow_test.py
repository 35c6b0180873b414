"""Flow tests, with the results of the registry."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import models, sentences, set_up_words, testfile
from shopflow.calc import results
from shopflow.calc.area_gain import AreaGain as ComputedGain
from shopflow.calc.result import Result
from shopflow.services.analysis import gains
from shopflow.services.analysis.gains import OverFirst
from shopflow.services.bench import sessions
from shopflow.services.bench.summaries import flow_shown
from shopflow.web.api.schema import Described, Schema


@dataclass(frozen=True)
class SessionSummary:
    """A flow test; areas in m2, and as flows in m3/s at 28 inH2O in air of 1.204 kg/m3.

    One with `withdrawn_at` counts nowhere; `replaced_by` is the test that corrects it.
    """

    id: int
    tag: str
    side: str
    cylinder: str
    stage: str
    title: str
    measured_at: datetime | None
    mean_effective_area: float
    peak_effective_area: float
    mean_flow: float
    peak_flow: float
    gain_over_first: float | None
    withdrawn_at: datetime | None
    withdrawal_reason: str
    replaced_by: int | None

    @classmethod
    def of(cls, row: models.BenchSession) -> SessionSummary:
        """A test's kept summary."""
        return cls(
            id=row.id,
            tag=row.job_head.tag,
            side=row.side,
            cylinder=row.cylinder,
            stage=row.stage,
            title=row.title,
            measured_at=row.measured_at,
            mean_effective_area=row.mean_area,
            peak_effective_area=row.peak_area,
            mean_flow=flow_shown(row.mean_area, row.side),
            peak_flow=flow_shown(row.peak_area, row.side),
            gain_over_first=row.gain_over_first,
            withdrawn_at=row.withdrawn_at,
            withdrawal_reason=row.withdrawal_reason,
            replaced_by=row.replaced_by_id,
        )


class Point(Described):
    """The results of a flow test at one lift, in SI units; null where the test does not give it."""

    @classmethod
    def schema(cls) -> Schema:
        """A property for every result of the registry."""
        rows = results.in_json()
        return {
            "type": "object",
            "description": " ".join((cls.__doc__ or "").split()),
            "properties": {row.key: _property(row) for row in rows},
            "required": [row.key for row in rows],
            "additionalProperties": False,
        }


TYPES: dict[type, str] = {bool: "boolean", int: "integer", float: "number"}


def _property(row: Result) -> Schema:
    """A result as a property: its type, and its name, unit, formula and source in words."""
    unit = results.SI_UNITS.get(row.kind)
    name = f"{row.name}, {unit}" if unit else row.name
    kind: list[str] = [TYPES[row.type], *(["null"] if row.needs else [])]
    needs = f" Null without {row.needs}." if row.needs else ""
    return {
        "type": kind if row.needs else kind[0],
        "description": f"{name}: {row.formula}. Source: {row.source}.{needs}",
    }


@dataclass(frozen=True)
class AreaGain:
    """A difference in effective area (m2) over a range of lift (m); at one lift both ends are one.

    Its uncertainty is for 95 %, null where it is not stated. `finding` is the verdict in words: a
    difference is a gain or a loss only where metal was cut between the tests.
    """

    low: float
    high: float
    area_before: float
    area_after: float
    gain_percent: float
    expanded_uncertainty_percent: float | None
    finding: str

    @classmethod
    def of(cls, gain: ComputedGain, *, is_gain: bool) -> AreaGain:
        """A difference of two tests of one port."""
        stated = gain.expanded_uncertainty
        return cls(
            low=gain.low,
            high=gain.high,
            area_before=gain.before,
            area_after=gain.after,
            gain_percent=100.0 * gain.gain,
            expanded_uncertainty_percent=None if stated is None else 100.0 * stated,
            finding=sentences.called(gain.verdict, is_gain),
        )


@dataclass(frozen=True)
class SetUpPart:
    """One part of a flow test's set-up as stated; a part that is absent is not stated."""

    part: str
    stated: str


@dataclass(frozen=True)
class Gain:
    """A flow test against the first one of its port: lift by lift, and over the lifts both cover.

    `cut` is all metal that was cut between the two, in the shop's words. `unlike_set_ups` says why
    nothing is concluded where the two stood on unlike set-ups; empty where they did not, or where
    somebody confirmed that this is meant.
    """

    before: int
    cut: str
    unlike_set_ups: str
    points: list[AreaGain]
    mean: AreaGain | None

    @classmethod
    def of(cls, over_first: OverFirst) -> Gain:
        """A test over the first of its port."""
        is_gain = not over_first.cuts.is_none
        mean = over_first.areas.mean
        return cls(
            before=over_first.first.id,
            cut=over_first.cuts.in_words,
            unlike_set_ups=" ".join(set_up_words.reasons(over_first.areas.unlike)),
            points=[AreaGain.of(point, is_gain=is_gain) for point in over_first.areas.points],
            mean=None if mean is None else AreaGain.of(mean, is_gain=is_gain),
        )


@dataclass(frozen=True)
class Session:
    """A flow test with its results in SI at its own reference pressure, and its file as typed.

    `mean_flow` is by the root of the pressures. `gain` is null for the first test of a port and for
    one that was withdrawn.
    """

    summary: SessionSummary
    air_density: float
    mean_flow: float
    points: list[Point]
    set_up: list[SetUpPart]
    gain: Gain | None
    file: str

    @classmethod
    def of(cls, row: models.BenchSession) -> Session:
        """A test, calculated from its readings."""
        document = sessions.document(row)
        reduction = sessions.reduction(row)
        over_first = gains.over_first(row)
        return cls(
            summary=SessionSummary.of(row),
            air_density=reduction.air_density,
            mean_flow=reduction.mean_flow,
            points=[Point(point) for point in results.by_lift(reduction)],
            set_up=[SetUpPart(part.value, text) for part, text in document.set_up.stated],
            gain=None if over_first is None else Gain.of(over_first),
            file=testfile.dumps(document),
        )
