"""An engine behind its intake in words: one chart and the same rows for page and paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import floor, log10

from shopflow.calc.demand import CHOKED, Demand, DemandCurve
from shopflow.calc.monte_carlo import Interval
from shopflow.charts import Axis, Band, Chart, Series
from shopflow.documents import Display, EngineView, Figure, ReportedResult
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem, from_si, parse, pretty, pretty_text

DIGITS = 2
"""Of the width of an interval that its ends are told apart by."""

MARKED_EVERY = 20.0
"""Crank degrees from one mark to the next."""

ABOUT = (
    lazy(
        "Every interval holds its result 19 times in 20: the errors of the flow test and the "
        "ranges used were drawn 25,000 times (JCGM 101:2008). The cam, bore, stroke and rod are "
        "taken as entered. The same inputs always give the same interval."
    ),
    lazy(
        "The Mach demand is the Mach number that the air would need through the effective area if "
        "the cylinder filled at the piston's pace: piston area × piston speed ÷ (speed of sound × "
        "effective area at that angle). Above 0.58 no opening can follow: the flow of a choked "
        "ideal nozzle (NASA Glenn Research Center, Mass flow choking)."
    ),
    lazy(
        "The index is the same in the mean: mean piston speed × piston area ÷ (speed of sound × "
        "mean area over the open period). Filling falls steeply above about 0.5 (JSME dictionary "
        "of mechanical engineering, entry 11:1002813)."
    ),
    lazy(
        "The time-area counts from top to bottom dead center at the speed entered. Against it "
        "stands what the stroke asks: the volume swept ÷ speed of sound is the time-area at a "
        "demand of 1, so that the mean demand is this over the time-area, and at 0.58 the port is "
        "choked all the way. The limit of the index holds for the mean over the open period, not "
        "for this one."
    ),
    lazy(
        "Results with the earlier test are drawn from the same ranges. The two intervals may "
        "overlap though the difference is shown: it is that of the mean area over the cam, above."
    ),
    lazy(
        "Air is volumetric efficiency × density before the valve × displacement × half of the "
        "speed; power is that air ÷ (air to fuel × fuel consumption). The speed is the one entered "
        "for the cam or, where that is lower, the one where filling falls. Four-stroke engines "
        "(Heywood 1988, sections 2.9 and 2.10, from memory)."
    ),
)
LIMITS = (
    lazy(
        "Not a promise. The interval says what this intake could give an engine whose other parts "
        "keep up: exhaust, ignition, compression, fuel and friction are only in the ranges."
    ),
    lazy(
        "Every cylinder is taken to have an intake like the one tested. Waves in intake and "
        "exhaust, which can lift or lower filling, are in the range of volumetric efficiency alone."
    ),
)
BOOSTED = lazy(
    "Boosted engine: heat, knock and the strength of the engine limit its power before the ports "
    "do. Do not set boost by these results, and check the seat load of the valves at the boost the "
    "engine will see."
)
NOT_STATED = lazy(
    "The flow test states no uncertainty of its readings, so that the intervals are too narrow."
)


def interval_text(interval: Interval, scale: float = 1.0) -> str:
    """Both ends of an interval, to two digits of its width.

    >>> interval_text(Interval(87.23, 100.0, 116.9)), interval_text(Interval(5234.0, 6e3, 7120.0))
    ('87 to 117', '5200 to 7100')
    >>> interval_text(Interval(0.4312, 0.5, 0.5501))
    '0.43 to 0.55'
    """
    low, high = interval.low * scale, interval.high * scale
    width = high - low or abs(high) or 1.0
    places = DIGITS - 1 - floor(log10(width))
    ends = (f"{round(end, places):.{max(places, 0)}f}" for end in (low, high))
    return gettext("{low} to {high}", **dict(zip(("low", "high"), ends, strict=True)))


def of_kind(interval: Interval, units: UnitSystem, kind: str) -> str:
    """An interval in the shop's unit of a kind, as "87 to 117 hp"."""
    unit = units.unit(kind)
    return f"{interval_text(interval, 1.0 / from_one(unit))} {pretty(unit)}"


def from_one(unit: str) -> float:
    """Size of a unit without an offset, in SI."""
    return 1.0 / from_si(1.0, unit)


def demand_chart(curve: DemandCurve, speed: str) -> Chart:
    """Mach demand against crank angle, with the band of its uncertainty."""
    angles, low, median, high = (
        values.tolist() for values in (curve.angles, curve.low, curve.median, curve.high)
    )
    marked = [place for place, angle in enumerate(angles) if angle % MARKED_EVERY == 0.0]
    ends = [angles[0], angles[-1]]
    return Chart(
        title=gettext("Mach demand over the intake stroke at {speed}", speed=speed),
        x=Axis(gettext("Crank angle from top dead center of the overlap"), "°"),
        y=Axis(gettext("Mach demand")),
        series=[
            Series(
                name=gettext("Demand, ± for 95 %"),
                x=[angles[place] for place in marked],
                y=[median[place] for place in marked],
                error=[(high[place] - low[place]) / 2.0 for place in marked],
                path=list(zip(angles, median, strict=True)),
            ),
            Series(
                name=gettext("Choked: no opening can follow"),
                x=ends,
                y=[CHOKED, CHOKED],
                as_received=True,
            ),
        ],
        places=2,
        x_places=0,
        x_from_zero=False,
        bands=[Band(gettext("19 times in 20"), angles, low, median, high, low, high)],
    )


def demand_figures(view: EngineView, units: UnitSystem) -> list[Figure]:
    """Piston speed, index, speed where filling falls and time-area, each with its working."""
    return [*_piston(view, units), *_index(view), *_by_angle(view), *_time_area(view, units)]


def _with_earlier(view: EngineView, working: str, text: Callable[[Demand], str]) -> str:
    """A working, with what the earlier flow test gives where there is one."""
    if view.earlier is None:
        return working
    return gettext(
        "{working}. With the earlier test: {value}", working=working, value=text(view.earlier)
    )


def potential_figures(view: EngineView, units: UnitSystem) -> list[Figure]:
    """Air and power as intervals; none where they cannot be had."""
    could = view.potential
    if could is None:
        return []
    figures = [
        Figure(
            gettext("Air, all cylinders"),
            of_kind(could.air, units, "mass flow"),
            gettext(
                "volumetric efficiency × density × {displacement} × ½ speed, at {speed} rpm",
                displacement=units.text(view.displacement, "volume"),
                speed=interval_text(could.speed, 60.0),
            ),
        )
    ]
    if could.power is not None:
        working = gettext("air ÷ (air to fuel × fuel consumption), at the crankshaft")
        text = of_kind(could.power, units, "engine power")
        figures.append(Figure(gettext("Power potential"), text, working))
    return figures


def cautions(view: EngineView) -> list[str]:
    """Limits of the potential, with the caution of a boosted engine."""
    return [str(text) for text in (*LIMITS, *([BOOSTED] if view.is_boosted else []))]


def remarks(view: EngineView) -> list[str]:
    """Sentences on what is missing, on what the intervals leave out, and on another speed."""
    return [*_other_speed(view), *view.missing, *([] if view.is_stated else [str(NOT_STATED)])]


def _other_speed(view: EngineView) -> Iterator[str]:
    """That the engine turns faster or slower than the speed shown, where it does."""
    shown = parse(view.speed, "speed of rotation").si * 60.0
    if view.rev_limit and round(shown) != view.rev_limit:
        yield gettext(
            "These results are for {speed}. The job’s rev limit is {limit} rpm: for results there, "
            "enter it as the speed of the cam’s engine.",
            speed=pretty_text(view.speed),
            limit=view.rev_limit,
        )


def range_rows(view: EngineView) -> list[tuple[str, str]]:
    """Each range used, as typed."""
    return [
        (
            each.name,
            pretty_text(
                each.low
                if each.low == each.high
                else gettext("{low} to {high}", low=each.low, high=each.high)
            ),
        )
        for each in view.ranges
    ]


def reported_rows(view: EngineView, display: Display) -> list[tuple[str, str, str]]:
    """Each reported result: day and kind, what was reported, and how it lies to the forecast."""
    return [
        (
            f"{display.day(row.day)}, {row.kind}",
            ", ".join((*row.figures, *([row.source] if row.source else []))),
            against_forecast(row, display.units),
        )
        for row in view.reported
    ]


def against_forecast(row: ReportedResult, units: UnitSystem) -> str:
    """A reported power against the forecast saved before it, in words."""
    if row.power is None:
        return gettext("Not compared: no power at the crankshaft")
    if row.forecast is None:
        return gettext("Not compared: no forecast was saved before it")
    words = {
        True: gettext("inside the forecast of {interval}"),
        False: gettext("outside the forecast of {interval}"),
    }[bool(row.is_inside)]
    return words.replace("{interval}", of_kind(row.forecast, units, "engine power"))


def _piston(view: EngineView, units: UnitSystem) -> Iterator[Figure]:
    yield Figure(
        gettext("Mean piston speed"),
        units.text(view.mean_piston_speed, "velocity"),
        gettext("2 × stroke × revolutions a second, at {speed}", speed=view.speed),
    )
    greatest = view.demand.greatest_piston_speed
    if greatest is not None:
        speed, angle = greatest
        yield Figure(
            gettext("Greatest piston speed"),
            units.text(speed, "velocity"),
            gettext("with the rod, {angle:.0f}° after top dead center", angle=angle),
        )


def _index(view: EngineView) -> Iterator[Figure]:
    def index(demand: Demand) -> str:
        return interval_text(demand.index)

    def speed(demand: Demand) -> str:
        return gettext("{speeds} rpm", speeds=interval_text(demand.filling_speed, 60.0))

    working = gettext(
        "at {speed}: mean piston speed × piston area ÷ (speed of sound × mean area of the "
        "intake over the cam)",
        speed=view.speed,
    )
    yield Figure(
        gettext("Mean inlet Mach index"),
        index(view.demand),
        _with_earlier(view, working, index),
    )
    yield Figure(
        gettext("Speed where filling falls"),
        speed(view.demand),
        _with_earlier(view, gettext("speed × limit of the index ÷ index"), speed),
    )


def _by_angle(view: EngineView) -> Iterator[Figure]:
    greatest, share = view.demand.greatest, view.demand.choked_share
    if greatest is None or share is None:
        return
    yield Figure(
        gettext("Greatest Mach demand"),
        interval_text(greatest),
        gettext("over the intake stroke, while the valve is well open"),
    )
    yield Figure(
        gettext("Stroke at a choked demand"),
        gettext("{share} %", share=interval_text(share, 100.0)),
        gettext("share of the intake stroke, by angle, above {choked:.2f}", choked=CHOKED),
    )


def _time_area(view: EngineView, units: UnitSystem) -> Iterator[Figure]:
    unit = units.unit("port area")

    def in_unit(interval: Interval) -> str:
        return f"{interval_text(interval, 1e3 / from_one(unit))} {pretty(unit)}·ms"

    working = gettext("effective area × time, from top to bottom dead center")
    yield Figure(
        gettext("Time-area of the intake stroke"),
        in_unit(view.demand.time_area),
        _with_earlier(view, working, lambda demand: in_unit(demand.time_area)),
    )
    yield Figure(
        gettext("Least time-area the stroke asks"),
        in_unit(view.demand.least_time_area),
        gettext(
            "volume swept ÷ (speed of sound × {choked:.2f}): choked all the way", choked=CHOKED
        ),
    )
    working = gettext("volume swept ÷ (speed of sound × time-area of the stroke)")
    yield Figure(
        gettext("Mean Mach demand of the stroke"),
        interval_text(view.demand.mean_demand),
        _with_earlier(view, working, lambda demand: interval_text(demand.mean_demand)),
    )
