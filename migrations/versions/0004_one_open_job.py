"""One open job of a kind for a section; of several that wait today the newest stays."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

OPEN = "state IN ('waiting', 'running')"


def upgrade() -> None:
    job = sa.table("job", *map(sa.column, ("id", "section_id", "kind", "state", "error")))
    newest = sa.select(sa.func.max(job.c.id)).where(sa.text(OPEN))
    op.execute(
        job.update()
        .where(sa.text(OPEN), job.c.id.not_in(newest.group_by(job.c.section_id, job.c.kind)))
        .values(state="failed", error="It was asked for twice; the later one stays.")
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index(
            "uq_job_open",
            ["section_id", "kind"],
            unique=True,
            sqlite_where=sa.text(OPEN),
            postgresql_where=sa.text(OPEN),
        )


def downgrade() -> None:
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.drop_index("uq_job_open")
