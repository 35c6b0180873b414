"""What past jobs are looked up by, folded and in one row"""

import unicodedata

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

UNDIVIDED = str.maketrans({"æ": "ae", "đ": "d", "ð": "d", "ı": "i", "ł": "l", "ø": "o",
                           "œ": "oe", "þ": "th"})  # fmt: skip
STAYS = sa.text("""
    SELECT job_head.id, head.engine_type_id, job.customer_id, job.booked_in_at,
        head.casting_number, head.serial, job_head.tag, job.earlier_number,
        job.asked_for, job.notes, job_head.condition, job_head.came_back_because, head.notes
    FROM job_head JOIN job ON job_head.job_id = job.id JOIN head ON job_head.head_id = head.id
""")
LATER_NOTES = [
    sa.text(f"SELECT job_head_id, notes FROM {table} WHERE notes <> '' ORDER BY id")
    for table in ("operation", "bench_session")
]
AT_ONCE = 5_000


def upgrade() -> None:
    table = op.create_table(
        "lookup_text",
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("customer_id", sa.Integer(), nullable=False),
        sa.Column("booked_in_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("numbers", sa.Text(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"],
            name=op.f("fk_lookup_text_job_head_id_job_head"), ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"],
            name=op.f("fk_lookup_text_engine_type_id_engine_type"),
        ),
        sa.ForeignKeyConstraint(
            ["customer_id"], ["customer.id"], name=op.f("fk_lookup_text_customer_id_customer")
        ),
        sa.PrimaryKeyConstraint("job_head_id", name=op.f("pk_lookup_text")),
    )  # fmt: skip
    for columns in (["engine_type_id", "booked_in_at"], ["customer_id", "booked_in_at"],
                    ["booked_in_at"]):  # fmt: skip
        name = op.f("ix_" + "_".join(f"lookup_text_{column}" for column in columns))
        op.create_index(name, "lookup_text", columns)
    op.create_table(
        "name_stamp",
        sa.Column("of", sa.String(40), nullable=False),
        sa.Column("stamp", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("of", name=op.f("pk_name_stamp")),
    )
    fill(table)


def fill(table: sa.Table) -> None:
    connection = op.get_bind()
    later: dict[int, list[str]] = {}
    for query in LATER_NOTES:
        for key, note in connection.execute(query):
            later.setdefault(key, []).append(note)
    rows = connection.execute(STAYS.columns(booked_in_at=sa.DateTime(timezone=True))).all()
    for first in range(0, len(rows), AT_ONCE):
        connection.execute(
            sa.insert(table),
            [
                {
                    "job_head_id": key,
                    "engine_type_id": engine_type,
                    "customer_id": customer,
                    "booked_in_at": booked_in,
                    "numbers": " ".join(map(bare, (casting, serial, tag, earlier or ""))),
                    "notes": "\n".join(plain(n) for n in (*notes, *later.get(key, ())) if n),
                }
                for key, engine_type, customer, booked_in, casting, serial, tag, earlier, *notes
                in rows[first : first + AT_ONCE]
            ],
        )  # fmt: skip


def plain(text: str) -> str:
    divided = unicodedata.normalize("NFKD", text.casefold()).translate(UNDIVIDED)
    return "".join(letter for letter in divided if not unicodedata.combining(letter))


def bare(text: str) -> str:
    return "".join(letter for letter in text.lower() if letter.isalnum())


def downgrade() -> None:
    op.drop_table("name_stamp")
    op.drop_table("lookup_text")
