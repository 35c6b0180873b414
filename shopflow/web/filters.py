"""All formatting for the screen, as filters and functions that templates name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from functools import wraps
from typing import Any

from flask import Flask
from jinja2 import pass_context
from jinja2.runtime import Context

from shopflow import fonts, sentences, set_up_words, texts
from shopflow.calc import results
from shopflow.calc.part_cost import PartAt, PartCost
from shopflow.documents.amounts import written
from shopflow.services.analysis.comparisons import Difference
from shopflow.services.bench.summaries import flow_shown
from shopflow.texts import gettext
from shopflow.units import Quantity, pretty, pretty_text
from shopflow.web.context import current_shop, local_zone, system

NONE = "–"


def init_app(app: Flask) -> None:
    """Register the filters with the templates."""
    for filter_ in _FILTERS:
        app.add_template_filter(_at_render(filter_), filter_.__name__)
    app.add_template_filter(_at_render(bytes_), "bytes")
    app.add_template_global(results.of_table, "results_of_table")
    app.add_template_global(sentences.sources_of)
    app.add_template_global(sentences.forecast_range)
    app.add_template_global(sentences.forecast_source)
    app.add_template_global(sentences.log_gain)
    app.add_template_global(sentences.FORECAST_CAVEAT, "forecast_caveat")


def _at_render(filter_: Callable[..., str]) -> Callable[..., str]:
    """The filter, evaluated whenever a page is rendered.

    Jinja evaluates a filter of a constant once, when it compiles the template; only one that takes
    the context is left for later. Units, currency and zone are settings that change.
    """

    @pass_context
    @wraps(filter_)
    def evaluated(context: Context, *values: Any, **options: Any) -> str:
        return filter_(*values, **options)

    return evaluated


def figure(si: float | None, kind: str) -> str:
    """An SI value in the shop's unit for this kind of figure: `x|figure("flow")`, "212.4 cfm"."""
    return system().text(si, kind)


def flow_of(area: float, side: str) -> str:
    """An effective area (m2) as the flow it is shown as: `x|flow_of("intake")`, "212.4 cfm"."""
    return system().text(flow_shown(area, side), "flow")


def flow_number_of(area: float, side: str) -> str:
    """As `flow_of`, without the unit."""
    return system().number(flow_shown(area, side), "flow")


def number(si: float | None, kind: str) -> str:
    """As `figure`, without the unit: for a table whose heading names it."""
    return system().number(si, kind)


def unit(kind: str) -> str:
    """The shop's unit for a kind of figure: `"flow"|unit`, "cfm"."""
    return pretty(system().unit(kind))


def unit_symbol(symbol: str) -> str:
    """A unit as it is printed: "mm2" as "mm²"."""
    return pretty(symbol)


def typed(quantity: Quantity | None) -> str:
    """A quantity as it was typed, its unit well set: "1792 cm³"."""
    if quantity is None:
        return NONE
    return pretty_text(f"{quantity.number} {quantity.unit}") if quantity.unit else quantity.text


def money(amount: Decimal | None) -> str:
    """An amount in the shop's currency: "$1,250.00"."""
    if amount is None:
        return NONE
    shop = current_shop()
    return written(amount, shop.currency if shop else "USD")


def price(amount: Decimal | None) -> str:
    """A price as `money` shows it; a blank one is said to be."""
    return gettext("not priced") if amount is None else money(amount)


def percent(value: float | Decimal | None, places: int = 1) -> str:
    """A gain in percent, always with its sign: "+6.2 %"."""
    if value is None:
        return NONE
    return f"{value:+.{places}f} %".replace("-", "−")


def day(value: date | datetime | None) -> str:
    """A date in the order of the shop's language: "Mar 5, 2026"; of a moment, the shop's date."""
    if value is None:
        return NONE
    if isinstance(value, datetime):
        value = value.astimezone(local_zone())
    return texts.day(value)


def month_day(value: date) -> str:
    """A date whose year is plain from where it stands: "Mar 5"."""
    return texts.day(value, year=False)


def clock(value: datetime | None) -> str:
    """The time of day in the shop: "14:05"."""
    return NONE if value is None else f"{value.astimezone(local_zone()):%H:%M}"


def moment(value: datetime | None) -> str:
    """A date and time in the shop's zone: "Mar 5, 2026, 14:05"."""
    return NONE if value is None else f"{day(value)}, {clock(value)}"


def plain(value: object) -> str:
    """Any other value as words, a dash for nothing."""
    if isinstance(value, Enum):
        value = texts.translated(value.value)
    return str(value) if value not in (None, "") else NONE


def language_name(language: str) -> str:
    """The name of a language: "English (United Kingdom)"."""
    return texts.LANGUAGES[language]


def hours(minutes: int | None) -> str:
    """Minutes of work in hours: "12.5 h"."""
    return NONE if minutes is None else f"{minutes / 60:.1f} h".replace(".0 h", " h")


def sentence(words: str) -> str:
    """Words with their first letter raised, the rest left alone."""
    return f"{words[:1].upper()}{words[1:]}"


def bytes_(count: int) -> str:
    """A file's size: "1.2 MB"."""
    return f"{count / 1e6:.1f} MB" if count >= 1e6 else f"{max(count // 1000, 1)} kB"


def undrawn(text: str) -> str:
    """The letters of a text that papers cannot draw as written: mostly none."""
    return fonts.lacking(text) + fonts.unshaped(text)


def verdict(difference: Difference) -> str:
    """The verdict on a comparison's mean: "+6.0 ± 1.1 % in effective area, 2 to 10 mm: a gain"."""
    mean = difference.areas.mean
    if mean is None:
        return ""
    return sentences.verdict(
        mean, system().unit("lift"), difference.is_gain, bool(difference.areas.unlike)
    ).replace("-", "−")


def source_of_gain(difference: Difference) -> str:
    """Parts of a comparison's mean from the opening and from all else."""
    mean, sources = difference.areas.mean, difference.sources
    return "" if mean is None or sources is None else sentences.source_of_gain(mean, sources.mean)


def section_change(difference: Difference) -> str:
    """The change of the port's least section; empty where it was not measured for both tests."""
    if difference.sections is None:
        return ""
    before, after = difference.sections
    then, now = (system().text(area, "port area") for area in difference.sections)
    return sentences.section_change(then, now, after / before - 1.0)


def advice(difference: Difference) -> str:
    """Advice on the next reading; empty where there is none."""
    return sentences.advice(difference.next_reading, system().unit("lift"))


def part_name(cost: PartCost) -> str:
    """Heading of what an attached part costs, as "What the manifold costs: M-2"."""
    return gettext(
        "What the {part} costs: {name}",
        part=set_up_words.NAMES[cost.part],
        name=set_up_words.answer(cost.part, cost.text),
    )


def cost_limits(point: PartAt) -> str:
    """Limits of an attached part's own area for 95 %, as "610 to 702"."""
    low, high = (
        None if limit is None else system().number(limit, "port area")
        for limit in (point.low, point.high)
    )
    if low is None:
        return NONE
    if high is None:
        return gettext("{low} or more", low=low)
    return gettext("{low} to {high}", low=low, high=high)


_FILTERS = (
    advice,
    sentences.called,
    clock,
    cost_limits,
    language_name,
    day,
    figure,
    flow_number_of,
    flow_of,
    hours,
    moment,
    money,
    month_day,
    number,
    part_name,
    percent,
    plain,
    price,
    sentence,
    section_change,
    source_of_gain,
    texts.translated,
    typed,
    undrawn,
    unit,
    unit_symbol,
    verdict,
)
