"""Readings that a program posts into the flow test being taken at its bench.

A reading fills in the cells of the draft that a person would have typed: the lift and the flow at
its own test pressure, the room air as the mean of all readings so far, and the repeatability of one
reading from the scatter of the samples. What a person types afterwards stays. The page that takes
the test writes the whole draft and may not have heard of a reading yet: `unseen` are put over what
it sends (`test_drafts.keep`), so that neither loses the other's.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow import units
from shopflow.calc.type_a import standard_uncertainty
from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import BenchSession, Capture, TestDraft, Visit
from shopflow.models.api_token import ApiToken
from shopflow.services.actor import Actor
from shopflow.texts import gettext

FLOW, PRESSURE = "flow", "test pressure"
AIR = {"barometer": "pressure", "temperature": "temperature", "humidity": "ratio"}
"""Channels that the room's air is read from, with their dimensions."""

CHANNELS = (FLOW, PRESSURE, *AIR, "lift")
RUNS = ("first", "second", "third")
MOST_ROWS = 60
SAME_LIFT = 1e-6
"""Metres: lifts closer together than this are one."""

AGREES = 1e-6
"""Relative: mean and sd that differ more from those of their own samples were damaged."""

MOST_DOUBTS = 20
_HELD = select(TestDraft).where(TestDraft.job_head_id == bindparam("visit")).with_for_update()
_UNSEEN = (
    select(Capture)
    .where(Capture.entry_key == bindparam("key"), Capture.id > bindparam("seen"))
    .order_by(Capture.id)
)


class OtherBenchError(RuleError):
    """The test is being taken at another bench than the one that the token is for."""


@dataclass(frozen=True, slots=True)
class ChannelReading:
    """Reading of one channel: its steady samples, in order."""

    name: str
    unit: str
    mean: float
    sd: float
    samples: Sequence[float]
    instrument: str = ""

    @property
    def relative_uncertainty(self) -> float:
        """Standard uncertainty of the mean by its scatter, relative."""
        return standard_uncertainty(self.samples) / abs(self.mean) if self.mean else 0.0


@dataclass(frozen=True, slots=True)
class NewCapture:
    """A reading as a program posts it; `test` is the key of the draft it was taken for."""

    test: str
    taken_at: datetime
    lift: str
    channels: Sequence[ChannelReading]
    doubts: Sequence[str] = ()


def of_test(db: Session, key: str) -> list[Capture]:
    """The readings posted into a test, in order; `key` is its draft's."""
    return unseen(db, key, 0)


def unseen(db: Session, key: str, seen: int) -> list[Capture]:
    """The readings of a test after the one that a page last heard of."""
    return list(db.scalars(_UNSEEN, {"key": key, "seen": seen})) if key else []


def take(db: Session, by: Actor, visit: Visit, token: ApiToken, capture: NewCapture) -> Capture:
    """Put a reading into the draft of a head's test, and keep its samples.

    Raises ValidationError where it cannot be read, RuleError where the draft is not there any more
    or has no room, OtherBenchError where it is another bench's.
    """
    _check(capture)
    draft = db.scalar(_HELD, {"visit": visit.id}, execution_options={"populate_existing": True})
    if draft is None or draft.key != capture.test:
        raise RuleError(_too_late(db, capture))
    _check_bench(token, draft)
    cells = _cells(draft.typed, capture, of_test(db, draft.key))
    draft.typed = {**draft.typed, **cells}
    draft.kept_at, draft.person_id = by.at, by.person_id
    row = Capture(
        job_head_id=visit.id,
        entry_key=draft.key,
        bench_id=token.bench_id,
        token_id=token.id,
        taken_at=capture.taken_at,
        received_at=by.at,
        lift=capture.lift,
        cells=cells,
        channels=[{**asdict(item), "n": len(item.samples)} for item in capture.channels],
        doubts=list(capture.doubts),
    )
    db.add(row)
    db.flush()
    return row


def readings_of(row: Capture) -> dict[str, ChannelReading]:
    """The channels of a stored reading, by name."""
    return {item["name"]: _stored(item) for item in row.channels}


def _stored(item: Mapping[str, object]) -> ChannelReading:
    return ChannelReading(**{name: value for name, value in item.items() if name != "n"})  # type: ignore[arg-type]


def _check(capture: NewCapture) -> None:
    faults: list[FieldError] = []
    names = [item.name for item in capture.channels]
    if FLOW not in names:
        faults.append(FieldError("channels", gettext("one must be the flow")))
    if len({*names}) < len(names) or len(capture.doubts) > MOST_DOUBTS:
        faults.append(FieldError("channels", gettext("each channel may stand once")))
    for place, item in enumerate(capture.channels, start=1):
        wrong = _fault_of(item)
        if wrong:
            faults.append(FieldError(f"channels[{place}]", wrong))
    try:
        if units.parse(capture.lift, "length").si <= 0.0:
            faults.append(FieldError("lift", gettext("enter a lift above 0")))
    except units.UnitError as error:
        faults.append(FieldError("lift", str(error)))
    if faults:
        raise ValidationError(faults)


def _fault_of(item: ChannelReading) -> str:
    if item.name not in CHANNELS:
        return gettext("must be one of {choices}", choices=", ".join(CHANNELS))
    if len(item.samples) < 2:
        return gettext("needs two samples or more")
    if not all(abs(value) < 1e12 for value in item.samples):
        return gettext("is too large")
    mean, sd = math.fsum(item.samples) / len(item.samples), statistics.stdev(item.samples)
    scale = max(abs(mean), sd, 1e-12)
    if abs(mean - item.mean) > AGREES * scale or abs(sd - item.sd) > AGREES * scale:
        return gettext("mean and sd are not those of the samples")
    if item.name == FLOW and not mean > 0.0:
        return gettext("the flow must be above 0")
    dimension = {**AIR, PRESSURE: "pressure", "lift": "length"}.get(item.name)
    unit = units.UNITS.get(item.unit)
    if unit is None or (dimension and unit.dimension != dimension):
        return gettext("'{unit}' is no unit of this channel", unit=item.unit)
    return ""


def _too_late(db: Session, capture: NewCapture) -> str:
    if db.scalar(select(BenchSession.id).where(BenchSession.entry_key == capture.test)):
        return gettext("this test is saved already: the reading at {lift} came too late",
                       lift=capture.lift)  # fmt: skip
    return gettext("this test is not being taken any more: the reading at {lift} is not in it",
                   lift=capture.lift)  # fmt: skip


def _check_bench(token: ApiToken, draft: TestDraft) -> None:
    name = draft.typed.get("bench-name", "").strip()
    if token.bench is None:
        return
    if not name:
        raise RuleError(gettext("the test names no bench: choose its bench on the test's page"))
    if name != token.bench.name:
        words = gettext("the test is being taken at {name}; the token is for {bench}",
                        name=name, bench=token.bench.name)  # fmt: skip
        raise OtherBenchError(words)


def _cells(
    typed: Mapping[str, str], capture: NewCapture, earlier: Sequence[Capture]
) -> dict[str, str]:
    """The fields of the form that a reading fills in."""
    channels = {item.name: item for item in capture.channels}
    row = _row(typed, capture.lift)
    run = next((name for name in RUNS if not _text(typed, f"rows-{row}-{name}")), None)
    if run is None:
        raise RuleError(
            gettext("there are three readings at {lift} already: remove one", lift=capture.lift)
        )
    cells = {f"rows-{row}-lift": _text(typed, f"rows-{row}-lift") or _lift(typed, capture.lift)}
    text = _converted(channels[FLOW], typed.get("flow_unit", ""), "channels")
    if PRESSURE in channels:
        pressure = channels[PRESSURE]
        usual = _text(typed, "bench-test_pressure")
        if not usual:
            cells["bench-test_pressure"] = f"{_number(pressure.mean)} {pressure.unit}"
        unit = _unit_of(usual) if usual else pressure.unit
        text = f"{text} @ {_converted(pressure, unit, 'bench-test_pressure')}"
    cells[f"rows-{row}-{run}"] = text
    before = [readings_of(item) for item in earlier]
    for name in AIR:
        own = [item[name] for item in [*before, channels] if name in item]
        if name in channels:
            cells |= _unless_typed(typed, f"air-{name}", _mean(own[:-1]), _mean(own))
    flows = [item[FLOW] for item in before]
    pooled = _pooled(flows), _pooled([*flows, channels[FLOW]])
    return cells | _unless_typed(typed, "uncertainty-repeatability", *pooled)


def _unit_of(test_pressure: str) -> str:
    try:
        return units.split(test_pressure)[1]
    except units.UnitError as error:
        raise RuleError(
            gettext("the test pressure on the test's page cannot be read: {error}", error=error)
        ) from None


def _unless_typed(typed: Mapping[str, str], field: str, before: str, now: str) -> dict[str, str]:
    """A field calculated from all readings, unless a person changed what the last one wrote."""
    is_ours = not before or _text(typed, field) in ("", before)
    return {field: now} if is_ours and now else {}


def _mean(readings: Sequence[ChannelReading]) -> str:
    if not readings:
        return ""
    mean = math.fsum(item.mean for item in readings) / len(readings)
    return f"{_number(mean)} {readings[-1].unit}"


def _pooled(flows: Sequence[ChannelReading]) -> str:
    """Relative standard uncertainty of one reading by its scatter, over all of a test."""
    if not flows:
        return ""
    squares = math.fsum(item.relative_uncertainty**2 for item in flows) / len(flows)
    return f"{100.0 * math.sqrt(squares):.3g} %" if squares else ""


def _row(typed: Mapping[str, str], lift: str) -> int:
    """Row of a lift, or the first one without a lift and a reading."""
    wanted, unit = units.parse(lift, "length").si, typed.get("lift_unit", "")
    rows = sorted({int(name.split("-")[1]) for name in typed if is_row(name)})
    for row in rows:
        try:
            set_at = units.parse(f"{_text(typed, f'rows-{row}-lift')} {unit}", "length").si
        except units.UnitError:
            continue
        if abs(set_at - wanted) < SAME_LIFT:
            return row
    columns = ("lift", *RUNS)
    blank = [row for row in rows if not any(_text(typed, f"rows-{row}-{name}") for name in columns)]
    row = blank[0] if blank else max(rows, default=-1) + 1
    if row >= MOST_ROWS:
        raise RuleError(gettext("the test has no row left for {lift}", lift=lift))
    return row


def is_row(name: str) -> bool:
    """True for the name of a field in a row of readings."""
    parts = name.split("-")
    return len(parts) == 3 and parts[0] == "rows" and parts[1].isdecimal() and len(parts[1]) < 4


def _lift(typed: Mapping[str, str], lift: str) -> str:
    unit = typed.get("lift_unit", "")
    number, own = units.split(lift)
    if own == unit:
        return number
    return f"{units.from_si(units.parse(lift, 'length').si, unit):.6g}"


def _converted(item: ChannelReading, unit: str, key: str) -> str:
    """A mean in another unit of its dimension. Raises ValidationError."""
    if item.unit == unit:
        return _number(item.mean)
    theirs, own = units.UNITS.get(unit), units.UNITS[item.unit]
    if theirs is None or theirs.dimension != own.dimension:
        words = gettext("is in {unit}, and the test is in {other}", unit=item.unit, other=unit)
        raise ValidationError([FieldError(key, f"{item.name} {words}")])
    return _number(units.from_si(units.to_si(item.mean, item.unit), unit))


def _number(value: float) -> str:
    """A mean as typed: six digits are far below what any instrument here resolves."""
    text = f"{value:.6g}"
    return text if "e" not in text else f"{value:.9f}".rstrip("0").rstrip(".")


def _text(typed: Mapping[str, str], name: str) -> str:
    return (typed.get(name) or "").strip()
