"""Chambers of a head brought to the largest, with compression ratios by hand."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Visit
from shopflow.services.hand_off import chambers, notes
from shopflow.services.hand_off.engine_figures import engine_figures
from shopflow.services.measuring import measurements, usual_values
from shopflow.units import SI, Quantity
from tests import factories
from tests.factories import BY
from tests.optional import present

GASKET = {
    "gasket_bore": "87.5 mm", "gasket_thickness": "1.0 mm", "deck_clearance": "0.5 mm",
    "piston_dish": "5 cm3",
}  # fmt: skip


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head of four cylinders whose engine's sizes are not known."""
    visit = factories.create_planned_visit(db)
    visit.head.engine_type.bore = visit.head.engine_type.stroke = None
    return visit


def measure(db: Session, visit: Visit, cylinder: int, value: str, when: str = "after") -> None:
    kind = measurements.kind_by_code(db, "chamber volume")
    measurements.record(
        db, BY, visit, kind.id, {"value": value, "cylinder": cylinder, "when": when}
    )


def test_one_chamber_has_no_other_to_be_equal_to(db: Session, visit: Visit):
    assert chambers.of_head(db, visit) is None
    measure(db, visit, 1, "53.8 cm3")
    assert chambers.of_head(db, visit) is None


def test_each_chamber_says_how_much_larger_to_grind_it(db: Session, visit: Visit):
    for cylinder, volume in ((1, "53.8 cm3"), (2, "54.1 cc"), (3, "54.2 cm3")):
        measure(db, visit, cylinder, volume, "before")
    value = present(chambers.of_head(db, visit))
    # A burette does not tell 0.1 cm³: the second is left alone.
    assert (value.state, value.to_grind) == (
        "Largest 54.2 cm³, cylinder 3.", "Grind cylinder 1 0.4 cm³ larger.",
    )  # fmt: skip
    assert [item.grind for item in value.each] == ["0.4 cm³", "", ""]
    assert (value.spread, value.when) == ("0.4 cm³", "before")
    assert value.not_measured == "Not measured: cylinder 4."
    assert value.missing.startswith("Enter the bore, stroke, gasket bore, gasket thickness")
    measure(db, visit, 1, "54.0 cm3")
    measure(db, visit, 2, "54.0 cm3")
    after = present(chambers.of_head(db, visit))
    assert (after.when, after.state) == ("after", "Chambers match: all are 54.0 cm³.")
    measure(db, visit, 3, "54.2 cm3")
    after = present(chambers.of_head(db, visit))
    assert (after.state, after.to_grind) == ("Chambers match: 54.0 cm³ to 54.2 cm³.", "")


def test_a_slipped_decimal_point_has_nobody_grind_a_chamber(db: Session, visit: Visit):
    """4.79 typed for 47.9 is said; no volume to grind and no ratio follow until it is correct."""
    engine = visit.head.engine_type
    engine.bore = engine.stroke = Quantity("86.4 mm", 0.0864)
    for cylinder, volume in ((1, "47.8 cm3"), (2, "4.79 cm3"), (3, "48.2 cm3")):
        measure(db, visit, cylinder, volume)
    note = notes.write(db, BY, visit, {}, {}, [], GASKET)
    value = present(chambers.of_head(db, visit))
    assert value.in_doubt == (
        "Cylinder 2: 4.79 cm³ is far from the others (47.8 to 48.2 cm³). Typing error?",
    )
    assert (value.state, value.to_grind, value.equal_ratio) == ("", "", "")
    assert {(item.grind, item.ratio) for item in value.each} == {("", "")}
    ratio = next(row for row in engine_figures(db, note, SI) if row.name == "Compression ratio")
    assert (ratio.value, "far from the others" in ratio.working) == ("not calculated", True)
    measure(db, visit, 2, "47.9 cm3")
    value = present(chambers.of_head(db, visit))
    assert (value.in_doubt, value.to_grind) == (
        (), "Grind cylinder 1 0.4 cm³ larger, cylinder 2 0.3 cm³ larger.",
    )  # fmt: skip


def test_of_two_chambers_the_usual_one_tells_which_is_doubtful(db: Session, visit: Visit):
    kind = measurements.kind_by_code(db, "chamber volume")
    measure(db, visit, 1, "47.8 cm3")
    measure(db, visit, 2, "4.79 cm3")
    assert len(present(chambers.of_head(db, visit)).in_doubt) == 2
    usual_values.set_(db, BY, visit.head.engine_type, kind, {"value": "48 cm3"})
    assert present(chambers.of_head(db, visit)).in_doubt == (
        "Cylinder 2: 4.79 cm³ is far from the usual 48 cm³. Typing error?",
    )


@pytest.mark.source("(swept + clearance) ÷ clearance, by hand")
def test_compression_ratios_are_those_of_a_hand_calculation(db: Session, visit: Visit):
    """Bore and stroke 86.4 mm: 506.5603 + 50 + 13.9447 over 63.9447, and with 51 cm³."""
    measure(db, visit, 1, "50 cm3")
    measure(db, visit, 2, "51 cm3")
    notes.write(db, BY, visit, {}, {}, [], GASKET)
    value = present(chambers.of_head(db, visit))
    assert value.missing == "Enter the bore and stroke to show compression ratios."
    engine = visit.head.engine_type
    engine.bore = engine.stroke = Quantity("86.4 mm", 0.0864)
    value = present(chambers.of_head(db, visit))
    # 570.5050 ÷ 63.9447 = 8.9218; 571.5050 ÷ 64.9447 = 8.7999.
    assert [item.ratio for item in value.each] == ["8.92 : 1", "8.80 : 1"]
    assert (value.equal_ratio, value.ratio_spread) == ("8.80 : 1", "0.12")
    assert value.missing == ""
    notes.write(db, BY, visit, {}, {}, [], {**GASKET, "piston_dish": "-80 cm3"})
    assert "no volume above the piston" in present(chambers.of_head(db, visit)).missing
