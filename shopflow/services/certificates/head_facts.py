"""The head on a certificate: sizes of its valves and its seats, by place where they differ."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from shopflow.models import HeadPlace, HeadPlan, Measurement, Visit, When
from shopflow.models.measurement import limits_in_words
from shopflow.models.places import SIDES
from shopflow.services.paperwork import seat_sheets
from shopflow.texts import gettext, lazy, listed
from shopflow.units import Quantity, UnitSystem, pretty_text

HEADS = {
    "intake": lazy("Intake valve heads {sizes}"),
    "exhaust": lazy("Exhaust valve heads {sizes}"),
}
ALIKE = 0.005
"""Share of their size by which valves of one kind differ at most. Common practice, no source."""

MOST_APART = 3
"""Valves named one by one before they are only counted."""

Group = list[tuple[HeadPlace, Quantity]]
"""Valves of one size, the smallest first."""


def valves(visit: Visit) -> Iterator[str]:
    """Valve heads as measured, a line a side: "Intake valve heads 1.938 to 1.941 in"."""
    plan = visit.head.plan
    for side in SIDES if plan else ():
        if plan is not None and (sizes := _sizes(visit, plan, side)):
            yield str(HEADS[side]).format(sizes=_in_words(_groups(sizes), plan.valves[side]))


def seats(visit: Visit, units: UnitSystem) -> Iterator[str]:
    """A head's seats, as "Intake, all 4 seats: 45° seat 1.5 mm wide, 30° and 60° cuts".

    Those on arrival while the cutting is still to be done.
    """
    is_cut = not any(
        step.is_open and step.counts and step.kind.code in seat_sheets.CUTTING
        for step in visit.operations
    )
    for when in (When.AFTER, When.BEFORE) if is_cut else (When.BEFORE,):
        rows = seat_sheets.distinct(visit, when) if visit.head.plan else []
        for alike in rows:
            yield gettext(
                "{seats}: {profile}",
                seats=seat_sheets.title(alike), profile=seat_sheets.in_a_line(alike[0], units),
            )  # fmt: skip
        if rows:
            return


def _sizes(visit: Visit, plan: HeadPlan, side: str) -> dict[HeadPlace, Quantity]:
    """The latest size of each valve head of a side; one after the work goes before others."""
    latest: dict[HeadPlace, Measurement] = {}
    for row in visit.measurements:
        is_size = row.kind.code == "valve head diameter" and row.side == side
        place = row.place_in(plan) if is_size else None
        if place is None:
            continue
        before = latest.get(place)
        if before is None or before.when is When.BEFORE or row.when is When.AFTER:
            latest[place] = row
    return {place: row.value for place, row in latest.items()}


def _groups(sizes: Mapping[HeadPlace, Quantity]) -> list[Group]:
    """Valves that are alike together, the largest group first."""
    groups: list[Group] = []
    for place, size in sorted(sizes.items(), key=lambda item: item[1].si):
        if groups and size.si <= groups[-1][-1][1].si * (1 + ALIKE):
            groups[-1].append((place, size))
        else:
            groups.append([(place, size)])
    return sorted(groups, key=lambda group: -len(group))


def _in_words(groups: Sequence[Group], names: Sequence[str]) -> str:
    """Sizes of a side: one where all are alike, else by valve of a cylinder or the odd ones."""
    usual, *others = groups
    if not others:
        return _size(usual)
    numbers = [{place.valve for place, _ in group} for group in groups]
    if len(names) > 1 and sum(map(len, numbers)) == len(set.union(*numbers)):
        named = sorted(zip(numbers, groups, strict=True), key=lambda pair: min(map(str, pair[0])))
        return ", ".join(
            f"{listed(names[(number or 1) - 1] for number in sorted(own, key=str))} {_size(group)}"
            for own, group in named
        )
    return ", ".join([_size(usual), *map(_odd, others)])


def _size(group: Group) -> str:
    """The size of a group, as "1.938 to 1.941 in"; in one unit where they were typed in one."""
    low, high = group[0][1], group[-1][1]
    if low.text == high.text:
        return pretty_text(low.text)
    return pretty_text(limits_in_words(low, high))


def _odd(group: Group) -> str:
    """A size that only some valves have, with where."""
    if len(group) > MOST_APART:
        return gettext("{size} at {count} valves", size=_size(group), count=len(group))
    places = listed(place.label for place, _ in group)
    return gettext("{size} at {places}", size=_size(group), places=places)
