"""A swirl or tumble test, the same on paper and on screen: chart, results, ratios and notes."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.calc.swirl_results import BY_LIFT
from shopflow.calc.swirl_results import SwirlResult as Row
from shopflow.charts import Axis, Chart, Series, layout
from shopflow.documents import Display, Figure
from shopflow.documents.swirl import SwirlPoint, SwirlResult, SwirlSheet
from shopflow.papers.engine_section import figure_table
from shopflow.papers.figures import ChartFigure
from shopflow.papers.language import in_its_language
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import NOTE, SMALLEST, SUBTITLE, gap, heading, paper_title, para
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext, lazy, translated
from shopflow.units import UnitSystem, from_si, pretty, pretty_text

CHART_HEIGHT = 190.0

INDICATED_ONLY = lazy(
    "The efficiency of the meter is not stated: coefficient and ratio are as the meter indicates "
    "them. The air turns faster than that, by how much is not known."
)

ABOUT = (
    lazy(
        "The coefficient N is 8T ÷ (m V₀ B) of a torque meter and ωB ÷ V₀ of a vane wheel: T the "
        "torque, ω the speed, m the mass flow, B the bore of the meter’s tube, V₀ the velocity of "
        "the ideal flow at the test pressure with the air’s expansion (Heywood 1988, section "
        "8.3.2, from memory). Air that turns as a solid body has the same N by both."
    ),
    lazy(
        "A meter shows less than there is: 0.70 to 0.93 of it by impulse (torque) meters, 0.32 to "
        "0.45 by vane wheels, and no factor holds for all (Heim and Ghandhi, Proc. IMechE D 225 "
        "(2011) 1067, abstract). The efficiency is that of a calibration with a known swirl."
    ),
    lazy(
        "The mass flow is that of the flow test’s effective area at the test pressure of the "
        "meter’s readings. It holds if the flow test was made with the meter and its adapter in "
        "place."
    ),
    lazy(
        "Ratio over the cam: rotation of the charge over that of the crankshaft, "
        "R = π/4 B S ∫N A dα ÷ (∫A dα)² from opening to closing of the intake valve, for a "
        "constant pressure drop; A the effective area, S the stroke, α the crank angle (engine "
        "textbooks, as Heywood 1988, from memory; derived afresh)."
    ),
    lazy(
        "Ratio by piston speed: R = 1/π ∫N B S ÷ (4A) × (c ÷ C)² dα from top to bottom dead "
        "center, c the piston’s speed and C its mean (Thien, Österreichische "
        "Ingenieur-Zeitschrift 8 (1965) 291, from memory; derived afresh). The two ratios differ: "
        "compare like with like. Neither knows of friction, compression or the chamber."
    ),
    lazy(
        "Between lifts N × A is the monotone curve through the lifts read and through nothing at "
        "no lift; above the last lift read, N is held."
    ),
    lazy(
        "A tumble adapter turns air that tumbles about an axis across the bore into the meter. "
        "What it shows depends on its shape and distance, and there is no standard of it (Stone "
        "and Ladommatos, SAE 920642, 1992, abstract): compare tests on one adapter only."
    ),
    lazy(
        "More swirl or tumble costs flow as a rule: read the coefficient beside the discharge "
        "coefficient. A head 1 mm off the bore moved swirl by 14 % in a published trial, and flow "
        "hardly (DOI 10.13949/j.cnki.nrjgc.2020.04.009, abstract): locate the head by its dowels."
    ),
    lazy(
        "Uncertainty for 95 %: scatter and scale of the meter, its efficiency, the flow test’s "
        "area, test pressure, density and lift, those that lifts share in full (JCGM 102:2011). "
        "Bore, adapter and cam are taken as exact."
    ),
)


def name(content: SwirlResult) -> str:
    """Swirl or tumble, as a title begins with it."""
    return translated(content.motion).capitalize()


def chart(content: SwirlResult, units: UnitSystem) -> Chart:
    """Coefficient of discharge beside that of swirl or tumble, by lift."""
    length = units.unit("lift")
    lifts = [from_si(point.lift, length) for point in content.points]
    best = [point.best for point in content.points]
    margins = [margin for _, margin in best if margin is not None]
    words = translated(content.motion)
    label = (
        gettext("{motion} coefficient", motion=words.capitalize())
        if content.is_corrected
        else gettext("{motion} coefficient, indicated", motion=words.capitalize())
    )
    return Chart(
        title=gettext("Flow and {motion} by lift", motion=words),
        x=Axis(gettext("Lift"), pretty(length)),
        y=Axis(gettext("Coefficient")),
        series=[
            Series(
                label,
                lifts,
                [value for value, _ in best],
                margins if len(margins) == len(lifts) else None,
            ),
            Series(
                gettext("Discharge coefficient (head area)"),
                lifts,
                [point.cd_head for point in content.points],
                as_received=True,
            ),
        ],
        places=3,
    )


def figures(content: SwirlResult, units: UnitSystem) -> list[Figure]:
    """Ratios through each cam, and where the air turns back."""
    rows: list[Figure] = []
    kind = "" if content.is_corrected else gettext(", indicated")
    motion = translated(content.motion).capitalize()
    for ratio in content.ratios:
        beyond = (
            gettext("; {share} % of the open period above the last lift read",
                    share=round(100 * ratio.share_beyond))
            if ratio.share_beyond > 0.005
            else ""
        )  # fmt: skip
        rows.append(
            Figure(
                gettext("{motion} ratio over the cam{kind}", motion=motion, kind=kind),
                with_margin(ratio.over_cam, ratio.over_cam_margin, 2),
                gettext(
                    "{cam}: π/4 B S ∫N A dα ÷ (∫A dα)², opening to closing{beyond}",
                    cam=ratio.cam,
                    beyond=beyond,
                ),
            )
        )
        if ratio.by_piston is not None:
            rows.append(
                Figure(
                    gettext("{motion} ratio by piston speed{kind}", motion=motion, kind=kind),
                    with_margin(ratio.by_piston, ratio.by_piston_margin, 2),
                    gettext(
                        "{cam}: 1/π ∫N B S ÷ (4A) × (c ÷ C)² dα, top to bottom dead center",
                        cam=ratio.cam,
                    ),
                )
            )
    if content.reverses_below is not None:
        rows.append(
            Figure(
                gettext("Turns back below"),
                units.text(content.reverses_below, "lift"),
                gettext("lift at which the coefficient crosses zero, on a straight line"),
            )
        )
    return rows


def remarks(content: SwirlResult) -> list[str]:
    """Cautions on what the results can say."""
    texts = []
    if not content.is_corrected:
        texts.append(str(INDICATED_ONLY))
    elif not content.efficiency_uncertainty:
        texts.append(
            gettext(
                "The uncertainty of the meter’s efficiency is not stated: the coefficient has none."
            )
        )
    if content.is_outside_published:
        texts.append(
            gettext(
                "The efficiency of {efficiency} lies outside what is published for this kind of "
                "meter ({range}): check how it was determined.",
                efficiency=content.efficiency,
                range="0.70–0.93" if content.is_torque else "0.32–0.45",
            )
        )
    if not content.meter:
        texts.append(
            gettext("The meter has no name: a comparison takes it for another one each time.")
        )
    return texts


def about_test(content: SwirlResult, units: UnitSystem) -> list[tuple[str, str]]:
    """Conditions of a test by name."""
    seen = (
        gettext("{rotation}, seen from above the head", rotation=translated(content.rotation))
        if content.motion == "swirl"
        else gettext(
            "{rotation}, seen along the crankshaft with the intake on the left",
            rotation=translated(content.rotation),
        )
    )
    efficiency = gettext("not stated")
    if content.efficiency:
        efficiency = content.efficiency
        if content.efficiency_uncertainty:
            efficiency += f" ± {content.efficiency_uncertainty} % (k = 2)"
    meter = ", ".join(filter(None, (translated(content.meter_kind), content.meter)))
    return [
        (gettext("Meter"), meter),
        (gettext("Efficiency"), efficiency),
        (gettext("Bore of its tube"), pretty_text(content.bore)),
        (gettext("Adapter"), pretty_text(content.adapter) or gettext("not stated")),
        (gettext("Positive sense"), seen),
        (gettext("Test pressure"), pretty_text(content.pressure)),
        (gettext("Ideal velocity V₀"), units.text(content.velocity, "velocity")),
    ]


def shown(content: SwirlResult) -> list[Row]:
    """Results that a table of this test has columns for."""
    return [row for row in BY_LIFT if row.key != "coefficient" or content.is_corrected]


def formulas(content: SwirlResult) -> list[tuple[str, str]]:
    """Each result by lift with its formula and the source of it."""
    return [
        (str(row.name), gettext("{formula}; {source}", formula=row.formula, source=row.source))
        for row in shown(content)
    ]


def titles(content: SwirlResult, units: UnitSystem) -> list[str]:
    """Headings of `rows`, with their units."""
    return [_title(row, units) for row in shown(content)]


def rows(content: SwirlResult, units: UnitSystem) -> list[list[str]]:
    """Results by lift."""
    return [[_cell(row, point, units) for row in shown(content)] for point in content.points]


def _title(row: Row, units: UnitSystem) -> str:
    unit = units.unit(row.kind) if row.kind else row.unit
    return f"{row.name}, {pretty(unit)}" if unit else str(row.name)


def _cell(row: Row, point: SwirlPoint, units: UnitSystem) -> str:
    value = getattr(point, row.key)
    if row.kind:
        return units.number(value, row.kind)
    margin = getattr(point, f"{row.key}_margin", None)
    return with_margin(row.scale * value, margin, row.decimals)


def with_margin(value: float, margin: float | None, decimals: int) -> str:
    """A number with its uncertainty, as "0.412 ± 0.031"."""
    number = f"{value:.{decimals}f}".replace("-", "−")
    return number if margin is None else f"{number} ± {margin:.{decimals}f}"


def swirl_blocks(contents: Sequence[SwirlResult], display: Display, width: float) -> list[Flowable]:
    """A certificate's sections on swirl and tumble tests, with one set of notes."""
    story: list[Flowable] = []
    for content in contents:
        story += [
            CondPageBreak(CHART_HEIGHT + 60 * mm),
            *heading(gettext("{motion}: {test}", motion=name(content), test=content.test)),
            *_body(content, display.units, width),
        ]
    return [*story, *(para(text, NOTE) for text in ABOUT)] if contents else []


def _body(content: SwirlResult, units: UnitSystem, width: float) -> list[Flowable]:
    columns = [Column(title, figures=True) for title in titles(content, units)]
    drawn = layout(chart(content, units), width, CHART_HEIGHT, SMALLEST)
    ratios = figures(content, units)
    return [
        *facts(about_test(content, units), width),
        gap(6),
        ChartFigure(drawn),
        *([figure_table(ratios, width), gap(6)] if ratios else []),
        grid(columns, rows(content, units), width),
        gap(4),
        *(para(text, NOTE) for text in remarks(content)),
        *([para(content.notes)] if content.notes else []),
        gap(4),
    ]


@in_its_language
def swirl_sheet(sheet: SwirlSheet) -> bytes:
    """The sheet as PDF."""
    content, units = sheet.content, sheet.display.units
    title = gettext("{motion} test", motion=name(content))
    frame = Sheet(sheet.shop, sheet.display, title, sheet.head.tag, sheet.made_at)
    about: Sequence[tuple[str, str]] = [
        (gettext("Job"), sheet.job),
        (gettext("Flow test"), content.test),
        (gettext("Calculated"), sheet.display.moment(sheet.made_at)),
    ]
    story = [
        paper_title(title),
        para(f"{sheet.head.engine_type}, {sheet.head.tag}", SUBTITLE),
        *facts(about, frame.width),
        *_body(content, units, frame.width),
        *(para(text, NOTE) for text in ABOUT),
    ]
    return frame.build(story)
