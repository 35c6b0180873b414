"""Chambers of a head on the hand-off sheet."""

from __future__ import annotations

from reportlab.platypus import Flowable

from shopflow.documents import Chambers
from shopflow.papers.style import NOTE, STRONG, heading, para
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext


def chambers_story(chambers: Chambers, width: float) -> list[Flowable]:
    """Each chamber and its compression ratio: the assembler grinds nothing."""
    columns = [
        Column(gettext("Chamber"), share=1.0),
        Column(gettext("Volume"), share=1.0),
        Column(gettext("Compression ratio"), share=1.0),
    ]
    rows = [[chamber.where, chamber.volume, chamber.ratio or "–"] for chamber in chambers.each]
    told = [*filter(None, (chambers.state,)), *chambers.in_doubt]
    return [
        *heading(gettext("Chambers")),
        *(para(text, STRONG) for text in told),
        grid(columns, rows, width, 1.8),
        *(para(text, NOTE) for text in chamber_notes(chambers)),
    ]


def chamber_notes(chambers: Chambers) -> list[str]:
    """Sentences under the chambers: spread, ratio once equal, what is missing."""
    if chambers.in_doubt:
        return [gettext("Correct the volume to compare the chambers.")]
    when = gettext("before the work") if chambers.when == "before" else gettext("after the work")
    notes = [gettext("Spread {spread}, measured {when}.", spread=chambers.spread, when=when)]
    if chambers.equal_ratio and chambers.to_grind:
        notes.append(
            gettext(
                "Compression ratios differ by {spread}; with equal chambers every cylinder has "
                "{ratio}.",
                spread=chambers.ratio_spread,
                ratio=chambers.equal_ratio,
            )
        )
    return [*notes, *filter(None, (chambers.missing, chambers.not_measured))]
