"""A comparison as plain sentences, the same on screen, on paper and on the command line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import expm1, hypot

from shopflow import set_up_words
from shopflow.calc.area_gain import AreaComparison, AreaGain
from shopflow.calc.estimates import Input
from shopflow.calc.forecast import Forecast
from shopflow.calc.gain_source import GainSource
from shopflow.calc.rounding import matched
from shopflow.calc.sanity import Doubt
from shopflow.calc.settling import NextReading
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.verdicts import Verdict
from shopflow.texts import gettext, lazy, listed, ngettext, translated
from shopflow.units import from_si, pretty

FLOW_SHOWN = lazy(
    "flow at 28 inH₂O in air of {standard_density} kg/m³", standard_density=STANDARD_DENSITY
)
"""Description of the flow that effective areas are shown as where tests of many heads are
together."""

COMPARED = lazy("Compared: effective area, shown as {flow}.", flow=FLOW_SHOWN)

WIDE = 0.03
"""Width of a forecast, as a share, from which whole percents tell enough."""

FORECAST_CAVEAT = lazy(
    "Gain in mean effective area over the lifts tested. This is what this shop’s own past tests "
    "gave, not a promise."
)

VERDICTS = {
    Verdict.GAIN: lazy("a gain"),
    Verdict.LOSS: lazy("a loss"),
    Verdict.NO_DIFFERENCE: lazy("no difference shown"),
    Verdict.NOT_STATED: lazy("uncertainty not stated"),
}
INPUTS = {
    Input.CALIBRATION: lazy("calibration"),
    Input.PRESSURE: lazy("test pressure"),
    Input.LIFT: lazy("lift setting"),
    Input.LEAKAGE: lazy("leakage"),
    Input.DENSITY: lazy("air density"),
}
"""Inputs that a test states an uncertainty of, in words."""


def percent(gain: AreaGain) -> str:
    """A gain with its uncertainty, as "+6.0 ± 1.1 %".

    >>> percent(AreaGain(0.002, 0.010, 1.0, 1.06, 0.011, Verdict.GAIN))
    '+6.0 ± 1.1 %'
    """
    if not gain.expanded_uncertainty:
        margin = "" if gain.expanded_uncertainty is None else " ± 0.0"
        return f"{100.0 * gain.gain:+.1f}{margin} %"
    value, margin = matched(100.0 * gain.gain, 100.0 * gain.expanded_uncertainty)
    return f"{'' if value.startswith('-') else '+'}{value} ± {margin} %"


def forecast_range(interval: Forecast) -> str:
    """The limits of a forecast as gains, as "+3 to +8 %".

    >>> forecast_range(Forecast(0.0296, 0.05, 0.077, 9, 4))
    '+3 to +8 %'
    >>> forecast_range(Forecast(-0.002, 0.006, 0.014, 9, 4))
    '−0.2 to +1.4 %'
    """
    places = 0 if interval.high - interval.low > WIDE else 1
    return percent_range(interval.low_percent, interval.high_percent, places)


def percent_range(low: float, high: float, places: int = 1) -> str:
    """Two gains in percent as a range; one where they are alike.

    >>> percent_range(2.14, 6.4), percent_range(-0.31, -0.31)
    ('+2.1 to +6.4 %', '−0.3 %')
    """
    words = [_signed_percent(limit, places) for limit in (low, high)]
    if words[0] == words[1]:
        return f"{words[0]} %"
    return gettext("{low} to {high} %", low=words[0], high=words[1])


def forecast_source(interval: Forecast) -> str:
    """The cases of a forecast, as "from 9 heads, 4 of this engine type".

    >>> forecast_source(Forecast(0.03, 0.05, 0.08, 9, 4))
    'from 9 heads, 4 of this engine type'
    """
    heads = ngettext("from {num} head", "from {num} heads", interval.cases)
    if not interval.same_group:
        return gettext("{heads}, none of this engine type", heads=heads)
    return gettext("{heads}, {own} of this engine type", heads=heads, own=interval.same_group)


def forecast_in_words(work: str, side: str, interval: Forecast) -> str:
    """A forecast as one line, for documents.

    >>> forecast_in_words("Port", "intake", Forecast(0.03, 0.05, 0.08, 9, 4))
    'Port, intake: +3 to +8 % in nine of ten, from 9 heads, 4 of this engine type'
    """
    return gettext(
        "{work}, {side}: {limits} in nine of ten, {source}",
        work=work,
        side=translated(side),
        limits=forecast_range(interval),
        source=forecast_source(interval),
    )


def log_gain(value: float, expanded_uncertainty: float) -> str:
    """The logarithm of a ratio of areas as a gain with its uncertainty.

    >>> log_gain(0.0583, 0.0104)
    '+6.0 ± 1.1 %'
    """
    gain = 100.0 * expm1(value)
    if not expanded_uncertainty:
        return f"{_signed_percent(gain, 1)} %"
    words, margin = matched(gain, (100.0 + gain) * expanded_uncertainty)
    sign = "" if words.startswith("-") else "+"
    return f"{sign}{words} ± {margin} %".replace("-", "−")


def _signed_percent(value: float, places: int) -> str:
    """A gain with its sign; nothing has none."""
    rounded = round(value, places) + 0.0
    return f"{rounded:+.{places}f}".replace("-", "−") if rounded else f"{0.0:.{places}f}"


def sources_of(gain: AreaGain, source: GainSource) -> tuple[str, str]:
    """Parts of a gain from the opening and from all else, each with its uncertainty.

    The two add up as printed. The uncertainty of all else is that of the gain and of the opening
    together: flow and sizes are measured apart.

    >>> gain = AreaGain(0.002, 0.010, 1.0, 1.06, 0.011, Verdict.GAIN)
    >>> sources_of(gain, GainSource(0.002, 0.010, 0.0349, 0.0251, 0.005))
    ('+3.5 ± 0.5 %', '+2.5 ± 1.2 %')
    """
    opening = round(100.0 * source.opening, 1) + 0.0
    rest = round(round(100.0 * gain.gain, 1) - opening, 1) + 0.0
    own, stated = source.opening_uncertainty, gain.expanded_uncertainty
    both = None if own is None or stated is None else hypot(own, stated)
    return _signed(opening, own), _signed(rest, both)


def source_of_gain(gain: AreaGain, source: GainSource) -> str:
    """The two sources of a gain as a sentence."""
    opening, rest = sources_of(gain, source)
    return gettext(
        "Of {gain:+.1f} %, {opening} comes from the valve opening and {rest} from all else.",
        gain=100.0 * gain.gain,
        opening=opening,
        rest=rest,
    ).replace("-", "−")


def section_change(before: str, after: str, change: float) -> str:
    """The change of a port's least section as a sentence; the areas with their units.

    >>> print(section_change("1246 mm²", "1322 mm²", 0.061))  # doctest: +NORMALIZE_WHITESPACE
    Narrowest section of the port: 1246 mm² before, 1322 mm² after (+6.1 %).
    It is part of all else, not of the valve opening.
    """
    return gettext(
        "Narrowest section of the port: {before} before, {after} after ({change} %). It is part of "
        "all else, not of the valve opening.",
        before=before,
        after=after,
        change=_signed_percent(100.0 * change, 1),
    )


def _signed(percent: float, uncertainty: float | None) -> str:
    margin = f" ± {100.0 * uncertainty:.1f}" if uncertainty else ""
    return f"{percent:{'+' if percent else ''}.1f}{margin} %".replace("-", "−")


UNLIKE = {Verdict.GAIN: lazy("flows more"), Verdict.LOSS: lazy("flows less")}
"""Of two ports neither has gained or lost on the other, nor has one that was not cut."""


def called(verdict: Verdict, is_gain: bool) -> str:
    """A verdict in a table; it is a gain or loss only of one port that was cut.

    >>> called(Verdict.GAIN, is_gain=False)
    'flows more'
    """
    return translated(verdict) if is_gain else str(UNLIKE.get(verdict, translated(verdict)))


def verdict(gain: AreaGain, lift_unit: str, is_gain: bool = True, is_unlike: bool = False) -> str:
    """The verdict on a gain, on a difference that is none of the work, or across unlike set-ups.

    >>> verdict(AreaGain(0.002, 0.010, 1.0, 1.06, 0.011, Verdict.GAIN), "mm")
    '+6.0 ± 1.1 % in effective area, 2 to 10 mm: a gain'
    """
    words = VERDICTS if is_gain else VERDICTS | UNLIKE
    return gettext(
        "{percent} in effective area, {lifts}: {verdict}",
        percent=percent(gain),
        lifts=lifts(gain, lift_unit),
        verdict=gettext("no verdict") if is_unlike else words[gain.verdict],
    )


def lifts(gain: AreaGain, unit: str) -> str:
    """The lifts that a gain is over, as "2 to 10 mm"."""
    if gain.high <= gain.low:
        return f"{_lift(gain.low, unit)} {pretty(unit)}"
    return gettext(
        "{low} to {high} {unit}",
        low=_lift(gain.low, unit),
        high=_lift(gain.high, unit),
        unit=pretty(unit),
    )


def reasons(comparison: AreaComparison, before_tests: int = 1) -> Iterator[str]:
    """Reasons why no verdict is given; none where one is."""
    yield from set_up_words.reasons(comparison.unlike)
    if not comparison.is_one_side:
        yield gettext(
            "Intake and exhaust are compared as a ratio: neither is a gain or loss of the other."
        )
    for side in sorted({index >= before_tests for index in comparison.unread}):
        yield (
            gettext(
                "The later test says nothing of its readings: enter one division of the scale as "
                "its resolution, or repeat a lift."
            )
            if side
            else gettext(
                "The earlier test says nothing of its readings: enter one division of the scale as "
                "its resolution, or repeat a lift."
            )
        )
    for name in sorted(comparison.half_stated):
        yield (
            gettext(
                "Only one of the tests states the uncertainty of its {inputs}: enter it "
                "for the other.",
                inputs=INPUTS[name],
            )
        )


def advice(reading: NextReading | None, lift_unit: str, before_tests: int = 1) -> str:
    """Advise the next reading, as "Repeat 4 mm once more to know."; empty where none helps."""
    if reading is None:
        return ""
    lift = f"{_lift(reading.lift, lift_unit)} {pretty(lift_unit)}"
    if reading.test < before_tests:
        return gettext(
            "One more reading of the earlier test at {lift} would have settled it.", lift=lift
        )
    if reading.settles_mean:
        return gettext("Repeat {lift} once more to know.", lift=lift)
    return gettext("Repeat {lift} once more to know about that lift.", lift=lift)


def _lift(si: float, unit: str) -> str:
    return f"{from_si(si, unit):.3f}".rstrip("0").rstrip(".")


def at_lifts(lifts: Sequence[object], unit: str, doubts: Iterable[Doubt]) -> list[str]:
    """Warnings about a test, each naming the lifts that it concerns as typed."""
    return [
        doubt.text
        if not doubt.places
        else gettext(
            "lift {lifts} {lift_unit}: {doubt}",
            lifts=listed(str(lifts[place]) for place in doubt.places),
            lift_unit=unit,
            doubt=doubt.text,
        )
        for doubt in doubts
    ]
