"""Tables whose rows go into the log: all but those named here, so that none is forgotten."""

from __future__ import annotations

from functools import cache

from sqlalchemy import Table

from shopflow.models import Base

EXEMPT = {
    "record_log": "the log itself, proved by its tree",
    "record_log_head": "the log itself",
    "record_log_anchor": "compared with the log, and with what was sent out",
    "counter": "the numbers on record tell its value; every job would change it",
    "name_stamp": "mark of a cache",
    "lookup_text": "search texts, made from other rows",
    "gain_case": "made from flow tests",
    "usual_value": "a default of a form",
    "idempotency_key": "of hours",
    "api_request": "of days",
    "sign_in": "of days",
    "sign_in_attempt": "of minutes",
    "wrong_code": "of minutes",
    "set_up_code": "of minutes",
    "open_test": "typed, and not saved as a test yet",
    "discarded_test": "never saved as a test",
    "certificate_draft": "not issued yet",
    "certificate_draft_session": "not issued yet",
    "outgoing_mail": "the sender notes each step of each delivery here",
    "webhook_delivery": "of days; the courier notes each try here",
}
"""Tables that are left out, each with the reason."""

UNPROVED = {
    "bench_session": frozenset({"mean_area", "peak_area", "gain_over_first"}),
    "customer_link": frozenset({"openings", "last_opened_at"}),
    "api_token": frozenset({"last_used_at"}),
    "webhook": frozenset(
        {"cursor", "claim", "lease_until", "next_try_at", "tries", "failing_since"}
    ),
}
"""Columns left out of a row's digest: results that the check calculates again from the readings,
and counts of use that change with each visit of a stranger or each try of a courier."""


@cache
def proved() -> tuple[Table, ...]:
    """The tables whose rows go into the log, those referred to first."""
    return tuple(table for table in Base.metadata.sorted_tables if table.name not in EXEMPT)


def is_proved(name: str) -> bool:
    """True where the rows of a table go into the log."""
    return name not in EXEMPT and name in Base.metadata.tables


@cache
def proved_columns(table: Table) -> tuple[str, ...]:
    """Columns that a row's digest covers, in the order it takes them."""
    left_out = UNPROVED.get(table.name, frozenset())
    return tuple(sorted(column.name for column in table.c if column.name not in left_out))


@cache
def key_columns(table: Table) -> tuple[str, ...]:
    """Columns that make a row's key."""
    return tuple(column.name for column in table.primary_key)
