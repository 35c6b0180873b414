"""A head's sheet: filled cell by cell, judged at once, told from the last visit's."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import ConflictError, NotFoundError, ValidationError
from shopflow.models import Operation, Visit, When
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.measuring import (
    kinds,
    limit_checks,
    limits,
    measurements,
    sheet_cells,
    sheets,
    usual_values,
)
from shopflow.services.routing import operation_kinds, operations, work_orders
from shopflow.services.shop import built_in_kinds
from shopflow.unit_choices import units_chosen
from shopflow.units import SI, US_CUSTOMARY, UnitSystem
from tests import factories
from tests.factories import BY
from tests.services.expecting import faults_at

HEIGHTS = "installed height"


def a_sheet(
    db: Session,
    visit: Visit,
    *codes: str,
    step: Operation | None = None,
    units: UnitSystem = US_CUSTOMARY,
) -> sheet_cells.Sheet:
    chosen = sheets.usual_columns(db, visit, step, codes)
    return sheets.sheet(db, visit, step, chosen, sheets.Units(units))


def fill(
    db: Session, visit: Visit, cell: sheet_cells.Cell, typed: str, *, step: Operation | None = None,
    by: Actor = BY, seen: str | None = None,
) -> list[sheet_cells.Cell]:  # fmt: skip
    seen = cell.text if seen is None else seen
    return sheets.fill(db, by, visit, step, cell.name, typed, seen, sheets.Units(US_CUSTOMARY))


def come_back(db: Session, visit: Visit) -> Visit:
    """A visit's head, booked in again."""
    form = booking.BookIn(
        customer_id=visit.job.customer_id, engine_type_id=visit.head.engine_type_id,
        heads=[{"head_id": visit.head_id}], job={},
    )  # fmt: skip
    return booking.book_in(db, BY, form).heads[0]


def cells_after(sheet: sheet_cells.Sheet) -> list[sheet_cells.Cell]:
    return [cell for cell in sheet.cells.values() if cell.when is When.AFTER]


def test_a_sheet_has_a_row_for_every_place_and_a_cell_before_and_after(db: Session):
    visit = factories.create_planned_visit(db)
    sheet = a_sheet(db, visit, HEIGHTS, "guide clearance", "chamber volume", "deck flatness",
                    "port volume")  # fmt: skip
    shape = {table.title: (len(table.rows), len(table.rows[0][1])) for table in sheet.tables}
    assert shape == {"Valves": (16, 4), "Ports": (8, 2), "Cylinders": (4, 2), "Head": (1, 2)}
    first = next(iter(sheet.cells.values()))
    assert first.label == "Guide clearance, cylinder 1, front intake guide, before the work"
    assert {cell.state for cell in sheet.cells.values()} == {"missing"}


def test_a_bare_number_is_in_the_columns_unit_and_judged_at_once(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, HEIGHTS)
    limit = {"lower": "1.790 in", "upper": "1.810 in"}
    limits.set_(db, BY, visit.head.engine_type, kind, "intake", limit)
    first, second, *_ = cells_after(a_sheet(db, visit, HEIGHTS))
    assert (first.limits, first.unit) == ("1.790 to 1.810", "in")
    (now,) = fill(db, visit, first, "1.811")
    assert (now.text, now.state) == ("1.811", "out")
    (now,) = fill(db, visit, now, " 1.810 ")
    assert (now.text, now.state) == ("1.810", "in")
    (row,) = visit.measurements
    assert (row.value.text, row.where) == ("1.810 in", "cylinder 1, front intake spring")
    (now,) = fill(db, visit, second, "45.7 mm")
    assert (now.text, now.state) == ("45.7 mm", "in")


def test_a_column_is_in_the_unit_of_its_page_its_values_or_its_limits(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, HEIGHTS)

    def first(units: sheets.Units) -> sheet_cells.Cell:
        chosen = sheets.usual_columns(db, visit, None, [HEIGHTS])
        return cells_after(sheets.sheet(db, visit, None, chosen, units))[0]

    assert [first(sheets.Units(system)).unit for system in (US_CUSTOMARY, SI)] == ["in", "mm"]
    millimeters = units_chosen("us", (("length", "mm"),))
    assert first(sheets.Units(millimeters)).unit == "mm"
    millimeters = units_chosen("us", (("length", "mm"),))
    assert first(sheets.Units(millimeters)).unit == "mm"
    limit = {"lower": "1.790 in", "upper": "1.810 in"}
    limits.set_(db, BY, visit.head.engine_type, kind, "", limit)
    assert first(sheets.Units(SI)).unit == "in"
    fill(db, visit, first(sheets.Units(SI)), "45.7 mm")
    cell = first(sheets.Units(US_CUSTOMARY))
    assert (cell.unit, cell.text, cell.limits) == ("mm", "45.7", "45.47 to 45.97")
    # The page that was opened before goes on in inches.
    cell = first(sheets.Units(US_CUSTOMARY, {kind.id: "in"}))
    assert (cell.unit, cell.text, cell.limits) == ("in", "45.7 mm", "1.790 to 1.810")
    assert first(sheets.Units(US_CUSTOMARY, {kind.id: "psi"})).unit == "mm"


def test_a_column_without_values_is_in_the_unit_of_the_last_visit_or_the_usual_value(db: Session):
    visit = factories.create_planned_visit(db)
    stem = measurements.kind_by_code(db, "stem diameter")
    usual_values.set_(db, BY, visit.head.engine_type, stem, {"value": "5.5 mm"})
    fill(db, visit, cells_after(a_sheet(db, visit, HEIGHTS))[0], "45.7 mm")
    again = come_back(db, visit)
    chosen = sheets.usual_columns(db, again, None, [HEIGHTS, "stem diameter", "valve margin"])
    cells = sheets.sheet(db, again, None, chosen, sheets.Units(US_CUSTOMARY)).cells.values()
    units = {cell.kind.code: cell.unit for cell in cells}
    assert units == {HEIGHTS: "mm", "stem diameter": "mm", "valve margin": "in"}


def test_what_cannot_be_is_refused_at_its_cell_and_changes_nothing(db: Session):
    visit = factories.create_planned_visit(db)
    cell = cells_after(a_sheet(db, visit, HEIGHTS))[0]
    for wrong in ("thick", "1,81", "3 psi", "99", "-1.8"):
        with faults_at(cell.name):
            fill(db, visit, cell, wrong)
    assert visit.measurements == []
    (now,) = fill(db, visit, cell, "1.80")
    with pytest.raises(ValidationError, match="strike the measurement out"):
        fill(db, visit, now, "")
    for name in (
        "cell-1",
        "cell-999999-1-intake-1-after",
        cell.name.replace("-1-intake", "-9-intake"),
    ):
        with pytest.raises(NotFoundError):
            sheets.fill(db, BY, visit, None, name, "1.8", "", sheets.Units(US_CUSTOMARY))


def test_two_who_fill_one_cell_are_told_of_each_other(db: Session, machinist: Actor):
    visit = factories.create_planned_visit(db)
    cell = cells_after(a_sheet(db, visit, HEIGHTS))[0]
    fill(db, visit, cell, "1.80", by=machinist)
    with pytest.raises(ConflictError, match=r"Odile Marsh entered 1\.80 meanwhile"):
        fill(db, visit, cell, "1.79", seen="")
    (same,) = fill(db, visit, cell, "1.80", seen="")
    assert same.text == "1.80"
    (now,) = fill(db, visit, cell, "1.79", seen="1.80")
    assert now.text == "1.79"
    assert len(visit.measurements) == 1


def test_another_step_measures_anew_and_leaves_what_was_measured_before(db: Session):
    visit = factories.create_planned_visit(db)
    cell = cells_after(a_sheet(db, visit, HEIGHTS))[0]
    fill(db, visit, cell, "1.80")
    step = factories.create_operation(db, visit, "assembly")
    own = cells_after(a_sheet(db, visit, HEIGHTS, step=step))[0]
    assert (own.text, own.last_text) == ("", "1.80")
    (now,) = fill(db, visit, own, "1.80", step=step)
    assert now.text == "1.80"
    assert [row.operation for row in visit.measurements] == [None, step]
    total = cells_after(a_sheet(db, visit, HEIGHTS))[0]
    fill(db, visit, total, "1.81")
    assert [row.value.text for row in visit.measurements] == ["1.80 in", "1.81 in"]


def test_what_follows_from_a_cell_comes_with_it(db: Session):
    visit = factories.create_planned_visit(db)
    sheet = a_sheet(db, visit, "seat interference")
    names = [kind.code for kind in sheet.tables[0].kinds]
    assert names == ["insert bore", "insert diameter", "seat interference"]
    bore, insert, result = (cell for _, row in sheet.tables[0].rows[:1] for cell in row[1::2])
    assert result.is_calculated
    fill(db, visit, bore, "1.3000")
    filled = fill(db, visit, insert, "1.3045")
    assert [cell.text for cell in filled] == ["1.3045", "0.0045"]


def test_the_last_visits_value_stands_beside_the_cell(db: Session):
    visit = factories.create_planned_visit(db)
    fill(db, visit, cells_after(a_sheet(db, visit, HEIGHTS))[0], "1.795")
    again = come_back(db, visit)
    first, second, *_ = cells_after(a_sheet(db, again, HEIGHTS))
    assert (first.last_text, second.last_text, first.text) == ("1.795", "", "")


def test_what_names_no_place_is_listed_apart_as_it_was_entered(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, HEIGHTS)
    record = {"value": "1.80 in", "cylinder": 1, "side": "intake"}
    row = measurements.record(db, BY, visit, kind.id, record)
    sheet = a_sheet(db, visit, HEIGHTS)
    assert sheet.unplaced == (row,)
    assert {cell.state for cell in sheet.cells.values()} == {"missing"}


def test_a_head_without_a_layout_has_no_sheet(db: Session):
    visit = factories.create_visit(db)
    with pytest.raises(NotFoundError, match="head layout"):
        a_sheet(db, visit, HEIGHTS)


def asking(db: Session, where: str, kind: str = HEIGHTS, **planned: str) -> Operation:
    """A started step that asks for a kind at so many places."""
    visit = factories.create_planned_visit(db, **planned)
    step_kind = operations.kind_by_code(db, "assembly")
    values = {"asks_for": [kind], "asks_where": {kind: where}}
    operation_kinds.change(db, BY, step_kind, values)
    return factories.create_operation(db, visit, "assembly")


def test_a_step_that_asks_for_every_valve_counts_and_names_what_is_missing(
    db: Session, machinist: Actor
):
    step = asking(db, "every")
    visit = step.job_head
    for cell in cells_after(a_sheet(db, visit, HEIGHTS, step=step))[:11]:
        fill(db, visit, cell, "1.80", step=step, by=machinist)
    (wanted,) = limit_checks.asked_for(step, built_in_kinds.figures_by_code(db))
    assert (wanted.done, wanted.wanted) == (11, 16)
    factories.approve(db, machinist, visit.job)
    operations.start(db, machinist, step)
    with pytest.raises(ValidationError) as caught:
        operations.sign_off(db, machinist, step, {"actual_minutes": "5"})
    message = caught.value.faults[0].message
    assert "installed height of the spring (cylinder 3, rear exhaust spring; cylinder" in message
    assert "1 more" in message
    printed = work_orders.work_order(db, visit.job).heads[0].steps[0]
    assert printed.blanks == ()
    (table,) = printed.tables
    assert table.kind == "Installed height of the spring"
    boxes = [cell for row in table.rows for cell in row.cells if cell is not None]
    assert (len(boxes), sum(not cell.value for cell in boxes)) == (16, 5)
    for cell in cells_after(a_sheet(db, visit, HEIGHTS, step=step))[11:]:
        fill(db, visit, cell, "1.80", step=step, by=machinist)
    operations.sign_off(db, machinist, step, {"actual_minutes": "5"})
    assert step.is_done


@pytest.mark.parametrize(
    ("where", "kind", "filled", "done", "wanted"),
    [
        ("each cylinder", HEIGHTS, (0, 1, 4), 2, 4),
        ("each port", HEIGHTS, (0, 1, 2), 2, 8),
        ("each port", "port volume", (0, 5), 2, 8),
        ("5", HEIGHTS, (0, 1, 4), 3, 5),
        ("50", HEIGHTS, (0,), 1, 16),
        ("every", "chamber volume", (0, 1), 2, 4),
        ("every", "port volume", (0,), 1, 8),
        ("every", "deck flatness", (0,), 1, 1),
        ("", HEIGHTS, (15,), 1, 1),
    ],
)
def test_a_step_may_ask_for_each_cylinder_or_a_number(
    db: Session, where: str, kind: str, filled: tuple[int, ...], done: int, wanted: int
):
    step = asking(db, where, kind)
    cells = cells_after(a_sheet(db, step.job_head, kind, step=step))
    typed = {"chamber volume": "50", "port volume": "90", "deck flatness": "0.001"}
    for place in filled:
        fill(db, step.job_head, cells[place], typed.get(kind, "1.80"), step=step)
    (request,) = limit_checks.asked_for(step, built_in_kinds.figures_by_code(db))
    assert (request.done, request.wanted) == (done, wanted)


def test_without_a_layout_one_place_is_enough(db: Session):
    kind = operations.kind_by_code(db, "assembly") if factories.create_shop(db) else None
    assert kind is not None
    operation_kinds.change(db, BY, kind, {"asks_for": [HEIGHTS], "asks_where": {HEIGHTS: "every"}})
    step = factories.create_operation(db, factories.create_visit(db), "assembly")
    row = measurements.kind_by_code(db, HEIGHTS)
    measurements.record(db, BY, step.job_head, row.id, {"value": "1.8 in"}, step)
    assert limit_checks.missing(step, built_in_kinds.figures_by_code(db)) == []


@pytest.mark.parametrize("where", ["all", "1", "0", "201", "-3"])
def test_an_unknown_number_of_places_is_refused(db: Session, where: str):
    factories.create_shop(db)
    kind = operations.kind_by_code(db, "assembly")
    with faults_at("asks_where"):
        operation_kinds.change(db, BY, kind, {"asks_where": {HEIGHTS: where}})


def test_an_archived_kind_is_asked_for_no_longer(db: Session):
    step = asking(db, "every")
    kinds.archive(db, BY, measurements.kind_by_code(db, HEIGHTS))
    assert limit_checks.missing(step, built_in_kinds.figures_by_code(db)) == []


def test_a_seat_load_far_from_the_others_is_said_at_its_cell(db: Session):
    """790 lbf typed among 112 and 113 lbf; once it is corrected, nothing is said any more."""
    visit = factories.create_planned_visit(db, intake="", exhaust="", cylinders="3")
    cells = [
        cell for cell in a_sheet(db, visit, "seat load").cells.values()
        if cell.when is When.AFTER and cell.place.side == "exhaust"
    ]  # fmt: skip
    answers = [
        fill(db, visit, cell, typed)
        for cell, typed in zip(cells, ("112 lbf", "113 lbf", "790 lbf"), strict=True)
    ]
    doubts = [cell.doubt for cell in answers[-1] if cell.doubt]
    assert doubts == ["790 lbf is far from the others (112 to 113 lbf). Typing error?"]
    assert not [cell for cell in fill(db, visit, answers[-1][0], "79.0 lbf") if cell.doubt]
