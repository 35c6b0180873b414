"""Results that customers report of their engines, and the forecasts saved before them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from shopflow import documents
from shopflow.calc.forecast_record import Record, record
from shopflow.calc.monte_carlo import Interval
from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import EngineForecast, EngineResult, Job, PowerAt, ResultKind, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.shop.periods import Period
from shopflow.texts import gettext, lazy, translated
from shopflow.units import pretty_text

SPECIFICATION: fields.Specification = {
    "day": fields.day(),
    "kind": fields.one_of(ResultKind),
    "power": fields.quantity("power", above=0.0),
    "power_at": fields.one_of(PowerAt),
    "speed": fields.quantity("speed of rotation", above=0.0),
    "boost": fields.quantity("pressure", above=-1e-9),
    "fuel": fields.text(),
    "air_temperature": fields.quantity("temperature", above=0.0),
    "air_pressure": fields.quantity("pressure", above=0.0),
    "elapsed_time": fields.quantity("time", above=0.0),
    "end_speed": fields.quantity("velocity", above=0.0),
    "source": fields.text(),
    "notes": fields.words(),
}
SAYS = ("power", "elapsed_time", "end_speed", "notes")
"""Fields of which a result has one at least."""

_NAMES = {
    "speed": lazy("at {value}"),
    "boost": lazy("boost {value}"),
    "fuel": lazy("fuel {value}"),
    "air_temperature": lazy("air {value}"),
    "air_pressure": lazy("air {value}"),
    "elapsed_time": lazy("{value} elapsed"),
    "end_speed": lazy("{value} at the end"),
}


@dataclass(frozen=True)
class Outcome:
    """A reported power at the crankshaft, and the forecast saved before it."""

    result: EngineResult
    forecast: EngineForecast
    interval: Interval
    power: float
    """W."""

    @property
    def is_inside(self) -> bool:
        """True where the power lies in the forecast."""
        return self.interval.holds(self.power)


def get(db: Session, key: int) -> EngineResult:
    """The result with this key. Raises NotFoundError."""
    row = db.get(EngineResult, key)
    if row is None:
        raise NotFoundError(gettext("this result does not exist"))
    return row


def of_job(db: Session, job: Job) -> list[EngineResult]:
    """Results of a job's engine, the latest day last."""
    query = select(EngineResult).where(EngineResult.job_id == job.id)
    return list(db.scalars(query.order_by(EngineResult.day, EngineResult.id)))


def add(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> EngineResult:
    """Save a result as reported. Raises ValidationError."""
    clean = fields.require(SPECIFICATION, values, "day", "kind")
    _check({**dict.fromkeys(SAYS), **clean})
    row = EngineResult(job=job, entered_at=by.at, person_id=by.person_id, **clean)
    db.add(row)
    db.flush()
    audit_log.record(db, by, row, "added", job=job, note=_named(row))
    return row


def change(db: Session, by: Actor, row: EngineResult, values: Mapping[str, Any]) -> None:
    """Change a result. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    standing = {name: getattr(row, name) for name in ("day", *SAYS)}
    _check(standing | clean)
    audit_log.change(db, by, row, clean, job=row.job)


def discard(db: Session, by: Actor, row: EngineResult) -> None:
    """Discard a result that was entered by mistake; the log keeps what it said."""
    audit_log.record(db, by, row, "discarded", job=row.job, note=_named(row))
    db.delete(row)
    db.flush()


def save_forecast(
    db: Session, by: Actor, visit: Visit, cam: str, test: str, view: documents.EngineView
) -> EngineForecast:
    """Save a forecast as it stands, for a result to be set against. It never changes.

    Raises RuleError where there is none to save.
    """
    potential = view.potential
    if potential is None:
        raise RuleError(
            gettext("there is no forecast to save: {missing}", missing=view.missing[-1])
        )
    power = _columns("power", potential.power) if potential.power else {}
    row = EngineForecast(
        job_head_id=visit.id,
        cam=cam,
        test=test,
        **_columns("air", potential.air),
        **_columns("speed", potential.speed),
        **power,
        ranges=[[each.name, each.low, each.high] for each in view.ranges],
        made_at=by.at,
        person_id=by.person_id,
    )
    db.add(row)
    note = gettext("air and power through {cam}", cam=cam)
    audit_log.record(db, by, row, "saved", job=visit.job, note=note)
    return row


def saved_of(db: Session, visit: Visit) -> documents.SavedForecast | None:
    """The forecast of a head saved last; None where there is none."""
    rows = _forecasts(db, EngineForecast.job_head_id == visit.id)
    if not rows:
        return None
    row = rows[-1]
    return documents.SavedForecast(
        row.made_at, row.cam, row.test, _interval(row, "air"), _power(row)
    )


def reported(db: Session, job: Job) -> tuple[documents.ReportedResult, ...]:
    """Results reported of a job's engine, each with the last forecast saved before."""
    forecasts = _forecasts(db, Visit.job_id == job.id)
    return tuple(_reported(row, _before(row, forecasts)) for row in of_job(db, job))


def outcomes(db: Session, period: Period | None = None) -> list[Outcome]:
    """Every reported power that a forecast was saved before, of a period or of all time."""
    query = select(EngineResult).options(joinedload(EngineResult.job))
    if period is not None:
        query = query.where(EngineResult.day >= period.first, EngineResult.day <= period.last)
    rows = db.scalars(query.order_by(EngineResult.day, EngineResult.id)).all()
    of_job: dict[int, list[EngineForecast]] = {}
    for forecast in _forecasts(db):
        of_job.setdefault(forecast.job_head.job_id, []).append(forecast)
    return [outcome for row in rows for outcome in _outcome(row, of_job.get(row.job_id, []))]


def record_of(rows: Sequence[Outcome]) -> Record | None:
    """The shop's forecasts against what came; None where nothing did."""
    return record([(row.interval, row.power) for row in rows])


def _check(values: Mapping[str, Any]) -> None:
    faults = []
    if values.get("day") is None:
        faults.append(FieldError("day", gettext("required: enter a value")))
    if not any(values[name] for name in SAYS):
        message = gettext("enter a power, a time, a speed or notes")
        faults.append(FieldError("power", message))
    if faults:
        raise ValidationError(faults)


def _named(row: EngineResult) -> str:
    words = [translated(row.kind), row.day.isoformat(), *_figures(row)]
    return ", ".join(words)[:200]


def _figures(row: EngineResult) -> Iterator[str]:
    """Quantities reported, as typed."""
    if row.power is not None:
        places = {
            PowerAt.CRANKSHAFT: gettext("{power} at the crankshaft", power=row.power),
            PowerAt.WHEELS: gettext("{power} at the wheels", power=row.power),
            PowerAt.UNKNOWN: gettext("{power}, place not stated", power=row.power),
        }
        yield places[row.power_at]
    for name, words in _NAMES.items():
        value = getattr(row, name)
        if value:
            yield str(words).replace("{value}", str(value))


def _forecasts(db: Session, *conditions: Any) -> list[EngineForecast]:
    """Saved forecasts, the earliest first."""
    query = (
        select(EngineForecast)
        .join(EngineForecast.job_head)
        .where(*conditions)
        .options(joinedload(EngineForecast.job_head))
        .order_by(EngineForecast.made_at, EngineForecast.id)
    )
    return list(db.scalars(query))


def _before(row: EngineResult, forecasts: Sequence[EngineForecast]) -> EngineForecast | None:
    """The last forecast of a power saved before a result was entered: none looks ahead."""
    earlier = [
        forecast
        for forecast in forecasts
        if forecast.made_at <= row.entered_at and forecast.power_median is not None
    ]
    return earlier[-1] if earlier else None


def _outcome(row: EngineResult, forecasts: Sequence[EngineForecast]) -> Iterator[Outcome]:
    forecast = _before(row, forecasts)
    interval = _power(forecast) if forecast else None
    power = _at_crankshaft(row)
    if forecast is not None and interval is not None and power is not None:
        yield Outcome(row, forecast, interval, power)


def _reported(row: EngineResult, forecast: EngineForecast | None) -> documents.ReportedResult:
    return documents.ReportedResult(
        key=row.id,
        day=row.day,
        kind=translated(row.kind),
        figures=tuple(map(pretty_text, _figures(row))),
        source=row.source,
        power=_at_crankshaft(row),
        forecast=None if forecast is None else _power(forecast),
    )


def _at_crankshaft(row: EngineResult) -> float | None:
    """The power in W where it was measured at the crankshaft, as a forecast is."""
    is_like = row.power is not None and row.power_at is PowerAt.CRANKSHAFT
    return row.power.si if is_like and row.power is not None else None


def _power(row: EngineForecast) -> Interval | None:
    return None if row.power_median is None else _interval(row, "power")


def _interval(row: EngineForecast, name: str) -> Interval:
    return Interval(*(getattr(row, f"{name}_{end}") for end in ("low", "median", "high")))


def _columns(name: str, interval: Interval) -> dict[str, float]:
    ends = {"low": interval.low, "median": interval.median, "high": interval.high}
    return {f"{name}_{end}": value for end, value in ends.items()}
