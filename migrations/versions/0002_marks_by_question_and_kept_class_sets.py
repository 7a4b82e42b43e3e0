"""Marks by question, and the files of large class sets."""

import sqlalchemy as sa
from alembic import op

import app.db

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

OWN = sa.text("treatment_id IS NULL")
BY_PAPER = "uq_mark_student_id_treatment_id_artifact"
BY_QUESTION = "uq_mark_student_id_treatment_id_artifact_question"


def upgrade() -> None:
    op.create_table(
        "class_set_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("paper", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("query", sa.JSON(), nullable=False),
        sa.Column("made_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_class_set_file_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_class_set_file")),
    )
    with op.batch_alter_table("class_set_file", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_class_set_file_section_id"), ["section_id"], unique=False
        )
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.add_column(sa.Column("question", sa.Text(), server_default="", nullable=False))
        batch_op.alter_column("treatment_id", existing_type=sa.Integer(), nullable=True)
        batch_op.drop_constraint(batch_op.f(BY_PAPER), type_="unique")
        batch_op.create_unique_constraint(
            batch_op.f(BY_QUESTION), ["student_id", "treatment_id", "artifact", "question"]
        )
        batch_op.create_index(
            "uq_mark_own_question",
            ["student_id", "artifact", "question"],
            unique=True,
            sqlite_where=OWN,
            postgresql_where=OWN,
        )


def downgrade() -> None:
    """The marks of questions cannot stand in the older shape: those of a paper are added up."""
    op.execute(
        "UPDATE mark SET score = (SELECT SUM(o.score) FROM mark o WHERE o.student_id = "
        "mark.student_id AND o.treatment_id = mark.treatment_id AND o.artifact = mark.artifact), "
        "out_of = (SELECT SUM(o.out_of) FROM mark o WHERE o.student_id = mark.student_id "
        "AND o.treatment_id = mark.treatment_id AND o.artifact = mark.artifact) "
        "WHERE treatment_id IS NOT NULL"
    )
    op.execute(
        "DELETE FROM mark WHERE treatment_id IS NULL OR id NOT IN (SELECT MIN(id) FROM mark "
        "WHERE treatment_id IS NOT NULL GROUP BY student_id, treatment_id, artifact)"
    )
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.drop_index("uq_mark_own_question", sqlite_where=OWN, postgresql_where=OWN)
        batch_op.drop_constraint(batch_op.f(BY_QUESTION), type_="unique")
        batch_op.create_unique_constraint(
            batch_op.f(BY_PAPER), ["student_id", "treatment_id", "artifact"]
        )
        batch_op.alter_column("treatment_id", existing_type=sa.Integer(), nullable=False)
        batch_op.drop_column("question")
    with op.batch_alter_table("class_set_file", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_class_set_file_section_id"))
    op.drop_table("class_set_file")
