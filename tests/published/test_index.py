"""The list of outside checks is long enough, honest, and the same as the marks it is made from."""

from __future__ import annotations

from tests.published.index import README, checks, table


def test_the_list_is_what_the_marks_say() -> None:
    assert README.read_text() == table(), "run python -m tests.published.index"


def test_there_are_at_least_forty_checks_with_a_source() -> None:
    names = {(check.place, check.name) for check in checks() if check.has_source}
    assert len(names) >= 40


def test_every_marked_check_asserts_and_names_its_source() -> None:
    for check in checks():
        assert check.asserts, check.name
        assert len(check.source) > 8, check.name
