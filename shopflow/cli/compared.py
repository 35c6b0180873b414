"""A comparison of two session files in words: a gain, a difference of two ports, or a ratio."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow import sentences, set_up_words, units
from shopflow.calc.comparison import Comparison
from shopflow.calc.gain_source import gain_sources
from shopflow.calc.ratio import RatioPoint, ratio
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import Unlike
from shopflow.calc.settling import next_reading
from shopflow.calc.standard_flow import STANDARD_DENSITY
from shopflow.calc.verdicts import Verdict
from shopflow.cli.terminal import print_table
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext

_NAMES_OF_A_PORT = ("side", "cylinder", "head", "engine_type")


def may_gain(before: SessionDocument, after: SessionDocument) -> bool:
    """True where the names stated allow both tests to be of one port, as a gain requires."""
    names = [(getattr(before, name), getattr(after, name)) for name in _NAMES_OF_A_PORT]
    return all(name == other_name for name, other_name in names if name and other_name)


def json_verdict(verdict: Verdict, is_gain: bool) -> Verdict:
    """A verdict in JSON, which has no word for two ports of which one flows more."""
    is_called = verdict in (Verdict.GAIN, Verdict.LOSS)
    return Verdict.NOT_STATED if is_called and not is_gain else verdict


def print_verdict(
    document: SessionDocument,
    before: Reduction,
    after: Reduction,
    comparison: Comparison,
    is_gain: bool,
) -> None:
    """The mean's verdict as a sentence, what would settle it, and what the table holds."""
    areas, unit = comparison.areas, document.lift_unit
    if areas.mean is None:
        return
    print(f"{sentences.verdict(areas.mean, unit, is_gain, bool(areas.unlike))}.")
    for text in sentences.reasons(areas):
        print(text)
    advice = sentences.advice(next_reading([before], [after], areas), unit)
    if advice:
        print(advice)
    sources = gain_sources(before, after)
    if sources is not None and not areas.unlike:
        print(sentences.source_of_gain(areas.mean, sources.mean))
    print()
    print(
        gettext(
            "Flow: through the effective area at {pressure}, in air of {density} kg/m³, for both.",
            pressure=units.pretty_text(document.reference_pressure.text),
            density=STANDARD_DENSITY,
        )
    )
    print(
        gettext(
            "±: of the gain, for 95 %. Each lift's verdict allows for all lifts judged together."
        )
        if is_gain
        else gettext(
            "±: of the difference, for 95 %. Each lift's verdict allows for all lifts judged "
            "together."
        )
    )
    print(
        gettext(
            "By the root of the pressures, a convention, and each test's own air: mean flow "
            "{gain:+.1f} %.",
            gain=comparison.mean_gain_percent,
        )
    )


def print_set_ups(
    before: SessionDocument,
    after: SessionDocument,
    unlike: Sequence[Unlike],
    comparison: Comparison,
) -> None:
    """The set-ups of both tests where they bear on a gain; nothing where both are stated alike."""
    if before.side != after.side:
        return
    if not (before.set_up.stated or after.set_up.stated):
        print(set_up_words.BOTH_UNSTATED)
    elif unlike and not comparison.areas.unlike:
        words = set_up_words.difference(unlike)
        print(gettext("Unlike set-ups, compared as meant: {words}.", words=words))


def print_ratio(after: SessionDocument, first: Reduction, second: Reduction) -> None:
    """Exhaust over intake by effective area, whichever of the two came first."""
    is_exhaust_last = after.side == "exhaust"
    below, above = (first, second) if is_exhaust_last else (second, first)
    over = ratio(below, above)
    if over.mean is None:
        print(gettext("No lift in common."))
        return
    unit = after.lift_unit
    columns = (gettext("Lift"), gettext("Exhaust/intake"), "±"), (units.pretty(unit), "", "")
    print_table(list(columns), [_row(point, unit) for point in over.points])
    print()
    print(
        gettext("Exhaust over intake: {ratio:.3f} in mean effective area.", ratio=over.mean.ratio)
    )
    print(
        gettext(
            "Intake and exhaust are compared as a ratio: neither is a gain or loss of the other."
        )
    )


def _row(point: RatioPoint, unit: str) -> tuple[str, ...]:
    stated = point.expanded_uncertainty
    lift = f"{units.from_si(point.lift, unit):.4g}"
    return lift, f"{point.ratio:.3f}", "" if stated is None else f"{stated:.3f}"
