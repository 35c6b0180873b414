"""sections along a port, and what the engine builder gives

Places such as "25 mm from the flange" become distances from a datum, and go back to words on the
way down. Going down, the new figures of valves become lines of the hand-off note.
"""

import re

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

LENGTHS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254}
FORCES = {"N": 1.0, "lbf": 0.45359237 * 9.80665}
DATUMS = {"valve seat": "valve seat", "flange": "port flange"}
"""Each datum by the words it has in a place."""

PLACE = re.compile(r"(?:(.*), )?([0-9]*\.?[0-9]+ ?(?:mm|cm|in|m)) from the (valve seat|flange)")
QUANTITY = re.compile(r"([0-9]*\.?[0-9]+) ?([A-Za-z]+)")
LONGEST_PLACE = 200
FIGURES = {
    "installed_load": ("Spring load at installed height", FORCES),
    "retainer_to_guide": ("Retainer to guide, valve shut", LENGTHS),
}
NAMES = {words: (name, units) for name, (words, units) in FIGURES.items()}
QUANTITIES = (
    "gasket_bore", "gasket_thickness", "deck_clearance", "piston_dish", "chamber_footprint",
    "intake_temperature", "exhaust_temperature", "gas_flow", "turbine_outlet_pressure",
)  # fmt: skip
BOUNDS = {
    "gasket_bore_positive": "gasket_bore_si > 0",
    "gasket_thickness_positive": "gasket_thickness_si > 0",
    "chamber_footprint_positive": "chamber_footprint_si > 0",
    "intake_temperature_positive": "intake_temperature_si > 0",
    "exhaust_temperature_positive": "exhaust_temperature_si > 0",
    "gas_flow_positive": "gas_flow_si > 0",
    "turbine_outlet_not_negative": "turbine_outlet_pressure_si >= 0",
}

measurement = sa.table(
    "measurement",
    *map(sa.column, ("id", "kind_id", "place", "distance_typed", "distance_si", "datum")),
)
kind = sa.table("measurement_kind", sa.column("id"), sa.column("code"))
valve = sa.table(
    "valve_set_up",
    *map(sa.column, ("id", "note_id", "side")),
    *(sa.column(f"{name}_{half}") for name in FIGURES for half in ("typed", "si")),
)
note = sa.table("hand_off_note", sa.column("id"), sa.column("notes"))


def upgrade() -> None:
    op.create_table(
        "engine_set_up",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("note_id", sa.Integer(), nullable=False),
        *(column for name in QUANTITIES for column in _quantity(name)),
        sa.Column("fuel_to_air", sa.String(40), nullable=True),
        *(
            sa.CheckConstraint(text, name=op.f(f"ck_engine_set_up_{name}"))
            for name, text in BOUNDS.items()
        ),
        sa.ForeignKeyConstraint(
            ["note_id"], ["hand_off_note.id"], name=op.f("fk_engine_set_up_note_id_hand_off_note")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_set_up")),
        sa.UniqueConstraint("note_id", name=op.f("uq_engine_set_up_note_id")),
    )
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        for column in _quantity("distance"):
            batch_op.add_column(column)
        batch_op.add_column(sa.Column("datum", sa.String(30), nullable=True))
        batch_op.create_check_constraint(
            batch_op.f("ck_measurement_datum"), "datum IN ('valve seat', 'port flange')"
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_measurement_distance_not_negative"), "distance_si >= 0"
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_measurement_distance_has_datum"),
            "(distance_si IS NULL) = (datum IS NULL)",
        )
    with op.batch_alter_table("valve_set_up", schema=None) as batch_op:
        for name in FIGURES:
            for column in _quantity(name):
                batch_op.add_column(column)
            batch_op.create_check_constraint(
                batch_op.f(f"ck_valve_set_up_{name}_not_negative"), f"{name}_si >= 0"
            )
    _places_to_distances(op.get_bind())
    _lines_to_valves(op.get_bind())


def downgrade() -> None:
    _distances_to_places(op.get_bind())
    _valves_to_lines(op.get_bind())
    with op.batch_alter_table("valve_set_up", schema=None) as batch_op:
        for name in FIGURES:
            batch_op.drop_constraint(
                batch_op.f(f"ck_valve_set_up_{name}_not_negative"), type_="check"
            )
            batch_op.drop_column(f"{name}_si")
            batch_op.drop_column(f"{name}_typed")
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        for name in ("distance_has_datum", "distance_not_negative", "datum"):
            batch_op.drop_constraint(batch_op.f(f"ck_measurement_{name}"), type_="check")
        for name in ("datum", "distance_si", "distance_typed"):
            batch_op.drop_column(name)
    op.drop_table("engine_set_up")


def _quantity(name: str) -> tuple[sa.Column[str], sa.Column[float]]:
    return (
        sa.Column(f"{name}_typed", sa.String(length=60), nullable=True),
        sa.Column(f"{name}_si", sa.Float(), nullable=True),
    )


def _si(text: str, units: dict[str, float]) -> float | None:
    """What a number with one of these units is in SI; none for anything else."""
    found = QUANTITY.fullmatch(text)
    return float(found[1]) * units[found[2]] if found and found[2] in units else None


def _places_to_distances(bind: sa.Connection) -> None:
    areas = sa.select(kind.c.id).where(kind.c.code == "port area")
    rows = sa.select(measurement.c.id, measurement.c.place).where(measurement.c.kind_id.in_(areas))
    for key, place in bind.execute(rows).all():
        found = PLACE.fullmatch(place)
        if found:
            values = {
                "place": found[1] or "",
                "distance_typed": found[2],
                "distance_si": _si(found[2], LENGTHS),
                "datum": DATUMS[found[3]],
            }
            bind.execute(sa.update(measurement).where(measurement.c.id == key).values(values))


def _distances_to_places(bind: sa.Connection) -> None:
    words = {datum: word for word, datum in DATUMS.items()}
    columns = (measurement.c.id, measurement.c.place, measurement.c.distance_typed)
    rows = sa.select(*columns, measurement.c.datum).where(measurement.c.datum.is_not(None))
    for key, place, distance, datum in bind.execute(rows).all():
        along = f"{distance} from the {words[datum]}"
        if place:
            along = f"{place[: LONGEST_PLACE - len(along) - 2]}, {along}"
        bind.execute(sa.update(measurement).where(measurement.c.id == key).values(place=along))


def _lines_to_valves(bind: sa.Connection) -> None:
    """Lines such as "Retainer to guide, valve shut, intake: 0.475 in" leave the note's words."""
    columns = (valve.c.id, valve.c.note_id, valve.c.side)
    for key, note_id, side in bind.execute(sa.select(*columns)).all():
        words = bind.scalar(sa.select(note.c.notes).where(note.c.id == note_id))
        left: list[str] = []
        values: dict[str, str | float] = {}
        for line in words.split("\n") if words else []:
            told, _, text = line.partition(f", {side}: ")
            name, units = NAMES.get(told, ("", {}))
            si = _si(text, units)
            if si is None:
                left.append(line)
            else:
                values |= {f"{name}_typed": text, f"{name}_si": si}
        if values:
            bind.execute(sa.update(valve).where(valve.c.id == key).values(values))
            kept = sa.update(note).where(note.c.id == note_id).values(notes="\n".join(left))
            bind.execute(kept)


def _valves_to_lines(bind: sa.Connection) -> None:
    for row in bind.execute(sa.select(valve).order_by(valve.c.id)).mappings().all():
        lines = [
            f"{words}, {row['side']}: {row[f'{name}_typed']}"
            for name, (words, _) in FIGURES.items()
            if row[f"{name}_typed"] is not None
        ]
        if lines:
            mine = note.c.id == row["note_id"]
            words = bind.scalar(sa.select(note.c.notes).where(mine))
            told = "\n".join([words, *lines] if words else lines)
            bind.execute(sa.update(note).where(mine).values(notes=told))
