"""Set-ups of flow tests in words, the same on screen, on paper and on the command line."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.calc.set_up import NONE, Part, SetUp, Unlike
from shopflow.texts import gettext, gettext_noop, lazy, translated
from shopflow.units import pretty_text

STATES = {
    Part.SPARK_PLUG: (gettext_noop("in"), gettext_noop("out")),
    Part.GUIDE: (gettext_noop("full length"), gettext_noop("cut back"), gettext_noop("removed")),
}
"""States of what belongs to the head itself, by its part; any other part may be "none"."""

NAMES = {
    Part.SLEEVE: lazy("bore sleeve"),
    Part.INLET: lazy("inlet"),
    Part.STUB: lazy("exhaust stub"),
    Part.MANIFOLD: lazy("manifold"),
    Part.CARBURETOR: lazy("carburetor"),
    Part.HEADER: lazy("header"),
    Part.SPARK_PLUG: lazy("spark plug"),
    Part.GUIDE: lazy("guide"),
}
NOT_STATED = lazy("not stated")
BOTH_UNSTATED = lazy(
    "Neither test states its set-up: this holds only if both stood on the same one."
)


def built_in(part: Part) -> tuple[str, ...]:
    """Answers that a part always has, beside the shop's fixtures."""
    return STATES.get(part, (NONE,))


def answer(part: Part, text: str) -> str:
    """A part's answer as people read it."""
    if not text:
        return str(NOT_STATED)
    return translated(text) if text in built_in(part) else pretty_text(text)


def in_words(set_up: SetUp) -> str:
    """A set-up in one line, as "bore sleeve 86 mm sleeve; manifold none"."""
    if not set_up.stated:
        return str(NOT_STATED)
    return "; ".join(_named(part, text) for part, text in set_up.stated)


def difference(unlike: Sequence[Unlike]) -> str:
    """The parts that differ, as "manifold: none, against M-2"."""
    return "; ".join(
        gettext(
            "{part}: {first}, against {other}",
            part=NAMES[item.part],
            first=answer(item.part, item.first),
            other=answer(item.part, item.other),
        )
        for item in unlike
    )


def reasons(unlike: Sequence[Unlike]) -> list[str]:
    """Reasons why tests on such set-ups get no verdict; none where nothing differs."""
    if not unlike:
        return []
    words = difference(unlike)
    if all(item.is_half_stated for item in unlike):
        return [
            gettext(
                "Only one of the tests states its set-up ({words}): there is no verdict until "
                "someone confirms it.",
                words=words,
            )
        ]
    return [
        gettext(
            "The set-ups are unlike ({words}): there is no verdict until someone confirms that "
            "this is meant.",
            words=words,
        )
    ]


def at_the_bench(unlike: Sequence[Unlike]) -> str:
    """Remark on a test being taken whose set-up is not that of the curve it is drawn over."""
    return gettext(
        "the set-up is not that of the earlier test ({words}): the curves differ by more than the "
        "head",
        words=difference(unlike),
    )


def confirmed(is_same: bool, reason: str, name: str, day: str) -> str:
    """A confirmation as a sentence; `words` are its reason."""
    if is_same:
        return gettext(
            "Confirmed as the same set-up by {name} on {day}: {reason}.",
            name=name,
            day=day,
            reason=reason,
        )
    return gettext(
        "Unlike set-ups, compared as meant: {reason} ({name}, {day}).",
        name=name,
        day=day,
        reason=reason,
    )


def _named(part: Part, text: str) -> str:
    return gettext("{part} {answer}", part=NAMES[part], answer=answer(part, text))
