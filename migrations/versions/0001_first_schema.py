"""first schema"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bench",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column(
            "reading",
            sa.Enum(
                "volume flow",
                "percent of range",
                name="readingkind",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench")),
        sa.UniqueConstraint("name", name=op.f("uq_bench_name")),
    )
    op.create_table(
        "counter",
        sa.Column("series", sa.String(length=20), nullable=False),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("last", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("series", "year", name=op.f("pk_counter")),
    )
    op.create_table(
        "customer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("is_firm", sa.Boolean(), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.Column("phone", sa.String(length=200), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("tax_rate_percent", sa.String(40), nullable=True),
        sa.Column("tax_exemption", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_customer_name_given")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer")),
    )
    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_customer_name"), ["name"], unique=False)

    op.create_table(
        "engine_type",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("builder", sa.String(length=200), nullable=False),
        sa.Column("family", sa.String(length=200), nullable=False),
        sa.Column("displacement_typed", sa.String(length=60), nullable=True),
        sa.Column("displacement_si", sa.Float(), nullable=True),
        sa.Column("bore_typed", sa.String(length=60), nullable=True),
        sa.Column("bore_si", sa.Float(), nullable=True),
        sa.Column("stroke_typed", sa.String(length=60), nullable=True),
        sa.Column("stroke_si", sa.Float(), nullable=True),
        sa.Column("cylinders", sa.Integer(), nullable=False),
        sa.Column("valves_per_cylinder", sa.Integer(), nullable=False),
        sa.Column(
            "cooling",
            sa.Enum(
                "water", "air", name="cooling", native_enum=False, create_constraint=True, length=30
            ),
            nullable=False,
        ),
        sa.Column("fuel", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("bore_si > 0", name=op.f("ck_engine_type_bore_positive")),
        sa.CheckConstraint("cylinders >= 1", name=op.f("ck_engine_type_cylinders_counted")),
        sa.CheckConstraint(
            "displacement_si > 0", name=op.f("ck_engine_type_displacement_positive")
        ),
        sa.CheckConstraint("stroke_si > 0", name=op.f("ck_engine_type_stroke_positive")),
        sa.CheckConstraint("valves_per_cylinder >= 2", name=op.f("ck_engine_type_valves_counted")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_type")),
        sa.UniqueConstraint("builder", "family", name=op.f("uq_engine_type_builder_family")),
    )
    op.create_table(
        "measurement_kind",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("dimension", sa.String(length=40), nullable=False),
        sa.Column("us_unit", sa.String(length=20), nullable=False),
        sa.Column("si_unit", sa.String(length=20), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurement_kind")),
        sa.UniqueConstraint("code", name=op.f("uq_measurement_kind_code")),
    )
    op.create_table(
        "operation_kind",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("cuts_metal", sa.Boolean(), nullable=False),
        sa.Column("cautions", sa.JSON(), nullable=False),
        sa.Column("asks_for", sa.JSON(), nullable=False),
        sa.Column("usual_minutes", sa.Integer(), nullable=False),
        sa.Column("usual_price", sa.BigInteger(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "usual_minutes >= 0", name=op.f("ck_operation_kind_minutes_not_negative")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation_kind")),
        sa.UniqueConstraint("code", name=op.f("uq_operation_kind_code")),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("login", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column(
            "role",
            sa.Enum(
                "owner",
                "machinist",
                "counter",
                "reader",
                name="role",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("password_hash", sa.String(length=300), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("sign_in_series", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("login <> ''", name=op.f("ck_person_login_given")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("login", name=op.f("uq_person_login")),
    )
    op.create_table(
        "routing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_routing")),
        sa.UniqueConstraint("name", name=op.f("uq_routing_name")),
    )
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("phone", sa.String(length=200), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.Column("web_address", sa.String(length=200), nullable=False),
        sa.Column("time_zone", sa.String(length=60), nullable=False),
        sa.Column("unit_system", sa.String(length=2), nullable=False),
        sa.Column("paper_size", sa.String(length=10), nullable=False),
        sa.Column("currency", sa.String(length=3), nullable=False),
        sa.Column("tax_rate_percent", sa.String(40), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("paper_size IN ('Letter', 'A4')", name=op.f("ck_shop_paper_size")),
        sa.CheckConstraint("unit_system IN ('us', 'si')", name=op.f("ck_shop_unit_system")),
        sa.CheckConstraint("id = 1", name=op.f("ck_shop_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "sign_in_attempt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("login", sa.String(length=80), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("succeeded", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_attempt")),
    )
    with op.batch_alter_table("sign_in_attempt", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_sign_in_attempt_login_sign_in_attempt_at"), ["login", "at"], unique=False
        )

    op.create_table(
        "bench_range",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("full_scale_typed", sa.String(length=60), nullable=True),
        sa.Column("full_scale_si", sa.Float(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("full_scale_si > 0", name=op.f("ck_bench_range_full_scale_positive")),
        sa.ForeignKeyConstraint(
            ["bench_id"], ["bench.id"], name=op.f("fk_bench_range_bench_id_bench")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_range")),
        sa.UniqueConstraint("bench_id", "name", name=op.f("uq_bench_range_bench_id_name")),
    )
    op.create_table(
        "contact",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("role", sa.String(length=200), nullable=False),
        sa.Column("phone", sa.String(length=200), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["customer_id"], ["customer.id"], name=op.f("fk_contact_customer_id_customer")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_contact")),
    )
    with op.batch_alter_table("contact", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_contact_customer_id"), ["customer_id"], unique=False)

    op.create_table(
        "engine_alias",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"],
            ["engine_type.id"],
            name=op.f("fk_engine_alias_engine_type_id_engine_type"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_alias")),
        sa.UniqueConstraint(
            "engine_type_id", "name", name=op.f("uq_engine_alias_engine_type_id_name")
        ),
    )
    with op.batch_alter_table("engine_alias", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_engine_alias_engine_type_id"), ["engine_type_id"], unique=False
        )

    op.create_table(
        "head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("casting_number", sa.String(length=100), nullable=False),
        sa.Column("serial", sa.String(length=100), nullable=False),
        sa.Column("material", sa.String(length=200), nullable=False),
        sa.Column("ports", sa.String(length=200), nullable=False),
        sa.Column("chamber", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_head_engine_type_id_engine_type")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_head")),
    )
    with op.batch_alter_table("head", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_head_casting_number"), ["casting_number"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_head_engine_type_id"), ["engine_type_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_head_serial"), ["serial"], unique=False)

    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=20), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "booked in",
                "quoted",
                "approved",
                "in work",
                "ready",
                "collected",
                "shipped",
                "cancelled",
                name="jobstate",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("priority", sa.Integer(), nullable=False),
        sa.Column("booked_in_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("promised_on", sa.Date(), nullable=True),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column(
            "purpose",
            sa.Enum(
                "street",
                "track",
                "drag",
                "tow",
                "marine",
                "restoration",
                "other",
                name="purpose",
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
        sa.Column("boost_typed", sa.String(length=60), nullable=True),
        sa.Column("boost_si", sa.Float(), nullable=True),
        sa.Column("rev_limit_rpm", sa.Integer(), nullable=True),
        sa.Column("fuel", sa.String(length=200), nullable=False),
        sa.Column("intake_lift_typed", sa.String(length=60), nullable=True),
        sa.Column("intake_lift_si", sa.Float(), nullable=True),
        sa.Column("exhaust_lift_typed", sa.String(length=60), nullable=True),
        sa.Column("exhaust_lift_si", sa.Float(), nullable=True),
        sa.Column("asked_for", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("deposit", sa.BigInteger(), nullable=False),
        sa.Column("approved_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("approved_by", sa.String(length=200), nullable=False),
        sa.Column("approved_how", sa.String(length=200), nullable=False),
        sa.Column("cancel_reason", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "approved_at IS NULL OR approved_by <> ''", name=op.f("ck_job_approval_by_someone")
        ),
        sa.CheckConstraint(
            "state <> 'cancelled' OR cancel_reason <> ''", name=op.f("ck_job_cancel_has_reason")
        ),
        sa.CheckConstraint("boost_si >= 0", name=op.f("ck_job_boost_not_negative")),
        sa.CheckConstraint("deposit >= 0", name=op.f("ck_job_deposit_not_negative")),
        sa.CheckConstraint("exhaust_lift_si > 0", name=op.f("ck_job_exhaust_lift_positive")),
        sa.CheckConstraint("intake_lift_si > 0", name=op.f("ck_job_intake_lift_positive")),
        sa.CheckConstraint("rev_limit_rpm > 0", name=op.f("ck_job_rev_limit_positive")),
        sa.ForeignKeyConstraint(
            ["customer_id"], ["customer.id"], name=op.f("fk_job_customer_id_customer")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("number", name=op.f("uq_job_number")),
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_booked_in_at"), ["booked_in_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_customer_id"), ["customer_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_promised_on"), ["promised_on"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_state"), ["state"], unique=False)

    op.create_table(
        "routing_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("routing_id", sa.Integer(), nullable=False),
        sa.Column("kind_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("instructions", sa.Text(), nullable=False),
        sa.Column("planned_minutes", sa.Integer(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "planned_minutes >= 0", name=op.f("ck_routing_step_planned_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["kind_id"], ["operation_kind.id"], name=op.f("fk_routing_step_kind_id_operation_kind")
        ),
        sa.ForeignKeyConstraint(
            ["routing_id"], ["routing.id"], name=op.f("fk_routing_step_routing_id_routing")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_routing_step")),
        sa.UniqueConstraint(
            "routing_id", "position", name=op.f("uq_routing_step_routing_id_position")
        ),
    )
    with op.batch_alter_table("routing_step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_routing_step_kind_id"), ["kind_id"], unique=False)

    op.create_table(
        "calibration",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_range_id", sa.Integer(), nullable=False),
        sa.Column("identifier", sa.String(length=60), nullable=False),
        sa.Column("reference", sa.String(length=200), nullable=False),
        sa.Column("certificate_number", sa.String(length=200), nullable=False),
        sa.Column("factor", sa.String(40), nullable=False),
        sa.Column("expanded_uncertainty_typed", sa.String(length=60), nullable=False),
        sa.Column("expanded_uncertainty_si", sa.Float(), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("due_on >= made_on", name=op.f("ck_calibration_due_after_made")),
        sa.CheckConstraint(
            "expanded_uncertainty_si >= 0", name=op.f("ck_calibration_uncertainty_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["bench_range_id"],
            ["bench_range.id"],
            name=op.f("fk_calibration_bench_range_id_bench_range"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibration")),
        sa.UniqueConstraint(
            "bench_range_id", "identifier", name=op.f("uq_calibration_bench_range_id_identifier")
        ),
    )
    op.create_table(
        "certificate",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=20), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("revision_reason", sa.Text(), nullable=False),
        sa.Column("supersedes_id", sa.Integer(), nullable=True),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("issued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("issued_by_id", sa.Integer(), nullable=False),
        sa.Column("snapshot", sa.JSON(), nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.CheckConstraint(
            "revision = 1 OR revision_reason <> ''", name=op.f("ck_certificate_revision_has_reason")
        ),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_certificate_revision_counted")),
        sa.ForeignKeyConstraint(
            ["issued_by_id"], ["person.id"], name=op.f("fk_certificate_issued_by_id_person")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_certificate_job_id_job")),
        sa.ForeignKeyConstraint(
            ["supersedes_id"],
            ["certificate.id"],
            name=op.f("fk_certificate_supersedes_id_certificate"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_certificate")),
        sa.UniqueConstraint("number", "revision", name=op.f("uq_certificate_number_revision")),
    )
    with op.batch_alter_table("certificate", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_certificate_job_id"), ["job_id"], unique=False)

    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("subject", sa.String(length=40), nullable=False),
        sa.Column("subject_id", sa.Integer(), nullable=False),
        sa.Column("verb", sa.String(length=40), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_event_job_id_job")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_event_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_event_job_id"), ["job_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_event_subject_event_subject_id"), ["subject", "subject_id"], unique=False
        )

    op.create_table(
        "head_owner",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("head_id", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("until", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("until >= since", name=op.f("ck_head_owner_in_order")),
        sa.ForeignKeyConstraint(
            ["customer_id"], ["customer.id"], name=op.f("fk_head_owner_customer_id_customer")
        ),
        sa.ForeignKeyConstraint(["head_id"], ["head.id"], name=op.f("fk_head_owner_head_id_head")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_head_owner")),
    )
    with op.batch_alter_table("head_owner", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_head_owner_customer_id"), ["customer_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_head_owner_head_id"), ["head_id"], unique=False)

    op.create_table(
        "job_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("head_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("tag", sa.String(length=30), nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("parts_received", sa.Text(), nullable=False),
        sa.Column("came_back_because", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["head_id"], ["head.id"], name=op.f("fk_job_head_head_id_head")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_job_head_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_head")),
        sa.UniqueConstraint("job_id", "head_id", name=op.f("uq_job_head_job_id_head_id")),
        sa.UniqueConstraint("job_id", "position", name=op.f("uq_job_head_job_id_position")),
        sa.UniqueConstraint("tag", name=op.f("uq_job_head_tag")),
    )
    with op.batch_alter_table("job_head", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_head_head_id"), ["head_id"], unique=False)

    op.create_table(
        "hand_off_note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("addressee", sa.String(length=200), nullable=False),
        sa.Column("to_check", sa.Text(), nullable=False),
        sa.Column("cautions", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("written_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("signed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("signed_by_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(signed_at IS NULL) = (signed_by_id IS NULL)",
            name=op.f("ck_hand_off_note_signed_by_someone"),
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_hand_off_note_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["signed_by_id"], ["person.id"], name=op.f("fk_hand_off_note_signed_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hand_off_note")),
        sa.UniqueConstraint("job_head_id", name=op.f("uq_hand_off_note_job_head_id")),
    )
    op.create_table(
        "operation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("kind_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "planned",
                "started",
                "done",
                "skipped",
                name="operationstate",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("instructions", sa.Text(), nullable=False),
        sa.Column("planned_minutes", sa.Integer(), nullable=False),
        sa.Column("actual_minutes", sa.Integer(), nullable=True),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("started_by_id", sa.Integer(), nullable=True),
        sa.Column("signed_off_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("signed_off_by_id", sa.Integer(), nullable=True),
        sa.Column("skip_reason", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "state <> 'done' OR (signed_off_at IS NOT NULL AND signed_off_by_id IS NOT NULL)",
            name=op.f("ck_operation_sign_off_by_someone"),
        ),
        sa.CheckConstraint(
            "state <> 'skipped' OR skip_reason <> ''", name=op.f("ck_operation_skip_has_reason")
        ),
        sa.CheckConstraint("actual_minutes >= 0", name=op.f("ck_operation_actual_not_negative")),
        sa.CheckConstraint("planned_minutes >= 0", name=op.f("ck_operation_planned_not_negative")),
        sa.CheckConstraint("price >= 0", name=op.f("ck_operation_price_not_negative")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_operation_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["kind_id"], ["operation_kind.id"], name=op.f("fk_operation_kind_id_operation_kind")
        ),
        sa.ForeignKeyConstraint(
            ["signed_off_by_id"], ["person.id"], name=op.f("fk_operation_signed_off_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["started_by_id"], ["person.id"], name=op.f("fk_operation_started_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_operation")),
    )
    with op.batch_alter_table("operation", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_operation_job_head_id"), ["job_head_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_operation_kind_id"), ["kind_id"], unique=False)

    op.create_table(
        "bench_session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("after_operation_id", sa.Integer(), nullable=True),
        sa.Column("calibration_id", sa.Integer(), nullable=True),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entered_by_id", sa.Integer(), nullable=True),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("stage", sa.String(length=200), nullable=False),
        sa.Column("engine_type", sa.String(length=200), nullable=False),
        sa.Column("head", sa.String(length=200), nullable=False),
        sa.Column("cylinder", sa.String(length=200), nullable=False),
        sa.Column("operator", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("measured_at_typed", sa.String(length=40), nullable=False),
        sa.Column("measured_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("side", sa.String(length=10), nullable=False),
        sa.Column("barometer_typed", sa.String(length=60), nullable=False),
        sa.Column("barometer_si", sa.Float(), nullable=False),
        sa.Column("temperature_typed", sa.String(length=60), nullable=False),
        sa.Column("temperature_si", sa.Float(), nullable=False),
        sa.Column("humidity_typed", sa.String(length=60), nullable=False),
        sa.Column("humidity_si", sa.Float(), nullable=False),
        sa.Column("head_diameter_typed", sa.String(length=60), nullable=False),
        sa.Column("head_diameter_si", sa.Float(), nullable=False),
        sa.Column("valve_count", sa.Integer(), nullable=False),
        sa.Column("stem_diameter_typed", sa.String(length=60), nullable=True),
        sa.Column("stem_diameter_si", sa.Float(), nullable=True),
        sa.Column("seat_angle_typed", sa.String(length=60), nullable=True),
        sa.Column("seat_angle_si", sa.Float(), nullable=True),
        sa.Column("seat_width_typed", sa.String(length=60), nullable=True),
        sa.Column("seat_width_si", sa.Float(), nullable=True),
        sa.Column("throat_diameter_typed", sa.String(length=60), nullable=True),
        sa.Column("throat_diameter_si", sa.Float(), nullable=True),
        sa.Column("port_area_typed", sa.String(length=60), nullable=True),
        sa.Column("port_area_si", sa.Float(), nullable=True),
        sa.Column("bench_name", sa.String(length=200), nullable=False),
        sa.Column("calibration_mark", sa.String(length=200), nullable=False),
        sa.Column("test_pressure_typed", sa.String(length=60), nullable=False),
        sa.Column("test_pressure_si", sa.Float(), nullable=False),
        sa.Column("reference_pressure_typed", sa.String(length=60), nullable=False),
        sa.Column("reference_pressure_si", sa.Float(), nullable=False),
        sa.Column("calibration_factor", sa.String(40), nullable=False),
        sa.Column("leakage_typed", sa.String(length=60), nullable=False),
        sa.Column("leakage_si", sa.Float(), nullable=False),
        sa.Column(
            "reading_kind",
            sa.Enum(
                "volume flow",
                "percent of range",
                name="readingkind",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("range_typed", sa.String(length=60), nullable=True),
        sa.Column("range_si", sa.Float(), nullable=True),
        sa.Column("u_calibration_typed", sa.String(length=60), nullable=False),
        sa.Column("u_calibration_si", sa.Float(), nullable=False),
        sa.Column("u_repeatability_typed", sa.String(length=60), nullable=False),
        sa.Column("u_repeatability_si", sa.Float(), nullable=False),
        sa.Column("u_pressure_typed", sa.String(length=60), nullable=False),
        sa.Column("u_pressure_si", sa.Float(), nullable=False),
        sa.Column("u_lift_typed", sa.String(length=60), nullable=False),
        sa.Column("u_lift_si", sa.Float(), nullable=False),
        sa.Column("lift_unit", sa.String(length=10), nullable=False),
        sa.Column("flow_unit", sa.String(length=10), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("mean_flow", sa.Double(), nullable=False),
        sa.Column("peak_flow", sa.Double(), nullable=False),
        sa.Column("gain_over_first", sa.Double(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("side IN ('intake', 'exhaust')", name=op.f("ck_bench_session_side")),
        sa.CheckConstraint(
            "(seat_angle_si IS NULL) = (seat_width_si IS NULL) AND (seat_angle_si IS NULL) = (stem_diameter_si IS NULL) AND (seat_angle_si IS NULL) = (throat_diameter_si IS NULL)",
            name=op.f("ck_bench_session_seat_whole_or_absent"),
        ),
        sa.CheckConstraint("barometer_si > 0", name=op.f("ck_bench_session_barometer_positive")),
        sa.CheckConstraint(
            "head_diameter_si > 0", name=op.f("ck_bench_session_head_diameter_positive")
        ),
        sa.CheckConstraint(
            "humidity_si >= 0 AND humidity_si <= 1", name=op.f("ck_bench_session_humidity_in_range")
        ),
        sa.CheckConstraint("leakage_si >= 0", name=op.f("ck_bench_session_leakage_not_negative")),
        sa.CheckConstraint(
            "reference_pressure_si > 0", name=op.f("ck_bench_session_reference_pressure_positive")
        ),
        sa.CheckConstraint(
            "temperature_si > 0", name=op.f("ck_bench_session_temperature_positive")
        ),
        sa.CheckConstraint(
            "test_pressure_si > 0", name=op.f("ck_bench_session_test_pressure_positive")
        ),
        sa.CheckConstraint("valve_count >= 1", name=op.f("ck_bench_session_valves_counted")),
        sa.ForeignKeyConstraint(
            ["after_operation_id"],
            ["operation.id"],
            name=op.f("fk_bench_session_after_operation_id_operation"),
        ),
        sa.ForeignKeyConstraint(
            ["calibration_id"],
            ["calibration.id"],
            name=op.f("fk_bench_session_calibration_id_calibration"),
        ),
        sa.ForeignKeyConstraint(
            ["entered_by_id"], ["person.id"], name=op.f("fk_bench_session_entered_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_bench_session_job_head_id_job_head")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_session")),
    )
    with op.batch_alter_table("bench_session", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_bench_session_after_operation_id"), ["after_operation_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_bench_session_calibration_id"), ["calibration_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_bench_session_job_head_id_bench_session_side"),
            ["job_head_id", "side"],
            unique=False,
        )

    op.create_table(
        "hand_off_figure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("note_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("value", sa.String(length=200), nullable=False),
        sa.Column("working", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["note_id"], ["hand_off_note.id"], name=op.f("fk_hand_off_figure_note_id_hand_off_note")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hand_off_figure")),
        sa.UniqueConstraint(
            "note_id", "position", name=op.f("uq_hand_off_figure_note_id_position")
        ),
    )
    op.create_table(
        "measurement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=True),
        sa.Column("kind_id", sa.Integer(), nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=True),
        sa.Column("side", sa.String(length=10), nullable=False),
        sa.Column("place", sa.String(length=200), nullable=False),
        sa.Column(
            "taken",
            sa.Enum(
                "before", "after", name="when", native_enum=False, create_constraint=True, length=30
            ),
            nullable=False,
        ),
        sa.Column("value_typed", sa.String(length=60), nullable=False),
        sa.Column("value_si", sa.Float(), nullable=False),
        sa.Column("lower_typed", sa.String(length=60), nullable=True),
        sa.Column("lower_si", sa.Float(), nullable=True),
        sa.Column("upper_typed", sa.String(length=60), nullable=True),
        sa.Column("upper_si", sa.Float(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("notes", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("side IN ('', 'intake', 'exhaust')", name=op.f("ck_measurement_side")),
        sa.CheckConstraint("cylinder >= 1", name=op.f("ck_measurement_cylinder_counted")),
        sa.CheckConstraint("lower_si <= upper_si", name=op.f("ck_measurement_limits_in_order")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_measurement_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["kind_id"],
            ["measurement_kind.id"],
            name=op.f("fk_measurement_kind_id_measurement_kind"),
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_measurement_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_measurement_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurement")),
    )
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_measurement_job_head_id"), ["job_head_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_measurement_kind_id"), ["kind_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_measurement_operation_id"), ["operation_id"], unique=False
        )

    op.create_table(
        "valve_set_up",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("note_id", sa.Integer(), nullable=False),
        sa.Column("side", sa.String(length=10), nullable=False),
        sa.Column("base_seat_load_typed", sa.String(length=60), nullable=True),
        sa.Column("base_seat_load_si", sa.Float(), nullable=True),
        sa.Column("seat_angle_allowance_typed", sa.String(length=60), nullable=True),
        sa.Column("seat_angle_allowance_si", sa.Float(), nullable=True),
        sa.Column("port_pressure_typed", sa.String(length=60), nullable=True),
        sa.Column("port_pressure_si", sa.Float(), nullable=True),
        sa.Column("valve_head_diameter_typed", sa.String(length=60), nullable=True),
        sa.Column("valve_head_diameter_si", sa.Float(), nullable=True),
        sa.Column("spring_rate_typed", sa.String(length=60), nullable=True),
        sa.Column("spring_rate_si", sa.Float(), nullable=True),
        sa.Column("installed_height_typed", sa.String(length=60), nullable=True),
        sa.Column("installed_height_si", sa.Float(), nullable=True),
        sa.Column("coil_bind_height_typed", sa.String(length=60), nullable=True),
        sa.Column("coil_bind_height_si", sa.Float(), nullable=True),
        sa.Column("valve_lift_typed", sa.String(length=60), nullable=True),
        sa.Column("valve_lift_si", sa.Float(), nullable=True),
        sa.CheckConstraint("side IN ('intake', 'exhaust')", name=op.f("ck_valve_set_up_side")),
        sa.CheckConstraint(
            "base_seat_load_si >= 0", name=op.f("ck_valve_set_up_seat_load_not_negative")
        ),
        sa.CheckConstraint(
            "coil_bind_height_si > 0", name=op.f("ck_valve_set_up_coil_bind_positive")
        ),
        sa.CheckConstraint(
            "installed_height_si > 0", name=op.f("ck_valve_set_up_installed_height_positive")
        ),
        sa.CheckConstraint(
            "port_pressure_si >= 0", name=op.f("ck_valve_set_up_port_pressure_not_negative")
        ),
        sa.CheckConstraint(
            "seat_angle_allowance_si >= 0", name=op.f("ck_valve_set_up_allowance_not_negative")
        ),
        sa.CheckConstraint("spring_rate_si > 0", name=op.f("ck_valve_set_up_spring_rate_positive")),
        sa.CheckConstraint("valve_lift_si > 0", name=op.f("ck_valve_set_up_valve_lift_positive")),
        sa.ForeignKeyConstraint(
            ["note_id"], ["hand_off_note.id"], name=op.f("fk_valve_set_up_note_id_hand_off_note")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_valve_set_up")),
        sa.UniqueConstraint("note_id", "side", name=op.f("uq_valve_set_up_note_id_side")),
    )
    op.create_table(
        "certificate_session",
        sa.Column("certificate_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["certificate_id"],
            ["certificate.id"],
            name=op.f("fk_certificate_session_certificate_id_certificate"),
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["bench_session.id"],
            name=op.f("fk_certificate_session_session_id_bench_session"),
        ),
        sa.PrimaryKeyConstraint(
            "certificate_id", "session_id", name=op.f("pk_certificate_session")
        ),
    )
    with op.batch_alter_table("certificate_session", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_certificate_session_session_id"), ["session_id"], unique=False
        )

    op.create_table(
        "session_lift",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("lift_typed", sa.String(40), nullable=False),
        sa.Column("lift_si", sa.Double(), nullable=False),
        sa.CheckConstraint("lift_si > 0", name=op.f("ck_session_lift_lift_positive")),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["bench_session.id"],
            name=op.f("fk_session_lift_session_id_bench_session"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_session_lift")),
        sa.UniqueConstraint(
            "session_id", "position", name=op.f("uq_session_lift_session_id_position")
        ),
    )
    op.create_table(
        "reading",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_lift_id", sa.Integer(), nullable=False),
        sa.Column("run", sa.Integer(), nullable=False),
        sa.Column("flow_typed", sa.String(40), nullable=False),
        sa.Column("flow_si", sa.Double(), nullable=False),
        sa.Column("excluded", sa.Boolean(), nullable=False),
        sa.Column("excluded_because", sa.String(length=200), nullable=False),
        sa.CheckConstraint(
            "(excluded_because = '') = (NOT excluded)", name=op.f("ck_reading_exclusion_has_reason")
        ),
        sa.CheckConstraint("flow_si >= 0", name=op.f("ck_reading_flow_not_negative")),
        sa.ForeignKeyConstraint(
            ["session_lift_id"],
            ["session_lift.id"],
            name=op.f("fk_reading_session_lift_id_session_lift"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sa.UniqueConstraint("session_lift_id", "run", name=op.f("uq_reading_session_lift_id_run")),
    )


def downgrade() -> None:
    op.drop_table("reading")
    op.drop_table("session_lift")
    with op.batch_alter_table("certificate_session", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_certificate_session_session_id"))

    op.drop_table("certificate_session")
    op.drop_table("valve_set_up")
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_measurement_operation_id"))
        batch_op.drop_index(batch_op.f("ix_measurement_kind_id"))
        batch_op.drop_index(batch_op.f("ix_measurement_job_head_id"))

    op.drop_table("measurement")
    op.drop_table("hand_off_figure")
    with op.batch_alter_table("bench_session", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bench_session_job_head_id_bench_session_side"))
        batch_op.drop_index(batch_op.f("ix_bench_session_calibration_id"))
        batch_op.drop_index(batch_op.f("ix_bench_session_after_operation_id"))

    op.drop_table("bench_session")
    with op.batch_alter_table("operation", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_operation_kind_id"))
        batch_op.drop_index(batch_op.f("ix_operation_job_head_id"))

    op.drop_table("operation")
    op.drop_table("hand_off_note")
    with op.batch_alter_table("job_head", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_job_head_head_id"))

    op.drop_table("job_head")
    with op.batch_alter_table("head_owner", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_head_owner_head_id"))
        batch_op.drop_index(batch_op.f("ix_head_owner_customer_id"))

    op.drop_table("head_owner")
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_event_subject_event_subject_id"))
        batch_op.drop_index(batch_op.f("ix_event_job_id"))

    op.drop_table("event")
    with op.batch_alter_table("certificate", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_certificate_job_id"))

    op.drop_table("certificate")
    op.drop_table("calibration")
    with op.batch_alter_table("routing_step", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_routing_step_kind_id"))

    op.drop_table("routing_step")
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_job_state"))
        batch_op.drop_index(batch_op.f("ix_job_promised_on"))
        batch_op.drop_index(batch_op.f("ix_job_customer_id"))
        batch_op.drop_index(batch_op.f("ix_job_booked_in_at"))

    op.drop_table("job")
    with op.batch_alter_table("head", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_head_serial"))
        batch_op.drop_index(batch_op.f("ix_head_engine_type_id"))
        batch_op.drop_index(batch_op.f("ix_head_casting_number"))

    op.drop_table("head")
    with op.batch_alter_table("engine_alias", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_engine_alias_engine_type_id"))

    op.drop_table("engine_alias")
    with op.batch_alter_table("contact", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_contact_customer_id"))

    op.drop_table("contact")
    op.drop_table("bench_range")
    with op.batch_alter_table("sign_in_attempt", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_attempt_login_sign_in_attempt_at"))

    op.drop_table("sign_in_attempt")
    op.drop_table("shop")
    op.drop_table("routing")
    op.drop_table("person")
    op.drop_table("operation_kind")
    op.drop_table("measurement_kind")
    op.drop_table("engine_type")
    with op.batch_alter_table("customer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_customer_name"))

    op.drop_table("customer")
    op.drop_table("counter")
    op.drop_table("bench")
