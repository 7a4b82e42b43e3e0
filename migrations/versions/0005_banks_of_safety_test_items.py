"""Banks of items for the written safety tests."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "safety_bank",
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("practices", sa.JSON(), nullable=False),
        sa.Column("items", sa.JSON(), nullable=False),
        sa.Column("id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_safety_bank_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_safety_bank")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_safety_bank_school_id_key")),
    )
    with op.batch_alter_table("safety_bank", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_safety_bank_school_id"), ["school_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_safety_bank_key"), ["key"], unique=False)


def downgrade() -> None:
    op.drop_table("safety_bank")
