"""Swirl or tumble of one port before and after; no verdict between unlike meters or set-ups."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import set_up_words
from shopflow.calc.swirl_change import SwirlChange, SwirlVerdict, swirl_change
from shopflow.documents.swirl import SwirlComparison
from shopflow.models import BenchSession, SwirlTest
from shopflow.services.bench import set_ups, swirl_tests
from shopflow.services.bench.test_names import session_name
from shopflow.texts import gettext, translated


def offered(db: Session, row: SwirlTest) -> list[SwirlTest]:
    """Other tests of the same motion on the same head, the latest first."""
    head = row.session.job_head.head
    tests = [test.id for visit in head.visits for test in visit.sessions]
    query = (
        select(SwirlTest)
        .where(SwirlTest.session_id.in_(tests))
        .where(SwirlTest.motion == row.motion)
        .where(SwirlTest.id != row.id)
        .order_by(SwirlTest.id.desc())
    )
    return list(db.scalars(query))


def suggested(row: SwirlTest, others: list[SwirlTest]) -> SwirlTest | None:
    """The first earlier test of the same port; None where there is none."""
    port = (row.session.side, row.session.cylinder)
    earlier = [
        other
        for other in others
        if other.id < row.id and (other.session.side, other.session.cylinder) == port
    ]
    return earlier[-1] if earlier else None


def compared(before: SwirlTest, after: SwirlTest) -> SwirlComparison:
    """The later test against the earlier."""
    change = swirl_change(swirl_tests.in_si(before), swirl_tests.in_si(after))
    reasons = [*_unlike(before, after)]
    if change is None:
        reasons.append(gettext("The two tests have no range of lift in common."))
    elif change.verdict is SwirlVerdict.NOT_STATED and not reasons:
        reasons.append(
            gettext(
                "The uncertainty is not known: repeat a lift, or enter one division of the "
                "meter’s scale."
            )
        )
    stated = (set_ups.plain(test.session).stated for test in (before, after))
    verdict = "" if change is None or reasons else change.verdict.value
    return SwirlComparison(
        before=session_name(before.session),
        after=session_name(after.session),
        rows=() if change is None else tuple(_rows(change)),
        mean=None if change is None else _mean(change),
        is_corrected=change is not None and change.is_corrected,
        verdict=verdict,
        reasons=tuple(reasons),
        caution="" if any(stated) else str(set_up_words.BOTH_UNSTATED),
    )


def _rows(change: SwirlChange) -> Iterator[tuple[float, float, float, float | None]]:
    margins = [None] * len(change.lifts) if change.expanded is None else change.expanded.tolist()
    for place, lift in enumerate(change.lifts.tolist()):
        yield lift, float(change.before[place]), float(change.after[place]), margins[place]


def _mean(change: SwirlChange) -> tuple[float, float, float | None]:
    margin = None if change.expanded is None else float(change.expanded[-1])
    return float(change.before[-1]), float(change.after[-1]), margin


def _unlike(before: SwirlTest, after: SwirlTest) -> Iterator[str]:
    """Differences between two tests that keep them from a verdict."""
    first, other = before.session, after.session
    if _port(first) != _port(other):
        yield gettext("Not the same port: no verdict on the head.")
    pairs: dict[str, list[object]] = {
        gettext("kind of meter"): [translated(row.meter_kind.value) for row in (before, after)],
        gettext("meter"): [_plain(row.meter) for row in (before, after)],
        gettext("bore"): [f"{row.bore.si:.5f}" for row in (before, after)],
        gettext("adapter"): [_plain(row.adapter) for row in (before, after)],
        gettext("efficiency"): [
            (row.efficiency, row.efficiency_uncertainty) for row in (before, after)
        ],
        gettext("sense of rotation"): [row.rotation for row in (before, after)],
        gettext("test pressure"): [
            f"{(row.pressure or row.session.test_pressure).si:.0f}" for row in (before, after)
        ],
    }
    differing = [name for name, (left, right) in pairs.items() if left != right]
    if differing:
        yield gettext(
            "Not read alike ({parts}): no verdict on the head.", parts=", ".join(differing)
        )
    unlike = set_ups.unlike(first, other)
    if unlike and set_ups.confirmation(first, other) is None:
        yield from set_up_words.reasons(unlike)


def _port(row: BenchSession) -> tuple[object, ...]:
    return row.job_head.head_id, row.side, row.cylinder


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()
