"""Ranges behind forecasts of air and power: a job's own, else the shop's, else those shipped."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.calc.monte_carlo import Range
from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import EngineRanges, Fuel, Induction, Job
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.engine import range_defaults
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext, lazy, translated
from shopflow.units import Quantity, UnitSystem, from_si, parse

NAMES = {
    "index": lazy("Mach index where filling falls"),
    "filling": lazy("Volumetric efficiency"),
    "air_fuel": lazy("Air to fuel, by mass"),
    "consumption": lazy("Fuel consumption at the crankshaft"),
    "temperature": lazy("Air before the intake valve"),
    "pressure": lazy("Air pressure, absolute"),
}
"""Ranges of a set in their order, each with its name as read."""

DIMENSIONS = {
    "filling": "ratio",
    "consumption": "specific consumption",
    "temperature": "temperature",
    "pressure": "pressure",
}
"""Dimension of each range that has a unit."""

KINDS = {"consumption": "consumption", "temperature": "temperature", "pressure": "air pressure"}
"""Kind of figure whose unit a range that is shipped is given in."""

ROUNDED = {"g/kWh": 0, "lb/hp.h": 2, "degC": 0, "degF": 0, "kPa": 1, "inHg": 1}
"""Decimals of the same, by unit."""

BOUNDS = {
    "index": ("0.05", "5"),
    "filling": ("5 %", "300 %"),
    "air_fuel": ("1", "200"),
    "consumption": ("50 g/kWh", "5000 g/kWh"),
    "temperature": ("-80 degC", "400 degC"),
    "pressure": ("20 kPa", "120 kPa"),
}
"""Ends beyond which a value is a slip of the pen."""

ENDS = ("low", "high")

_FUELS = {
    Fuel.METHANOL: r"methanol|m85|m100",
    Fuel.ETHANOL: r"ethanol|e85|e100|e98",
    Fuel.DIESEL: r"diesel|gas oil|biodiesel",
    Fuel.GASOLINE: r"gasoline|petrol|avgas|octane|ron|pump|e5|e10|super|premium|race fuel",
}


@dataclass(frozen=True)
class RangeSet:
    """The ranges of a forecast, and whose they are."""

    fuel: Fuel
    induction: Induction
    ends: Mapping[str, tuple[Quantity, Quantity]]
    """Low and high end of each range, by its name."""

    source: str
    row: EngineRanges | None = None
    """The record they are from; None for those shipped with the program."""

    def range(self, name: str) -> Range:
        """One of them in SI."""
        low, high = self.ends[name]
        return Range(low.si, high.si)

    @property
    def origin(self) -> str:
        """Owner of the ranges, in words."""
        if self.row is None:
            return gettext("shipped with the program")
        return gettext("the shop’s") if self.row.job_id is None else gettext("this job’s")


def fuel_of(job: Job) -> Fuel | None:
    """Fuel of a job, else of its heads' engine types, by the words typed; None where they name
    none that ranges are known for."""
    typed = [job.fuel, *(visit.head.engine_type.fuel for visit in job.heads)]
    for words in filter(None, typed):
        for fuel, pattern in _FUELS.items():
            if re.search(rf"(?i)(?<![a-z0-9])({pattern})(?![a-z0-9])", words):
                return fuel
    return None


def shipped(fuel: Fuel, induction: Induction, units: UnitSystem) -> RangeSet:
    """Ranges that come with the program, in round numbers of a shop's units."""
    ends = {
        name: (_rounded(name, low, units), _rounded(name, high, units))
        for name, (low, high) in range_defaults.typed(fuel, induction).items()
    }
    return RangeSet(fuel, induction, ends, str(range_defaults.SOURCE))


def of_shop(db: Session, fuel: Fuel, induction: Induction) -> RangeSet:
    """The shop's ranges of a fuel and an induction, else those shipped."""
    query = select(EngineRanges).where(
        EngineRanges.job_id.is_(None),
        EngineRanges.fuel == fuel,
        EngineRanges.induction == induction,
    )
    row = db.scalars(query).one_or_none()
    if row is None:
        return shipped(fuel, induction, unit_system(get_shop(db)))
    return _of_row(row)


def of_job(db: Session, job: Job, fuel: Fuel) -> RangeSet:
    """A job's own ranges, else the shop's for its fuel and induction."""
    row = db.scalars(select(EngineRanges).where(EngineRanges.job_id == job.id)).one_or_none()
    return of_shop(db, fuel, job.induction) if row is None else _of_row(row)


def all_of_shop(db: Session) -> list[RangeSet]:
    """Every set of the shop, by fuel and induction."""
    return [of_shop(db, fuel, induction) for fuel in Fuel for induction in Induction]


def save(
    db: Session, by: Actor, standing: RangeSet, values: Mapping[str, Any], job: Job | None = None
) -> EngineRanges:
    """Save ranges in place of a set, the shop's or one job's.

    Parameters
    ----------
    standing : the set that held so far
    values : `index_low`, `index_high` and the like, and `source`

    Raises ValidationError at these.
    """
    clean = _clean(values)
    row = standing.row
    if row is not None and row.job_id == (job.id if job else None):
        audit_log.change(db, by, row, clean, job=job)
        return row
    row = EngineRanges(job=job, fuel=standing.fuel, induction=standing.induction, **clean)
    db.add(row)
    audit_log.record(db, by, row, "set", job=job, note=_named(row))
    return row


def remove(db: Session, by: Actor, standing: RangeSet, job: Job | None = None) -> None:
    """Go back to the ranges behind a set. Raises RuleError where it is none of this owner's."""
    row = standing.row
    if row is None or row.job_id != (job.id if job else None):
        raise RuleError(gettext("these ranges are not set here: there is nothing to remove"))
    audit_log.record(db, by, row, "removed", job=job, note=_named(row))
    db.delete(row)
    db.flush()


def _named(row: EngineRanges) -> str:
    return f"{translated(row.fuel)}, {translated(row.induction)}"


def _of_row(row: EngineRanges) -> RangeSet:
    ends = {name: (getattr(row, f"{name}_low"), getattr(row, f"{name}_high")) for name in NAMES}
    return RangeSet(row.fuel, row.induction, ends, row.source, row)


def _clean(values: Mapping[str, Any]) -> dict[str, Any]:
    """Both ends of every range, in order and within bounds. Raises ValidationError."""
    specification = {f"{name}_{end}": _reader(name) for name in NAMES for end in ENDS} | {
        "source": fields.text()
    }
    clean = fields.require(specification, values, *specification)
    faults = list(_out_of_order(clean))
    if faults:
        raise ValidationError(faults)
    return clean


def _out_of_order(clean: Mapping[str, Any]) -> Iterator[FieldError]:
    for name in NAMES:
        low, high = (clean[f"{name}_{end}"] for end in ENDS)
        if low.si > high.si:
            message = gettext("'{high}' is below '{low}': swap the two", high=high, low=low)
            yield FieldError(f"{name}_high", message)


def _reader(name: str) -> fields.Reader:
    reader = fields.quantity(DIMENSIONS[name], required=True) if name in DIMENSIONS else _number
    low, high = (_read(name, end) for end in BOUNDS[name])

    def bounded(value: Any) -> Quantity:
        quantity: Quantity = reader(value)
        if not low.si <= quantity.si <= high.si:
            raise ValueError(
                gettext(
                    "'{value}' is out of range: enter {low} to {high}",
                    value=quantity,
                    low=low,
                    high=high,
                )
            )
        return quantity

    return bounded


def _number(value: Any) -> Quantity:
    """A number without a unit."""
    number = fields.decimal(least=None)(value.text if isinstance(value, Quantity) else value)
    if number is None:
        raise ValueError(gettext("required: enter a value"))
    return Quantity(str(number), float(number))


def _rounded(name: str, typed: str, units: UnitSystem) -> Quantity:
    """An end of a range that is shipped, as the shop would type it."""
    end = _read(name, typed)
    if name not in KINDS:
        return end
    unit, places = units.unit(KINDS[name]), ROUNDED[units.unit(KINDS[name])]
    return _read(name, f"{from_si(end.si, unit):.{places}f} {unit}")


def _read(name: str, typed: str) -> Quantity:
    """An end of a range that is shipped."""
    if name in DIMENSIONS:
        return parse(typed, DIMENSIONS[name])
    return Quantity(typed, float(typed))
