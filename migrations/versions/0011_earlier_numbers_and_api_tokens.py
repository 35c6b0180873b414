"""Jobs brought in from earlier records, and tokens of the programming interface"""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "api_token",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("token_sha256", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by_id", sa.Integer(), nullable=True),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_used_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("expires_at > made_at", name=op.f("ck_api_token_lasts")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_api_token_name_given")),
        sa.ForeignKeyConstraint(
            ["made_by_id"], ["person.id"], name=op.f("fk_api_token_made_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_token")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_api_token_token_sha256")),
    )
    op.add_column("job", sa.Column("earlier_number", sa.String(60), nullable=True))
    # An index and not a constraint: SQLite adds it without building the table anew.
    op.create_index(op.f("ix_job_earlier_number"), "job", ["earlier_number"], unique=True)


def downgrade() -> None:
    op.drop_index(op.f("ix_job_earlier_number"), table_name="job")
    op.drop_column("job", "earlier_number")
    op.drop_table("api_token")
