"""Engine results, saved forecasts of air and power, and the ranges behind them"""

import sqlalchemy as sa
from alembic import op

revision = "0054"
down_revision = "0053"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "engine_ranges",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column(
            "fuel",
            sa.Enum(
                "gasoline",
                "ethanol (E85)",
                "methanol",
                "diesel",
                name="fuel",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column(
            "induction",
            sa.Enum(
                "natural",
                "turbocharged",
                "supercharged",
                name="induction",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("index_low_typed", sa.String(length=60), nullable=False),
        sa.Column("index_low_si", sa.Float(), nullable=False),
        sa.Column("index_high_typed", sa.String(length=60), nullable=False),
        sa.Column("index_high_si", sa.Float(), nullable=False),
        sa.Column("filling_low_typed", sa.String(length=60), nullable=False),
        sa.Column("filling_low_si", sa.Float(), nullable=False),
        sa.Column("filling_high_typed", sa.String(length=60), nullable=False),
        sa.Column("filling_high_si", sa.Float(), nullable=False),
        sa.Column("air_fuel_low_typed", sa.String(length=60), nullable=False),
        sa.Column("air_fuel_low_si", sa.Float(), nullable=False),
        sa.Column("air_fuel_high_typed", sa.String(length=60), nullable=False),
        sa.Column("air_fuel_high_si", sa.Float(), nullable=False),
        sa.Column("consumption_low_typed", sa.String(length=60), nullable=False),
        sa.Column("consumption_low_si", sa.Float(), nullable=False),
        sa.Column("consumption_high_typed", sa.String(length=60), nullable=False),
        sa.Column("consumption_high_si", sa.Float(), nullable=False),
        sa.Column("temperature_low_typed", sa.String(length=60), nullable=False),
        sa.Column("temperature_low_si", sa.Float(), nullable=False),
        sa.Column("temperature_high_typed", sa.String(length=60), nullable=False),
        sa.Column("temperature_high_si", sa.Float(), nullable=False),
        sa.Column("pressure_low_typed", sa.String(length=60), nullable=False),
        sa.Column("pressure_low_si", sa.Float(), nullable=False),
        sa.Column("pressure_high_typed", sa.String(length=60), nullable=False),
        sa.Column("pressure_high_si", sa.Float(), nullable=False),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "air_fuel_low_si > 0 AND air_fuel_low_si <= air_fuel_high_si",
            name=op.f("ck_engine_ranges_air_fuel"),
        ),
        sa.CheckConstraint(
            "consumption_low_si > 0 AND consumption_low_si <= consumption_high_si",
            name=op.f("ck_engine_ranges_consumption"),
        ),
        sa.CheckConstraint(
            "filling_low_si > 0 AND filling_low_si <= filling_high_si",
            name=op.f("ck_engine_ranges_filling"),
        ),
        sa.CheckConstraint(
            "index_low_si > 0 AND index_low_si <= index_high_si",
            name=op.f("ck_engine_ranges_index"),
        ),
        sa.CheckConstraint(
            "pressure_low_si > 0 AND pressure_low_si <= pressure_high_si",
            name=op.f("ck_engine_ranges_pressure"),
        ),
        sa.CheckConstraint(
            "temperature_low_si > 0 AND temperature_low_si <= temperature_high_si",
            name=op.f("ck_engine_ranges_temperature"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_engine_ranges_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_ranges")),
        sa.UniqueConstraint("job_id", name=op.f("uq_engine_ranges_job_id")),
    )
    op.create_index(
        "uq_engine_ranges_of_shop",
        "engine_ranges",
        ["fuel", "induction"],
        unique=True,
        sqlite_where=sa.text("job_id IS NULL"),
        postgresql_where=sa.text("job_id IS NULL"),
    )
    op.create_table(
        "engine_result",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "dynamometer",
                "track",
                "road",
                "other",
                name="resultkind",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("power_typed", sa.String(length=60), nullable=True),
        sa.Column("power_si", sa.Float(), nullable=True),
        sa.Column(
            "power_at",
            sa.Enum(
                "crankshaft",
                "wheels",
                "not stated",
                name="powerat",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("speed_typed", sa.String(length=60), nullable=True),
        sa.Column("speed_si", sa.Float(), nullable=True),
        sa.Column("boost_typed", sa.String(length=60), nullable=True),
        sa.Column("boost_si", sa.Float(), nullable=True),
        sa.Column("fuel", sa.String(length=200), nullable=False),
        sa.Column("air_temperature_typed", sa.String(length=60), nullable=True),
        sa.Column("air_temperature_si", sa.Float(), nullable=True),
        sa.Column("air_pressure_typed", sa.String(length=60), nullable=True),
        sa.Column("air_pressure_si", sa.Float(), nullable=True),
        sa.Column("elapsed_time_typed", sa.String(length=60), nullable=True),
        sa.Column("elapsed_time_si", sa.Float(), nullable=True),
        sa.Column("end_speed_typed", sa.String(length=60), nullable=True),
        sa.Column("end_speed_si", sa.Float(), nullable=True),
        sa.Column("source", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "power_si IS NOT NULL OR elapsed_time_si IS NOT NULL OR end_speed_si IS NOT NULL "
            "OR notes <> ''",
            name=op.f("ck_engine_result_says_something"),
        ),
        sa.CheckConstraint("boost_si >= 0", name=op.f("ck_engine_result_boost_not_negative")),
        sa.CheckConstraint(
            "elapsed_time_si > 0", name=op.f("ck_engine_result_elapsed_time_positive")
        ),
        sa.CheckConstraint("end_speed_si > 0", name=op.f("ck_engine_result_end_speed_positive")),
        sa.CheckConstraint("power_si > 0", name=op.f("ck_engine_result_power_positive")),
        sa.CheckConstraint("speed_si > 0", name=op.f("ck_engine_result_speed_positive")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_engine_result_job_id_job")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_engine_result_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_result")),
    )
    op.create_index(op.f("ix_engine_result_job_id"), "engine_result", ["job_id"])
    op.create_table(
        "engine_forecast",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("cam", sa.String(length=200), nullable=False),
        sa.Column("test", sa.String(length=200), nullable=False),
        sa.Column("air_low", sa.Double(), nullable=False),
        sa.Column("air_median", sa.Double(), nullable=False),
        sa.Column("air_high", sa.Double(), nullable=False),
        sa.Column("power_low", sa.Double(), nullable=True),
        sa.Column("power_median", sa.Double(), nullable=True),
        sa.Column("power_high", sa.Double(), nullable=True),
        sa.Column("speed_low", sa.Double(), nullable=False),
        sa.Column("speed_median", sa.Double(), nullable=False),
        sa.Column("speed_high", sa.Double(), nullable=False),
        sa.Column("ranges", sa.JSON(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "air_low <= air_median AND air_median <= air_high",
            name=op.f("ck_engine_forecast_air_in_order"),
        ),
        sa.CheckConstraint(
            "power_low <= power_median AND power_median <= power_high",
            name=op.f("ck_engine_forecast_power_in_order"),
        ),
        sa.CheckConstraint(
            "speed_low <= speed_median AND speed_median <= speed_high",
            name=op.f("ck_engine_forecast_speed_in_order"),
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_engine_forecast_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_engine_forecast_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_forecast")),
    )
    op.create_index(op.f("ix_engine_forecast_job_head_id"), "engine_forecast", ["job_head_id"])


def downgrade() -> None:
    op.drop_table("engine_forecast")
    op.drop_table("engine_result")
    op.drop_table("engine_ranges")
