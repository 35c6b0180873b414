"""files, mail and links"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "mail_server",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("host", sa.String(length=200), nullable=False),
        sa.Column("port", sa.Integer(), nullable=False),
        sa.Column(
            "security",
            sa.Enum(
                "STARTTLS",
                "TLS",
                "none",
                name="security",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("login", sa.String(length=200), nullable=False),
        sa.Column("password_sealed", sa.Text(), nullable=False),
        sa.Column("sender", sa.String(length=200), nullable=False),
        sa.Column("reply_to", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_mail_server_only_one")),
        sa.CheckConstraint("port BETWEEN 1 AND 65535", name=op.f("ck_mail_server_port")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mail_server")),
    )
    op.create_table(
        "customer_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("shows_prices", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by_id", sa.Integer(), nullable=True),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("openings", sa.Integer(), nullable=False),
        sa.Column("last_opened_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("expires_at > made_at", name=op.f("ck_customer_link_lasts")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_customer_link_job_id_job")),
        sa.ForeignKeyConstraint(
            ["made_by_id"], ["person.id"], name=op.f("fk_customer_link_made_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_customer_link")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_customer_link_token_sha256")),
    )
    with op.batch_alter_table("customer_link", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_customer_link_job_id"), ["job_id"], unique=False)

    op.create_table(
        "outgoing_mail",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("message_id", sa.String(length=255), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("to_address", sa.String(length=200), nullable=False),
        sa.Column("to_name", sa.String(length=200), nullable=False),
        sa.Column("subject", sa.String(length=200), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("attachment_name", sa.String(length=200), nullable=False),
        sa.Column("attachment_sha256", sa.String(length=64), nullable=False),
        sa.Column("link_sealed", sa.Text(), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "queued",
                "sending",
                "sent",
                "may have been sent",
                "failed",
                "given up",
                "cancelled",
                name="mailstate",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("next_try_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("claim", sa.String(length=40), nullable=False),
        sa.Column("lease_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("handed_over_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_error", sa.Text(), nullable=False),
        sa.Column("queued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("queued_by_id", sa.Integer(), nullable=True),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "(attachment_name = '') = (attachment_sha256 = '')",
            name=op.f("ck_outgoing_mail_attachment"),
        ),
        sa.CheckConstraint(
            "(state = 'sending') = (lease_until IS NOT NULL)",
            name=op.f("ck_outgoing_mail_leased_to_send"),
        ),
        sa.CheckConstraint(
            "state <> 'sent' OR sent_at IS NOT NULL",
            name=op.f("ck_outgoing_mail_sent_at_some_time"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_outgoing_mail_job_id_job")),
        sa.ForeignKeyConstraint(
            ["queued_by_id"], ["person.id"], name=op.f("fk_outgoing_mail_queued_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outgoing_mail")),
        sa.UniqueConstraint("message_id", name=op.f("uq_outgoing_mail_message_id")),
    )
    with op.batch_alter_table("outgoing_mail", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_outgoing_mail_job_id"), ["job_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_outgoing_mail_state_outgoing_mail_next_try_at"),
            ["state", "next_try_at"],
            unique=False,
        )

    op.create_table(
        "job_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("caption", sa.String(length=200), nullable=False),
        sa.Column("shown_to_customer", sa.Boolean(), nullable=False),
        sa.Column("media_type", sa.String(length=60), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("small_sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("added_by_id", sa.Integer(), nullable=True),
        sa.Column("taken_off_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(small_sha256 = '') = (width = 0)", name=op.f("ck_job_file_small_of_a_picture")
        ),
        sa.CheckConstraint("size > 0", name=op.f("ck_job_file_not_empty")),
        sa.ForeignKeyConstraint(
            ["added_by_id"], ["person.id"], name=op.f("fk_job_file_added_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_job_file_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_job_file_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_file")),
    )
    with op.batch_alter_table("job_file", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_file_job_head_id"), ["job_head_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_file_job_id"), ["job_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("job_file", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_job_file_job_id"))
        batch_op.drop_index(batch_op.f("ix_job_file_job_head_id"))

    op.drop_table("job_file")
    with op.batch_alter_table("outgoing_mail", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_outgoing_mail_state_outgoing_mail_next_try_at"))
        batch_op.drop_index(batch_op.f("ix_outgoing_mail_job_id"))

    op.drop_table("outgoing_mail")
    with op.batch_alter_table("customer_link", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_customer_link_job_id"))

    op.drop_table("customer_link")
    op.drop_table("mail_server")
