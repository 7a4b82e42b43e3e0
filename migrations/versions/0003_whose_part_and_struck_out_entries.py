"""Whose part was spoiled or who was helped, and entries struck out of the sign-off log."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("progress", schema=None) as batch_op:
        batch_op.add_column(sa.Column("student_id", sa.Integer(), nullable=True))
        batch_op.create_index(batch_op.f("ix_progress_student_id"), ["student_id"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_progress_student_id_student"), "student", ["student_id"], ["id"]
        )
    with op.batch_alter_table("sign_off", schema=None) as batch_op:
        batch_op.add_column(sa.Column("struck_out", sa.Text(), server_default="", nullable=False))


def downgrade() -> None:
    """What was struck out goes: the older log could only show it as standing."""
    op.execute("DELETE FROM sign_off WHERE struck_out <> ''")
    with op.batch_alter_table("sign_off", schema=None) as batch_op:
        batch_op.drop_column("struck_out")
    with op.batch_alter_table("progress", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_progress_student_id_student"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_progress_student_id"))
        batch_op.drop_column("student_id")
