"""Contents of a document, stored as JSON and restored."""

from __future__ import annotations

import dataclasses
import json
import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import TypeVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow import documents
from shopflow.documents.snapshot import fingerprint, from_plain, to_plain
from shopflow.papers import flow_certificate, hand_off, work_order
from tests.pdf import samples as s

T = TypeVar("T")
BEFORE, AFTER = s.session(), s.session(stage="after port work", gain=1.06)
CERTIFICATE = s.certificate([BEFORE, AFTER], (s.gain(BEFORE, AFTER),))
ORDER = s.work_order([s.order_page(photos=(documents.Photo("Deck", b"\x00\xff\x10"),))])
NOTE = s.hand_off()


def through_json(value: T) -> T:
    """The value stored as JSON text and read back."""
    return from_plain(type(value), json.loads(json.dumps(to_plain(value))))


@pytest.mark.parametrize(
    "value", [CERTIFICATE, ORDER, NOTE], ids=lambda value: type(value).__name__
)
def test_a_paper_comes_back_as_it_was(value: object) -> None:
    assert through_json(value) == value


def test_what_comes_back_prints_the_same_bytes() -> None:
    assert flow_certificate(through_json(CERTIFICATE)) == flow_certificate(CERTIFICATE)
    assert work_order(through_json(ORDER)) == work_order(ORDER)
    assert hand_off(through_json(NOTE)) == hand_off(NOTE)


@dataclass(frozen=True)
class Everything:
    """One field of every kind a snapshot may hold."""

    text: str
    count: int
    size: float
    sure: bool
    money: Decimal
    day: date
    moment: datetime
    raw: bytes
    pair: tuple[str, int]
    many: tuple[documents.Figure, ...]
    maybe: datetime | None = None


# A zone's name does not come back, only its offset: enough for the moment.
MOMENTS = st.datetimes(timezones=st.sampled_from([UTC, timezone(timedelta(hours=-6))]))


# How long a busy machine takes to make up a value says nothing of it.
@pytest.mark.slow
@given(
    st.builds(
        Everything,
        size=st.floats(allow_nan=False, allow_infinity=False),
        money=st.decimals(allow_nan=False, allow_infinity=False),
        moment=MOMENTS,
        maybe=st.none() | MOMENTS,
    )
)
def test_every_kind_of_value_comes_back_as_it_was(value: Everything) -> None:
    assert through_json(value) == value
    assert fingerprint(through_json(value)) == fingerprint(value)


def test_floats_keep_every_digit() -> None:
    figure = dataclasses.replace(s.gain(BEFORE, AFTER), mean_gain_percent=math.pi / 3)
    assert through_json(figure).mean_gain_percent == math.pi / 3


def test_a_snapshot_older_than_a_field_takes_its_default() -> None:
    plain = to_plain(CERTIFICATE)
    del plain["url"], plain["display"]["date_format"]
    assert from_plain(documents.FlowCertificate, plain) == CERTIFICATE


def test_nothing_unknown_is_dropped_silently() -> None:
    with pytest.raises(ValueError, match="Party has no colour"):
        from_plain(documents.Party, {"name": "Mara Oslund", "colour": "red"})


def test_what_has_no_place_in_a_snapshot_is_refused() -> None:
    with pytest.raises(TypeError, match="set has no place"):
        to_plain({"a"})


def test_the_verification_code_changes_with_any_figure_but_not_with_the_address() -> None:
    code = CERTIFICATE.verification_code
    assert (
        dataclasses.replace(CERTIFICATE, url="https://shop.test/verify").verification_code == code
    )
    point = dataclasses.replace(CERTIFICATE.sessions[0].points[3], runs=3)
    points = (*CERTIFICATE.sessions[0].points[:3], point, *CERTIFICATE.sessions[0].points[4:])
    session = dataclasses.replace(CERTIFICATE.sessions[0], points=points)
    changed = dataclasses.replace(CERTIFICATE, sessions=(session, CERTIFICATE.sessions[1]))
    assert changed.verification_code != code
    assert through_json(CERTIFICATE).verification_code == code
