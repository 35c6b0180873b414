"""A velocity map, the same on paper and on screen: the drawing, its results, and the sheet."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import pi

from shopflow.calc.traverse import HIGHEST_MACH
from shopflow.charts.velocity_map import Field, VelocityMap, layout_velocity_map
from shopflow.documents import Figure
from shopflow.documents.velocity_map import MapOfSection, VelocityMapSheet
from shopflow.papers.engine_section import figure_table
from shopflow.papers.figures import ChartFigure
from shopflow.papers.language import in_its_language
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, SMALLEST, SUBTITLE, gap, paper_title, para
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem, from_si, pretty, pretty_text

FAR = 0.05
"""Flow by the probe off the bench's by more than this wants a look; common practice, no source."""

DRAWN_WIDTH = 0.5
"""Of the sheet's width."""

ABOUT = (
    lazy(
        "Each velocity is that of the pressure difference of the probe, √(2Δp/ρ) with the air's "
        "expansion (ISO 3966:2020, from memory). Air drawn in is taken to come from rest in the "
        "room; blown out, to leave at the room's pressure. The probe is taken to point into the "
        "flow: swirl, and air that turns back, are not seen."
    ),
    lazy(
        "The readings are integrated along each arm over the area inside; between the last place "
        "and the wall velocity falls by the power of the distance that the last two places show. "
        "Each arm counts by its share of the area."
    ),
    lazy(
        "The energy factor α is the mean of the velocity cubed over the cube of its mean: 1 where "
        "it is the same all over, 2 in slow laminar flow through a round pipe, about 1.06 in a "
        "long smooth pipe (1/7 power law). The kinetic energy of an even flow is the least there "
        "is; α times it is the energy of this one."
    ),
    lazy("No uncertainty is stated: it hangs on the places, the angle and the probe."),
)


def drawing(content: MapOfSection, units: UnitSystem) -> VelocityMap:
    """The map in the reader's units."""
    unit = units.unit("velocity")
    return VelocityMap(
        title=gettext("Velocity over the section at {lift} of lift", lift=content.lift),
        description=gettext("Drawn to scale, seen along the flow: the darker the faster."),
        width=content.section.width,
        height=content.section.height,
        is_rectangle=content.section.is_rectangle,
        unit=gettext("Velocity, {unit}", unit=pretty(unit)),
        fields=list(_fields(content, unit)),
        places=0 if unit == "ft/s" else 1,
    )


def _fields(content: MapOfSection, unit: str) -> Iterator[Field]:
    section, results = content.section, content.results
    shares = section.shares
    ends = [
        shares[0] / 2.0,
        *((inner + outer) / 2.0 for inner, outer in pairwise(shares)),
        1.0,
    ]
    half = pi / section.arms
    middle = from_si(results.middle, unit)
    yield Field((0.0, 2.0 * pi), (0.0, ends[0]), (0.0, 0.0), middle, _words(0, 0, middle, unit))
    places = section.places()
    for ring, velocities in enumerate(results.velocities.tolist()):
        for arm, velocity in enumerate(velocities):
            turn = float(section.angles[arm])
            value = from_si(velocity, unit)
            yield Field(
                turn=(turn - half, turn + half),
                reach=(ends[ring], ends[ring + 1]),
                at=(float(places[ring, arm, 0]), float(places[ring, arm, 1])),
                value=value,
                words=_words(ring + 1, arm + 1, value, unit),
            )


def _words(ring: int, arm: int, value: float, unit: str) -> str:
    number = f"{value:.1f} {pretty(unit)}"
    if not ring:
        return gettext("middle: {velocity}", velocity=number)
    return gettext("ring {ring}, arm {arm}: {velocity}", ring=ring, arm=arm, velocity=number)


def figures(content: MapOfSection, units: UnitSystem) -> list[Figure]:
    """Mean velocity, factors and flow, each with its working."""
    results = content.results
    return [
        Figure(
            gettext("Mean velocity"),
            units.text(results.mean_velocity, "velocity"),
            gettext(
                "∫v dA ÷ A, A {area}; least {low}, greatest {high}",
                area=units.text(content.section.area, "port area"),
                low=units.text(float(min(results.middle, results.velocities.min())), "velocity"),
                high=units.text(float(max(results.middle, results.velocities.max())), "velocity"),
            ),
        ),
        Figure(
            gettext("Energy factor α"),
            f"{results.energy_factor:.3f}",
            gettext("∫v³ dA ÷ (V³ A), V the mean velocity"),
        ),
        Figure(
            gettext("Momentum factor β"),
            f"{results.momentum_factor:.3f}",
            gettext("∫v² dA ÷ (V² A)"),
        ),
        Figure(
            gettext("Kinetic energy"),
            units.text(results.energy_factor * content.energy, "power"),
            gettext(
                "energy factor × ½ ρ Q (Q ÷ A)² of the bench’s flow; {even} if it were even",
                even=units.text(content.energy, "power"),
            ),
        ),
        Figure(
            gettext("Flow by the probe"),
            units.text(results.flow, "flow"),
            gettext("∫ρ v dA ÷ density of the room’s air"),
        ),
        Figure(
            gettext("Against the bench"),
            f"{100.0 * content.flow_ratio:.1f} %",
            gettext(
                "flow by the probe ÷ {flow}, the bench’s at that lift and the test pressure",
                flow=units.text(content.bench_flow, "flow"),
            ),
        ),
    ]


def remarks(content: MapOfSection) -> list[str]:
    """Reasons to look again: a flow far from the bench's, and air too fast for the standard."""
    texts = []
    if abs(content.flow_ratio - 1.0) > FAR:
        texts.append(
            gettext(
                "The probe and the bench differ by more than {percent} % (common practice, no "
                "source): check the section’s size, the places, the probe’s angle and that the "
                "readings were made at this lift and test pressure.",
                percent=round(100.0 * FAR),
            )
        )
    if content.results.highest_mach > HIGHEST_MACH:
        texts.append(
            gettext(
                "The fastest place is at Mach {mach:.2f}: ISO 3966 goes up to {limit}.",
                mach=content.results.highest_mach,
                limit=HIGHEST_MACH,
            )
        )
    return texts


def titles(content: MapOfSection, units: UnitSystem) -> list[str]:
    """Headings of `rows`."""
    unit = pretty(units.unit("velocity"))
    arms = (
        gettext("{angle}°, {unit}", angle=f"{angle:.0f}", unit=unit)
        for angle in content.section.degrees
    )
    return [gettext("From the middle"), *arms]


def rows(content: MapOfSection, units: UnitSystem) -> list[list[str]]:
    """Velocity by ring and arm."""
    none = [""] * (content.section.arms - 1)
    first = [gettext("middle"), units.number(content.results.middle, "velocity"), *none]
    rings = zip(content.section.shares, content.results.velocities.tolist(), strict=True)
    return [
        first,
        *(
            [f"{100.0 * share:.1f} %", *(units.number(value, "velocity") for value in velocities)]
            for share, velocities in rings
        ),
    ]


@in_its_language
def velocity_map(sheet: VelocityMapSheet) -> bytes:
    """The sheet as PDF."""
    content, units = sheet.content, sheet.display.units
    title = gettext("Velocity map")
    frame = Sheet(sheet.shop, sheet.display, title, sheet.head.tag, sheet.made_at)
    width = frame.width
    about = [
        (gettext("Job"), sheet.job),
        (gettext("Flow test"), f"{translated(content.side)}: {content.test}"),
        (gettext("Lift"), pretty_text(content.lift)),
        (gettext("Section"), pretty_text(", ".join(filter(None, (content.place, content.size))))),
        (gettext("Calculated"), sheet.display.moment(sheet.made_at)),
    ]
    columns = [
        Column(heading, figures=number > 0) for number, heading in enumerate(titles(content, units))
    ]
    story = [
        paper_title(title),
        para(f"{sheet.head.engine_type}, {sheet.head.tag}", SUBTITLE),
        *facts(about, width),
        gap(8),
        ChartFigure(layout_velocity_map(drawing(content, units), DRAWN_WIDTH * width, SMALLEST)),
        figure_table(figures(content, units), width),
        *(para(text) for text in remarks(content)),
        gap(6),
        grid(columns, rows(content, units), width),
        *([para(content.notes)] if content.notes else []),
        gap(4),
        *(para(text, NOTE) for text in ABOUT),
    ]
    return frame.build(story)
