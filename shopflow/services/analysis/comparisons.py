"""Comparisons of any flow tests: names that tell them apart, and their results."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from shopflow import sentences, set_up_words
from shopflow.calc.area_gain import AreaComparison, AreaGain, compare_areas
from shopflow.calc.area_spread import AreaSpread, spread_of_areas
from shopflow.calc.array_types import Against
from shopflow.calc.common_lifts import held_against
from shopflow.calc.comparison import share_calibration
from shopflow.calc.gain_source import GainSource, GainSources, gain_sources
from shopflow.calc.heads import compare_head_areas
from shopflow.calc.part_cost import PartCost, part_cost
from shopflow.calc.reduction import Reduction
from shopflow.calc.sanity import comparison_warnings
from shopflow.calc.set_up import Unlike
from shopflow.calc.settling import NextReading, next_reading
from shopflow.calc.worth import FlowGain, Step, as_flow, worth
from shopflow.documents import SessionResult
from shopflow.models import BenchSession
from shopflow.services.analysis.test_choice import SIDES
from shopflow.services.bench import (
    metal_cuts,
    port_surveys,
    sessions,
    sheet_sizes,
    test_names,
    test_results,
)
from shopflow.services.bench.metal_cuts import Cuts
from shopflow.services.measuring.uncertainties import NOTHING_STATED, UsualUncertainties
from shopflow.texts import gettext, translated


@dataclass(frozen=True)
class Member:
    """A session being compared, and its name among the others."""

    row: BenchSession
    name: str
    reduction: Reduction
    result: SessionResult


@dataclass(frozen=True)
class Difference:
    """One against another: lift by lift, and over the whole, low, mid and high lift."""

    before: str
    after: str
    side: str
    cylinder: str
    """Of both; empty where they are of two ports, or nobody said."""

    head_diameter: float
    """Of the later one, whose lifts these are, m."""

    curves: tuple[Reduction, Reduction] | None
    """The two sessions, as they were brought together; none where heads are compared."""

    areas: AreaComparison
    points: tuple[FlowGain, ...]
    """Lift by lift, at the later one's reference pressure in the standard air."""

    mean: FlowGain | None
    """Over the range both cover; None where there is none."""

    parts: tuple[Step, ...]
    tests_before: int
    """Tests of the earlier side."""

    cuts: Cuts | None
    """All that was cut between two tests of one port; none where they are of two."""

    next_reading: NextReading | None
    cautions: tuple[str, ...]
    sources: GainSources | None = None
    """Opening and all else behind the difference; none where a seat is not stated, or tests are not
    compared at like lift."""

    set_ups: str = ""
    """Remark on the set-ups of the two, where no verdict is withheld for them."""

    part_cost: PartCost | None = None
    """Cost of the one attached part that only one of the two tests has."""

    sections: tuple[float, float] | None = None
    """Least section of the port before and after, m2; none where it was not measured for both."""

    @property
    def source_rows(self) -> list[tuple[AreaGain, GainSource]]:
        """Each lift's difference with its sources."""
        return (
            list(zip(self.areas.points, self.sources.points, strict=True))
            if self.sources and not self.areas.unlike
            else []
        )

    @property
    def lacks_seats(self) -> bool:
        """True where the sources of a gain are missing for want of a seat."""
        return (
            self.is_gain
            and self.curves is not None
            and any(test.test.valve.seat is None for test in self.curves)
        )

    @property
    def port(self) -> str:
        """Side and cylinder."""
        return (
            gettext(
                "{side}, cylinder {cylinder}", side=translated(self.side), cylinder=self.cylinder
            )
            if self.cylinder
            else self.side
        )

    @property
    def is_gain(self) -> bool:
        """True where a difference is a gain or loss: both are of one port, cut in between, on
        set-ups that are alike or meant."""
        return self.cuts is not None and not self.cuts.is_none and not self.areas.unlike

    @property
    def reasons(self) -> tuple[str, ...]:
        """Reasons why no gain is stated, where none is."""
        return tuple(sentences.reasons(self.areas, self.tests_before))


@dataclass(frozen=True)
class Ports:
    """The ports of one side, side by side."""

    side: str
    members: tuple[Member, ...]
    head_diameter: float
    """Of the last one, whose lifts these are, m."""

    points: tuple[AreaSpread, ...]
    mean: AreaSpread | None
    """Over the range all cover; None where there is none."""

    unlike: tuple[Unlike, ...]
    """Parts of their set-ups that differ, and nobody confirmed as meant."""

    cautions: tuple[str, ...]

    @property
    def reasons(self) -> tuple[str, ...]:
        """Reasons why no verdict is given on the ports, where their set-ups withhold it."""
        return tuple(set_up_words.reasons(self.unlike))


def pairs(tests: Sequence[Member]) -> list[tuple[Member, Member]]:
    """The first and last session of each port that has two or more, the intakes first."""
    ports: dict[tuple[int, str, str], list[Member]] = {}
    for member in tests:
        ports.setdefault(port_of(member), []).append(member)
    ends = [(of_port[0], of_port[-1]) for of_port in ports.values() if len(of_port) > 1]
    return sorted(ends, key=lambda pair: SIDES.index(pair[0].row.side))


def members(rows: Sequence[BenchSession]) -> list[Member]:
    """Sessions with their figures, named by what tells them apart."""
    compared = []
    for row, name in zip(rows, names(rows), strict=True):
        result = replace(test_results.session_result(row), name=name)
        compared.append(Member(row, name, sessions.reduction(row), result))
    return compared


def names(rows: Sequence[BenchSession]) -> list[str]:
    """A name for each session: tag and side only where they differ, its key where all is alike."""
    tags, sides = {row.job_head.tag for row in rows}, {row.side for row in rows}
    texts = []
    for row in rows:
        where = [row.job_head.tag] if len(tags) > 1 else []
        where += [row.side] if len(sides) > 1 else []
        name = test_names.session_name(row)
        texts.append(f"{' '.join(where)}: {name}" if where else name)
    return [
        gettext("{name}, session {id}", name=name, id=row.id) if texts.count(name) > 1 else name
        for row, name in zip(rows, texts, strict=True)
    ]


def difference(
    before: Member,
    after: Member,
    against: Against,
    usual: UsualUncertainties = NOTHING_STATED,
) -> Difference:
    """A later session against an earlier one; `usual` has the uncertainties of sizes."""
    earlier = held_against(before.reduction, after.reduction, against)
    worth_of_step = worth([earlier, after.reduction])
    is_one_port = port_of(before) == port_of(after)
    areas = compare_areas([earlier], [after.reduction])
    return Difference(
        before=before.name,
        after=after.name,
        side=after.row.side,
        cylinder=after.row.cylinder if after.row.cylinder == before.row.cylinder else "",
        head_diameter=after.reduction.test.valve.head_diameter,
        curves=(earlier, after.reduction),
        areas=areas,
        points=_flows(areas.points, after),
        mean=_flows([areas.mean], after)[0] if areas.mean else None,
        parts=worth_of_step.total if worth_of_step else (),
        tests_before=1,
        cuts=metal_cuts.between(before.row, after.row) if is_one_port else None,
        next_reading=next_reading([earlier], [after.reduction], areas),
        cautions=(
            *(warning.text for warning in comparison_warnings(earlier, after.reduction)),
            *_cautions([before, after], against),
            *_unlike_sheet([before, after]),
        ),
        sources=gain_sources(usual.filled(earlier), usual.filled(after.reduction))
        if against is Against.LIFT
        else None,
        sections=port_surveys.least_change(before.row, after.row) if is_one_port else None,
        set_ups=_set_ups(before, after),
        part_cost=_part_cost(before, after, against),
    )


def _set_ups(before: Member, after: Member) -> str:
    """A plain remark on two tests of one side where neither states its set-up."""
    if before.row.side != after.row.side:
        return ""
    if any(member.reduction.test.set_up.stated for member in (before, after)):
        return ""
    return str(set_up_words.BOTH_UNSTATED)


def _part_cost(before: Member, after: Member, against: Against) -> PartCost | None:
    """Cost of an attached part, by two tests of one port as it is, with it and without it."""
    if port_of(before) != port_of(after) or against is not Against.LIFT:
        return None
    if not metal_cuts.between(before.row, after.row).is_none:
        return None
    return part_cost(before.reduction, after.reduction)


def port_spreads(tests: Sequence[Member], against: Against) -> list[Ports]:
    """The ports of each side that has two or more."""
    sides = [[member for member in tests if member.row.side == side] for side in SIDES]
    return [_ports(of_side, against) for of_side in sides if len(of_side) > 1]


def _ports(of_side: Sequence[Member], against: Against) -> Ports:
    last = of_side[-1].reduction
    spreads = spread_of_areas([held_against(member.reduction, last, against) for member in of_side])
    unlike = spreads.brought.unlike if spreads.brought else ()
    return Ports(
        side=of_side[0].row.side,
        members=tuple(of_side),
        head_diameter=last.test.valve.head_diameter,
        points=spreads.points,
        mean=spreads.mean,
        unlike=unlike,
        cautions=(*_cautions(of_side, against), *_mixed(of_side)),
    )


def head_differences(tests: Sequence[Member], against: Against) -> list[Difference]:
    """The second head against the first by the means of their sessions, for each side of both."""
    tags = list(dict.fromkeys(member.row.job_head.tag for member in tests))
    if len(tags) != 2:
        return []
    sides = []
    for side in SIDES:
        of_side = [member for member in tests if member.row.side == side]
        first, second = (
            [member for member in of_side if member.row.job_head.tag == tag] for tag in tags
        )
        if first and second:
            sides.append(_between_heads(first, second, against))
    return sides


def _between_heads(
    first: Sequence[Member], second: Sequence[Member], against: Against
) -> Difference:
    """One side of a head against that of another, each by the mean of its sessions."""
    both = [*first, *second]
    before, after = ([member.reduction for member in head] for head in (first, second))
    areas = compare_head_areas(before, after, against)
    return Difference(
        before=f"{first[0].row.job_head.tag}, {_mean_of(first)}",
        after=f"{second[0].row.job_head.tag}, {_mean_of(second)}",
        side=second[-1].row.side,
        cylinder="",
        head_diameter=second[-1].reduction.test.valve.head_diameter,
        curves=None,
        areas=areas,
        points=_flows(areas.points, second[-1]),
        mean=_flows([areas.mean], second[-1])[0] if areas.mean else None,
        parts=(),
        tests_before=len(before),
        cuts=None,
        next_reading=None,
        cautions=_cautions(both, against),
    )


def _flows(gains: Iterable[AreaGain], later: Member) -> tuple[FlowGain, ...]:
    """Gains as flow, as the later test states it."""
    return tuple(as_flow(gain, later.reduction.test) for gain in gains)


def port_of(member: Member) -> tuple[int, str, str]:
    """Head, side and cylinder: what two tests must share for a gain."""
    row = member.row
    return row.job_head.head_id, row.side, row.cylinder


def share_one_calibration(tests: Sequence[Member]) -> bool:
    """True where all tests were made under one calibration."""
    return all(share_calibration(member.reduction, tests[-1].reduction) for member in tests)


def _mean_of(tests: Sequence[Member]) -> str:
    return (
        gettext("mean of {tests} ports", tests=len(tests))
        if len(tests) > 1
        else tests[0].name.split(": ", 1)[-1]
    )


def _cautions(tests: Sequence[Member], against: Against) -> tuple[str, ...]:
    diameters = {round(member.reduction.test.valve.head_diameter, 7) for member in tests}
    if len(diameters) > 1 and against is Against.LIFT:
        return (gettext("the valve heads differ in size: at like L/D like openings are compared"),)
    return ()


def _unlike_sheet(tests: Sequence[Member]) -> tuple[str, ...]:
    """A caution for each test that states other diameters than its head's sheet."""
    unlike = [(member.name, sheet_sizes.unlike(member.row)) for member in tests]
    return tuple(
        gettext(
            "{name}: {sizes}. Correct the test or the sheet: the opening is calculated from the "
            "test’s sizes",
            name=name,
            sizes="; ".join(sizes),
        )
        for name, sizes in unlike
        if sizes
    )


def _mixed(tests: Sequence[Member]) -> tuple[str, ...]:
    if len({member.row.stage for member in tests}) > 1:
        return (
            gettext("these tests are of several stages: their spread is not one of ports alone"),
        )
    if len({member.row.job_head_id for member in tests}) > 1:
        return (
            gettext("these tests are of several heads: their spread is not one of ports alone"),
        )
    return ()
