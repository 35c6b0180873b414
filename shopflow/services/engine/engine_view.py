"""The engine behind a head's intake: its demand, and the air and power the intake could give."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.calc.compression import cylinder_volume
from shopflow.calc.demand import Trials, demand, draw_trials
from shopflow.calc.machindex import mean_piston_speed
from shopflow.calc.monte_carlo import Range
from shopflow.calc.piston import SliderCrank
from shopflow.calc.potential import Charge, Potential, potential
from shopflow.camfile import CamDocument
from shopflow.models import BenchSession, Fuel, Induction, Job, Visit
from shopflow.services.bench.sessions import reduction
from shopflow.services.engine import engine_results, ranges
from shopflow.services.engine.ranges import NAMES, RangeSet
from shopflow.services.shop.settings import get_shop, unit_system
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem

NEED_FUEL = ("air_fuel", "consumption")


@dataclass(frozen=True)
class _Inputs:
    """Records that a view is made of."""

    job: Job
    cam: CamDocument
    fuel: Fuel | None
    held: RangeSet

    @property
    def temperature(self) -> Range:
        """Of the air before the valve: as wide as the range, about what the cam's engine states."""
        stated, usual = self.cam.intake_temperature, self.held.range("temperature")
        return usual if stated is None else usual.about(stated.si)

    @property
    def pressure(self) -> Range | None:
        """Absolute, before the valve; None where the boost is not known."""
        if self.cam.intake_pressure is not None:
            return Range(self.cam.intake_pressure.si, self.cam.intake_pressure.si)
        usual, boost = self.held.range("pressure"), self.job.boost
        if boost is None:
            return None if self.job.induction is not Induction.NATURAL else usual
        return usual.shifted(boost.si)


def view(
    db: Session,
    visit: Visit,
    cam: CamDocument,
    test: BenchSession,
    before: BenchSession | None = None,
) -> documents.EngineView:
    """An engine behind the intake of a flow test, through a cam.

    Parameters
    ----------
    visit : of the head, whose job says fuel, induction and boost
    cam : with the engine it turns in
    test : of the intake
    before : an earlier one, to show the demand with it beside
    """
    job = visit.job
    fuel = ranges.fuel_of(job)
    inputs = _Inputs(job, cam, fuel, ranges.of_job(db, job, fuel or Fuel.GASOLINE))
    trials = _trials(inputs, test)
    crank, engine = _crank(cam), cam.engine
    cylinders = visit.head.engine_type.cylinders
    return documents.EngineView(
        speed=cam.speed.text,
        cylinders=cylinders,
        displacement=cylinders * float(cylinder_volume(engine.bore, engine.stroke)),
        mean_piston_speed=float(mean_piston_speed(engine.stroke, engine.speed)),
        demand=demand(trials, engine, crank),
        potential=_potential(inputs, trials, cylinders),
        missing=tuple(_missing(inputs, crank)),
        ranges=tuple(_stated(inputs, unit_system(get_shop(db)))),
        ranges_of=_whose(inputs),
        ranges_source=inputs.held.source,
        is_stated=trials.is_stated,
        is_boosted=job.is_boosted,
        rev_limit=job.rev_limit_rpm,
        earlier=demand(_trials(inputs, before), engine, crank) if before else None,
        saved=engine_results.saved_of(db, visit),
        reported=engine_results.reported(db, job),
    )


def intake_trials(db: Session, visit: Visit, cam: CamDocument, test: BenchSession) -> Trials:
    """Trials of the intake of a flow test through a cam, as `view` draws them."""
    fuel = ranges.fuel_of(visit.job)
    held = ranges.of_job(db, visit.job, fuel or Fuel.GASOLINE)
    return _trials(_Inputs(visit.job, cam, fuel, held), test)


def _trials(inputs: _Inputs, test: BenchSession) -> Trials:
    return draw_trials(
        reduction(test),
        inputs.cam.intake.motion("intake"),
        inputs.temperature,
        inputs.held.range("index"),
    )


def _crank(cam: CamDocument) -> SliderCrank | None:
    """The crank with its rod; None where the rod length is not known or cannot be one."""
    if cam.rod_length is None or cam.rod_length.si <= cam.stroke.si / 2.0:
        return None
    return SliderCrank(cam.stroke.si, cam.rod_length.si)


def _potential(inputs: _Inputs, trials: Trials, cylinders: int) -> Potential | None:
    pressure, held = inputs.pressure, inputs.held
    if pressure is None:
        return None
    knows_fuel = inputs.fuel is not None
    charge = Charge(
        filling=held.range("filling"),
        pressure=pressure,
        air_fuel=held.range("air_fuel") if knows_fuel else None,
        consumption=held.range("consumption") if knows_fuel else None,
    )
    return potential(trials, inputs.cam.engine, cylinders, charge)


def _missing(inputs: _Inputs, crank: SliderCrank | None) -> Iterator[str]:
    if crank is None:
        yield gettext(
            "No demand by crank angle: enter the rod length with the cam, longer than half of the "
            "stroke."
        )
    if inputs.pressure is None:
        yield gettext("No air and no power: enter the boost on the job.")
    elif inputs.fuel is None:
        yield gettext(
            "No power: enter the fuel on the job, as gasoline, ethanol, methanol or diesel."
        )


def _whose(inputs: _Inputs) -> str:
    fuel = gettext("fuel not known") if inputs.fuel is None else translated(inputs.fuel)
    return gettext(
        "{fuel}, {induction}: {origin}",
        fuel=fuel,
        induction=translated(inputs.job.induction),
        origin=inputs.held.origin,
    )


def _stated(inputs: _Inputs, units: UnitSystem) -> Iterator[documents.ForecastRange]:
    """The ranges used, as typed; those moved by the cam's engine in the shop's units."""
    for name, words in NAMES.items():
        if inputs.fuel is None and name in NEED_FUEL:
            continue
        low, high = (end.text for end in inputs.held.ends[name])
        title = str(words)
        if name == "temperature" and inputs.cam.intake_temperature is not None:
            title = gettext("{range}, about that of the cam’s engine", range=words)
            low, high = (
                units.text(end, "temperature")
                for end in (inputs.temperature.low, inputs.temperature.high)
            )
        elif name == "pressure" and inputs.cam.intake_pressure is not None:
            low = high = inputs.cam.intake_pressure.text
            title = gettext("Pressure before the intake valve, of the cam’s engine")
        elif name == "pressure" and inputs.job.boost is not None:
            title = gettext("{range}; boost {boost} on top", range=words, boost=inputs.job.boost)
        yield documents.ForecastRange(title, low, high)
