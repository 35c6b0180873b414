"""Rotation of backups: the newest of each of the last days, weeks and months that have one is
kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

_NAME = "shopflow-%Y%m%dT%H%M%SZ.tar"


@dataclass(frozen=True, slots=True)
class Keep:
    """Number of the last days, weeks and months that keep a backup; with all at 0, every backup
    stays."""

    days: int = 0
    weeks: int = 0
    months: int = 0


def name_at(at: datetime) -> str:
    """Name of a backup made at this moment."""
    return at.astimezone(UTC).strftime(_NAME)


def superseded(names: Iterable[str], keep: Keep, newest: str) -> list[str]:
    """Names of backups to delete; `newest`, just made, always stays.

    What is not named as a backup is left alone. Days without a backup do not count, so that a
    machine switched off for a month loses nothing by it.
    """
    dated = sorted(filter(None, map(_dated, names)), reverse=True)
    if keep == Keep():
        return []
    remaining = {newest}
    for most, period in ((keep.days, _day), (keep.weeks, _week), (keep.months, _month)):
        remaining |= _newest_of_each(dated, period, most)
    return [name for _, name in dated if name not in remaining]


def rotate(folder: Path, keep: Keep, newest: str) -> list[str]:
    """Delete what is superseded in a folder of backups; the names deleted."""
    gone = superseded((path.name for path in folder.iterdir()), keep, newest)
    for name in gone:
        (folder / name).unlink(missing_ok=True)
    return gone


def _newest_of_each(
    dated: list[tuple[datetime, str]], period: Callable[[datetime], object], most: int
) -> set[str]:
    newest: dict[object, str] = {}
    for at, name in dated:
        newest.setdefault(period(at), name)
    return set(list(newest.values())[:most])


def _dated(name: str) -> tuple[datetime, str] | None:
    try:
        return datetime.strptime(name, _NAME).replace(tzinfo=UTC), name
    except ValueError:
        return None


def _day(at: datetime) -> object:
    return at.date()


def _week(at: datetime) -> object:
    return at.isocalendar()[:2]


def _month(at: datetime) -> object:
    return at.year, at.month
