"""Set-ups of flow tests on record, with the comparisons across unlike ones that are confirmed."""

from __future__ import annotations

from dataclasses import replace

from shopflow.calc.set_up import Part, SetUp, Unlike, unlike_parts
from shopflow.models import BenchSession, SetUpConfirmation
from shopflow.testfile import SessionDocument


def of_test(row: BenchSession, document: SessionDocument) -> SetUp:
    """The set-up of a test on record, with the comparisons across others that are confirmed."""
    stated = replace(document.set_up, test=row.id)
    if not stated.stated:
        # A confirmation belongs to the test that states its set-up.
        return stated
    rows = row.set_up_confirmations
    return replace(
        stated,
        meant_with=frozenset(item.other_id for item in rows),
        same_as=frozenset(item.other_id for item in rows if item.is_same),
    )


def plain(row: BenchSession) -> SetUp:
    """Set-up as a test states it, without confirmations."""
    texts = {part: getattr(row, f"set_up_{part.value}").strip() for part in Part}
    return SetUp(tuple((part, text) for part, text in texts.items() if text), test=row.id)


def unlike(first: BenchSession, other: BenchSession) -> tuple[Unlike, ...]:
    """The parts that two tests do not state alike, confirmed or not."""
    return unlike_parts(plain(first), plain(other))


def confirmation(first: BenchSession, other: BenchSession) -> SetUpConfirmation | None:
    """The confirmation that two tests may be compared; None where there is none."""
    for row, of in ((first, other), (other, first)):
        for item in row.set_up_confirmations:
            if item.other_id == of.id:
                return item
    return None
