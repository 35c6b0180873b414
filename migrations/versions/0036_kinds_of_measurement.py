"""Kinds of measurement are the shop's: place, decimals, bounds and order; how many a step asks for

The built-in kinds get what was written in the program until now, and the new ones are added. On the
way down they stay: a kind without its place is still a kind.
"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None

CHECKS = {
    "bounds_in_order": "least_si <= greatest_si",
    "decimals": "us_decimals BETWEEN 0 AND 6 AND si_decimals BETWEEN 0 AND 6",
    "placekind": "place_kind IN ('head', 'cylinder', 'port', 'valve', 'seat', 'guide', 'spring', "
    "'section')",
}
UNITS = {
    "length": ("in", "mm", 4, 3),
    "coarse": ("in", "mm", 3, 2),
    "angle": ("deg", "deg", 1, 1),
    "force": ("lbf", "N", 0, 0),
    "force per length": ("lbf/in", "N/mm", 0, 1),
    "volume": ("cm3", "cm3", 1, 1),
    "area": ("in2", "mm2", 3, 0),
}
"""US and SI unit, and the decimals of each, by what is measured."""

SCALES = {"mm": 1e-3, "deg": 0.017453292519943295, "N": 1.0, "N/mm": 1e3, "cm3": 1e-6, "mm2": 1e-6}
KINDS = (
    ("guide bore", "Guide bore", "guide", "2 mm", "25 mm", "length"),
    ("guide clearance", "Guide clearance", "guide", "0 mm", "1 mm", "length"),
    ("guide height", "Guide height above the spring seat", "guide", "0 mm", "80 mm", "coarse"),
    ("stem diameter", "Stem diameter", "valve", "2 mm", "25 mm", "length"),
    ("stem diameter top", "Stem diameter, top", "valve", "2 mm", "25 mm", "length"),
    ("stem diameter middle", "Stem diameter, middle", "valve", "2 mm", "25 mm", "length"),
    ("stem diameter bottom", "Stem diameter, bottom", "valve", "2 mm", "25 mm", "length"),
    ("stem wear", "Stem wear", "valve", "0 mm", "5 mm", "length"),
    ("valve head diameter", "Valve head diameter", "valve", "8 mm", "150 mm", "coarse"),
    ("valve margin", "Valve margin", "valve", "0 mm", "15 mm", "coarse"),
    ("valve length", "Valve length", "valve", "30 mm", "500 mm", "coarse"),
    ("tip length", "Valve tip length", "valve", "0 mm", "30 mm", "coarse"),
    ("valve run-out", "Valve face run-out", "valve", "0 mm", "2 mm", "length"),
    ("contact width", "Contact width on the valve face", "valve", "0 mm", "15 mm", "coarse"),
    ("contact position", "Contact below the margin", "valve", "0 mm", "15 mm", "coarse"),
    ("stem height", "Stem height", "valve", "5 mm", "200 mm", "coarse"),
    ("recession", "Recession", "valve", "-5 mm", "15 mm", "coarse"),
    ("valve depth", "Valve depth below the deck", "valve", "-10 mm", "20 mm", "coarse"),
    ("insert bore", "Insert bore in the head", "seat", "8 mm", "160 mm", "length"),
    ("insert diameter", "Insert outside diameter", "seat", "8 mm", "160 mm", "length"),
    ("seat interference", "Seat insert interference", "seat", "0 mm", "1 mm", "length"),
    ("seat angle", "Seat angle", "seat", "10 deg", "80 deg", "angle"),
    ("seat width", "Seat width on the cone face", "seat", "0 mm", "15 mm", "coarse"),
    ("seat run-out", "Seat run-out", "seat", "0 mm", "2 mm", "length"),
    ("throat diameter", "Throat diameter", "seat", "6 mm", "150 mm", "coarse"),
    ("installed height", "Installed height of the spring", "spring", "5 mm", "200 mm", "coarse"),
    ("shim", "Spring shims", "spring", "0 mm", "10 mm", "coarse"),
    ("free length", "Free length of the spring", "spring", "10 mm", "300 mm", "coarse"),
    ("seat load", "Load on the seat", "spring", "0 N", "10000 N", "force"),
    ("open load", "Load at full lift", "spring", "0 N", "20000 N", "force"),
    ("spring rate", "Spring rate", "spring", "0.1 N/mm", "1000 N/mm", "force per length"),
    ("squareness", "Squareness of the spring", "spring", "0 mm", "20 mm", "coarse"),
    ("coil bind height", "Coil bind height", "spring", "5 mm", "200 mm", "coarse"),
    ("retainer to guide", "Retainer to guide seal", "spring", "0 mm", "60 mm", "coarse"),
    ("chamber volume", "Chamber volume", "cylinder", "1 cm3", "1500 cm3", "volume"),
    ("injector protrusion", "Injector protrusion", "cylinder", "-10 mm", "20 mm", "coarse"),
    ("prechamber protrusion", "Prechamber protrusion", "cylinder", "-5 mm", "5 mm", "length"),
    ("port volume", "Port volume", "port", "1 cm3", "3000 cm3", "volume"),
    ("short-side radius", "Short-side radius", "port", "0 mm", "100 mm", "coarse"),
    ("guide to wall", "Guide to port wall", "port", "0 mm", "100 mm", "coarse"),
    ("port area", "Port area", "section", "10 mm2", "20000 mm2", "area"),
    ("port width", "Port width", "section", "3 mm", "250 mm", "coarse"),
    ("port height", "Port height", "section", "3 mm", "250 mm", "coarse"),
    ("port perimeter", "Port perimeter", "section", "10 mm", "800 mm", "coarse"),
    ("deck flatness", "Deck flatness", "head", "0 mm", "5 mm", "length"),
    ("deck cut", "Deck cut depth", "head", "0 mm", "5 mm", "length"),
    ("head thickness", "Head thickness", "head", "5 mm", "500 mm", "length"),
    ("cam bore", "Cam bore", "head", "10 mm", "150 mm", "length"),
    ("bolt hole", "Bolt hole diameter", "head", "3 mm", "60 mm", "coarse"),
)
"""Code, name, place, bounds as typed, and what is measured, in the order of lists."""

kind = sa.table(
    "measurement_kind",
    *map(
        sa.column,
        (
            "code", "name", "dimension", "us_unit", "si_unit", "active", "version", "place_kind",
            "us_decimals", "si_decimals", "least_typed", "least_si", "greatest_typed",
            "greatest_si", "position",
        ),
    ),
)  # fmt: skip


def upgrade() -> None:
    with altered("measurement_kind") as batch:
        batch.add_column(
            sa.Column("place_kind", sa.String(30), nullable=False, server_default="head")
        )
        for name, default in (("us_decimals", "3"), ("si_decimals", "2"), ("position", "0")):
            batch.add_column(sa.Column(name, sa.Integer(), nullable=False, server_default=default))
        for name in ("least", "greatest"):
            batch.add_column(sa.Column(f"{name}_typed", sa.String(60), nullable=True))
            batch.add_column(sa.Column(f"{name}_si", sa.Float(), nullable=True))
        for name, text in CHECKS.items():
            batch.create_check_constraint(op.f(f"ck_measurement_kind_{name}"), text)
    op.add_column(
        "operation_kind", sa.Column("asks_where", sa.JSON(), nullable=False, server_default="{}")
    )
    _fill(op.get_bind())


def downgrade() -> None:
    op.drop_column("operation_kind", "asks_where")
    with altered("measurement_kind") as batch:
        for name in CHECKS:
            batch.drop_constraint(op.f(f"ck_measurement_kind_{name}"), type_="check")
        for name in (
            "greatest_si", "greatest_typed", "least_si", "least_typed", "position", "si_decimals",
            "us_decimals", "place_kind",
        ):  # fmt: skip
            batch.drop_column(name)


def _fill(connection: sa.Connection) -> None:
    """Give the built-in kinds what they were known by, in a shop that has any, and add the rest."""
    there = set(connection.scalars(sa.select(kind.c.code)))
    if not there:
        # A new shop gets its kinds when it is set up.
        return
    for position, (code, name, place, least, greatest, measures) in enumerate(KINDS, start=1):
        us_unit, si_unit, us_decimals, si_decimals = UNITS[measures]
        values = {
            "place_kind": place, "us_decimals": us_decimals, "si_decimals": si_decimals,
            "position": 10 * position,
            **_bound("least", least), **_bound("greatest", greatest),
        }  # fmt: skip
        if code in there:
            connection.execute(sa.update(kind).where(kind.c.code == code).values(**values))
            continue
        dimension = "length" if measures == "coarse" else measures
        connection.execute(
            sa.insert(kind).values(
                code=code, name=name, dimension=dimension, us_unit=us_unit, si_unit=si_unit,
                active=True, version=1, **values,
            )
        )  # fmt: skip
    last = 10 * (len(KINDS) + 1)
    connection.execute(sa.update(kind).where(kind.c.position == 0).values(position=last))


def _bound(name: str, typed: str) -> dict[str, object]:
    number, unit = typed.split(" ")
    return {f"{name}_typed": typed, f"{name}_si": float(number) * SCALES[unit]}
