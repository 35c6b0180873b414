"""parts received, collections and warranty returns"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "received_part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.CheckConstraint("count > 0", name=op.f("ck_received_part_count_positive")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_received_part_named")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_received_part_job_head_id_job_head")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_received_part")),
        sa.UniqueConstraint("job_head_id", "name", name=op.f("uq_received_part_job_head_id_name")),
    )
    op.create_table(
        "warranty_return",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("from_job_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column(
            "borne_by",
            sa.Enum(
                "not decided yet",
                "the shop",
                "the customer",
                "shared",
                name="bearer",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_warranty_return_has_reason")),
        sa.CheckConstraint("job_id <> from_job_id", name=op.f("ck_warranty_return_of_another_job")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_warranty_return_job_id_job")),
        sa.ForeignKeyConstraint(
            ["from_job_id"], ["job.id"], name=op.f("fk_warranty_return_from_job_id_job")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_warranty_return")),
        sa.UniqueConstraint("job_id", name=op.f("uq_warranty_return_job_id")),
    )
    op.create_index(
        op.f("ix_warranty_return_from_job_id"), "warranty_return", ["from_job_id"], unique=False
    )
    op.create_table(
        "collection",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column(
            "how",
            sa.Enum(
                "collected",
                "shipped",
                name="handedover",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("handed_on", sa.Date(), nullable=False),
        sa.Column("handed_to", sa.String(length=200), nullable=False),
        sa.Column("carrier", sa.String(length=200), nullable=False),
        sa.Column("parcels", sa.Integer(), nullable=True),
        sa.Column("tracking_number", sa.String(length=200), nullable=False),
        sa.Column("packed_by", sa.String(length=200), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.Column("parts", sa.JSON(), nullable=False),
        sa.Column("papers", sa.JSON(), nullable=False),
        sa.Column("balance", sa.BigInteger(), nullable=False),
        sa.Column("release_reason", sa.Text(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.Column("taken_back_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("handed_to <> ''", name=op.f("ck_collection_to_someone")),
        sa.CheckConstraint(
            "how <> 'shipped' OR carrier <> ''", name=op.f("ck_collection_shipped_by_someone")
        ),
        sa.CheckConstraint(
            "how <> 'shipped' OR parcels > 0", name=op.f("ck_collection_shipped_in_parcels")
        ),
        sa.CheckConstraint(
            "balance <= 0 OR release_reason <> ''", name=op.f("ck_collection_paid_or_released")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_collection_job_id_job")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_collection_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_collection")),
    )
    op.create_index(op.f("ix_collection_job_id"), "collection", ["job_id"], unique=False)


def downgrade() -> None:
    op.drop_index(op.f("ix_collection_job_id"), table_name="collection")
    op.drop_table("collection")
    op.drop_index(op.f("ix_warranty_return_from_job_id"), table_name="warranty_return")
    op.drop_table("warranty_return")
    op.drop_table("received_part")
