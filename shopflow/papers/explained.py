"""The second part of a certificate: how its numbers are made."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from shopflow.documents import Explained
from shopflow.papers.style import NOTE, SMALL, heading, para, subheading
from shopflow.texts import gettext


def explained_block(figures: Sequence[Explained]) -> list[Flowable]:
    """The second part of a certificate; nothing where it was issued without one."""
    if not figures:
        return []
    story = heading(gettext("Second part: how the numbers are made"))
    for item in figures:
        story += [subheading(item.name), para(item.means, SMALL)]
        story += [para(item.formula, NOTE)] if item.formula else []
        text = gettext("Limits: {limits}", limits=item.does_not_say)
        if item.source:
            text = gettext(
                "Limits: {limits} Source: {source}.",
                limits=item.does_not_say,
                source=item.source,
            )
        story.append(para(text, SMALL))
    return list(story)
