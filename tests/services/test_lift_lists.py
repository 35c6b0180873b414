"""Saved lists of lifts, on both databases."""

from __future__ import annotations

import pytest

from shopflow.errors import ValidationError
from shopflow.services.registry import lift_lists
from tests.factories import BY

VALUES = {"name": "Small valves", "unit": "in", "lifts": "0.050 0.100\n0.150; 0.20"}


def test_lifts_are_kept_as_typed(db):
    row = lift_lists.create(db, BY, VALUES)
    assert row.lifts == ["0.050", "0.100", "0.150", "0.20"]
    lift_lists.change(db, BY, row, {**VALUES, "unit": "mm", "lifts": "1 2 3.5"})
    db.expire_all()
    assert [
        (lift_list.name, lift_list.unit, lift_list.lifts) for lift_list in lift_lists.list_all(db)
    ] == [("Small valves", "mm", ["1", "2", "3.5"])]
    lift_lists.remove(db, BY, row)
    assert lift_lists.list_all(db) == []


@pytest.mark.parametrize(
    ("key", "value", "says"),
    [
        ("name", " ", "required: enter a value"),
        ("unit", "kg", "one of"),
        ("lifts", "", "at least one"),
        ("lifts", "1 2 2", "'2' is not above"),
        ("lifts", "2 1", "'1' is not above"),
        ("lifts", "1 two", "not a number"),
        ("lifts", "1,5", "decimals with a point"),
        ("lifts", "-1 2", "not a lift"),
        ("lifts", "nan", "not a lift"),
        ("lifts", " ".join(map(str, range(1, 62))), "at most 60"),
    ],
)
def test_what_is_no_list_is_said_at_its_field(db, key, value, says):
    with pytest.raises(ValidationError) as caught:
        lift_lists.create(db, BY, {**VALUES, key: value})
    (fault,) = caught.value.faults
    assert fault.key == key
    assert says in fault.message


def test_a_name_is_given_once(db):
    row = lift_lists.create(db, BY, VALUES)
    with pytest.raises(ValidationError, match="this name is taken"):
        lift_lists.create(db, BY, VALUES)
    lift_lists.change(db, BY, row, VALUES)
