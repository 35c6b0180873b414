"""Question in a search: the facts in a text, and the rest: names, numbers and words of notes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement
from sqlalchemy.orm import Session

from shopflow.models.folding import bare, plain
from shopflow.services.matching import name_index
from shopflow.services.search import measured_facts
from shopflow.services.search.asked_facts import READERS, SIDE, Fact, as_side, side_tested, steps

LONGEST_NAME = 8
"""Words of a name that are looked for in a text at most."""

FILLERS = frozenset({
    "a", "an", "and", "any", "engine", "engines", "for", "head", "heads", "in", "job", "jobs",
    "of", "on", "or", "the", "to", "valve", "valves", "with",
})  # fmt: skip
"""Words that say nothing beside a fact."""

_QUOTED = re.compile(r"(?<!\d)[\"“][^\"“”]+[\"”]")

Span = tuple[int, int]
"""Start and end of a stretch of a text."""


@dataclass(frozen=True)
class Question:
    """The facts a text asks for, and the rest of it."""

    facts: tuple[Fact, ...]
    rest: str

    @property
    def clauses(self) -> list[ColumnElement[bool]]:
        """A clause of LookupText for each fact."""
        return [fact.clause for fact in self.facts]

    @property
    def words(self) -> list[str]:
        """The facts in words."""
        return [fact.words for fact in self.facts]


def ask(db: Session, text: str) -> Question:
    """Read the facts out of a text; recorded names and text in quotation marks are no facts."""
    readers = (*measured_facts.readers(db, text), *READERS, *steps(db))
    if not any(pattern.search(text) for pattern in (SIDE, *(pattern for pattern, _ in readers))):
        return Question((), text)
    protected = [*(match.span() for match in _QUOTED.finditer(text)), *_names(db, text)]
    side = next((as_side(match[1]) for match in _matches(SIDE, text, protected)), "")
    facts: dict[str, Fact] = {}
    spans: list[Span] = []
    for pattern, reader in readers:
        for match in _matches(pattern, text, [*protected, *spans]):
            spans.append(match.span())
            fact = reader(match, side)
            facts.setdefault(fact.words, fact)
    spans += [match.span() for match in _matches(SIDE, text, [*protected, *spans])]
    if side and not any(fact.side == side for fact in facts.values()):
        facts[side] = side_tested(side)
    return Question(tuple(facts.values()), _rest(text, spans, FILLERS if facts else frozenset()))


def _matches(
    pattern: re.Pattern[str], text: str, passed: Sequence[Span]
) -> Iterator[re.Match[str]]:
    """Matches that touch none of the stretches passed over."""
    for match in pattern.finditer(text):
        first, last = match.span()
        if not any(first < end and start < last for start, end in passed):
            yield match


def _names(db: Session, text: str) -> Iterator[Span]:
    """Stretches of a text that are an engine's name on record, or a customer's of several words."""
    words = [match.span() for match in re.finditer(r"\S+", text)]
    engines, customers = name_index.engine_types(db).exact, name_index.customers(db).exact
    for first, (start, _) in enumerate(words):
        for last, (_, end) in enumerate(words[first : first + LONGEST_NAME], start=first):
            name = bare(plain(text[start:end]))
            if name in engines or (last > first and name in customers):
                yield start, end


def _rest(text: str, spans: Sequence[Span], fillers: frozenset[str]) -> str:
    """A text without these spans, without fillers and quotation marks."""
    end, pieces = 0, []
    for first, last in sorted(spans):
        pieces.append(text[end:first])
        end = last
    left = _QUOTED.sub(lambda match: match[0][1:-1], " ".join([*pieces, text[end:]]))
    if not spans:
        return left
    words = (word.strip(",;:.") for word in left.split())
    return " ".join(word for word in words if word and word.lower() not in fillers)
