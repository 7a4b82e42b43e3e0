"""The schema at first depth."""

import sqlalchemy as sa
from alembic import op

import app.db

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "school",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("holiday_country", sa.Text(), nullable=False),
        sa.Column("approval_days", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_school")),
    )
    op.create_table(
        "build",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("version", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("band", sa.Text(), nullable=False),
        sa.Column("team_size", sa.Integer(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("quantities", sa.JSON(), nullable=False),
        sa.Column("strings", sa.JSON(), nullable=False),
        sa.Column("no_treatment", sa.JSON(), nullable=False),
        sa.Column("blanks", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_build_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build")),
        sa.UniqueConstraint(
            "school_id", "key", "version", name=op.f("uq_build_school_id_key_version")
        ),
    )
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_build_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_build_school_id"), ["school_id"], unique=False)

    op.create_table(
        "concept",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_concept_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_concept")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_concept_school_id_key")),
    )
    with op.batch_alter_table("concept", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_concept_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_concept_school_id"), ["school_id"], unique=False)

    op.create_table(
        "department",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_department_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_department")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_department_school_id_key")),
    )
    with op.batch_alter_table("department", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_department_school_id"), ["school_id"], unique=False)

    op.create_table(
        "fixture_type",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_fixture_type_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fixture_type")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_fixture_type_school_id_key")),
    )
    with op.batch_alter_table("fixture_type", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_fixture_type_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_fixture_type_school_id"), ["school_id"], unique=False)

    op.create_table(
        "framework",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("publisher", sa.Text(), nullable=False),
        sa.Column("version", sa.Text(), nullable=False),
        sa.Column("notice", sa.Text(), nullable=False),
        sa.Column("uri", sa.Text(), nullable=False),
        sa.Column("identifier", sa.Text(), nullable=False),
        sa.Column("revision", sa.Text(), nullable=False),
        sa.Column("source", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("imported_by", sa.Text(), nullable=False),
        sa.Column("imported_at", app.db.Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_framework_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_framework")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_framework_school_id_key")),
    )
    with op.batch_alter_table("framework", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_framework_school_id"), ["school_id"], unique=False)

    op.create_table(
        "material",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("cost_low", sa.Double(), nullable=False),
        sa.Column("cost_high", sa.Double(), nullable=False),
        sa.Column("currency", sa.Text(), nullable=False),
        sa.Column("lead_days_low", sa.Integer(), nullable=False),
        sa.Column("lead_days_high", sa.Integer(), nullable=False),
        sa.Column("loss_rate", sa.Double(), nullable=False),
        sa.Column("category", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("lowest_grade", sa.Integer(), nullable=True),
        sa.Column("pack_size", sa.Double(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_material_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_material_school_id_key")),
    )
    with op.batch_alter_table("material", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_material_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_material_school_id"), ["school_id"], unique=False)

    op.create_table(
        "permit_type",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("renew_after_days", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_permit_type_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_permit_type")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_permit_type_school_id_key")),
    )
    with op.batch_alter_table("permit_type", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_permit_type_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_permit_type_school_id"), ["school_id"], unique=False)

    op.create_table(
        "room",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_room_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_room")),
    )
    with op.batch_alter_table("room", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_room_school_id"), ["school_id"], unique=False)

    op.create_table(
        "school_rule",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=False),
        sa.Column("permit", sa.Text(), nullable=False),
        sa.Column("lowest_grade", sa.Integer(), nullable=True),
        sa.Column("lowest_age", sa.Integer(), nullable=True),
        sa.Column("rule", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_school_rule_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_school_rule")),
        sa.UniqueConstraint("school_id", "permit", name=op.f("uq_school_rule_school_id_permit")),
    )
    with op.batch_alter_table("school_rule", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_school_rule_school_id"), ["school_id"], unique=False)

    op.create_table(
        "station_type",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("places", sa.Integer(), nullable=False),
        sa.Column("hazard_class", sa.Text(), nullable=False),
        sa.Column("supervision", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=True),
        sa.Column("permit", sa.Text(), nullable=True),
        sa.Column("substitute_safe", sa.Boolean(), nullable=False),
        sa.Column("adult_only", sa.Boolean(), nullable=False),
        sa.Column("level_dba", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_station_type_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station_type")),
        sa.UniqueConstraint("school_id", "key", name=op.f("uq_station_type_school_id_key")),
    )
    with op.batch_alter_table("station_type", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_station_type_key"), ["key"], unique=False)
        batch_op.create_index(batch_op.f("ix_station_type_school_id"), ["school_id"], unique=False)

    op.create_table(
        "term",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("letters", sa.Text(), nullable=False),
        sa.Column("letter_policy", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_term_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_term")),
    )
    with op.batch_alter_table("term", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_term_school_id"), ["school_id"], unique=False)

    op.create_table(
        "adult",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("machine_qualified", sa.Boolean(), nullable=False),
        sa.Column("in_class", sa.Boolean(), nullable=False),
        sa.Column("outside_minutes_per_week", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_adult_room_id_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adult")),
    )
    with op.batch_alter_table("adult", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_adult_room_id"), ["room_id"], unique=False)

    op.create_table(
        "blade_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("changed_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("changed_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["room_id"], ["room.id"], name=op.f("fk_blade_change_room_id_room")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_blade_change")),
    )
    with op.batch_alter_table("blade_change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_blade_change_room_id"), ["room_id"], unique=False)

    op.create_table(
        "board_stock",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("length", sa.Text(), nullable=False),
        sa.Column("width", sa.Text(), nullable=False),
        sa.Column("thickness", sa.Text(), nullable=False),
        sa.Column("species", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_board_stock_room_id_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_board_stock")),
    )
    with op.batch_alter_table("board_stock", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_board_stock_room_id"), ["room_id"], unique=False)

    op.create_table(
        "course",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("department_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("band", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["department_id"], ["department.id"], name=op.f("fk_course_department_id_department")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_course")),
        sa.UniqueConstraint("department_id", "key", name=op.f("uq_course_department_id_key")),
    )
    with op.batch_alter_table("course", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_course_department_id"), ["department_id"], unique=False
        )

    op.create_table(
        "fixture",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_fixture_room_id_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fixture")),
        sa.UniqueConstraint("room_id", "key", name=op.f("uq_fixture_room_id_key")),
    )
    with op.batch_alter_table("fixture", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_fixture_room_id"), ["room_id"], unique=False)

    op.create_table(
        "phase",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("summary", sa.Text(), nullable=False),
        sa.Column("milestone", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_phase_build_id_build")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_phase")),
        sa.UniqueConstraint("build_id", "key", name=op.f("uq_phase_build_id_key")),
    )
    with op.batch_alter_table("phase", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_phase_build_id"), ["build_id"], unique=False)

    op.create_table(
        "standard",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("framework_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("domain", sa.Text(), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("grade_low", sa.Text(), nullable=False),
        sa.Column("grade_high", sa.Text(), nullable=False),
        sa.Column("parent", sa.Text(), nullable=False),
        sa.Column("aliases", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("statement", sa.Text(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("identifier", sa.Text(), nullable=False),
        sa.Column("uri", sa.Text(), nullable=False),
        sa.Column("item_type", sa.Text(), nullable=False),
        sa.Column("source", sa.JSON(none_as_null=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["framework_id"], ["framework.id"], name=op.f("fk_standard_framework_id_framework")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_standard")),
        sa.UniqueConstraint("framework_id", "code", name=op.f("uq_standard_framework_id_code")),
    )
    with op.batch_alter_table("standard", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_standard_code"), ["code"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_standard_framework_id"), ["framework_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_standard_identifier"), ["identifier"], unique=False)

    op.create_table(
        "standard_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("framework_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("identifier", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.Column("destination", sa.Text(), nullable=False),
        sa.Column("source", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["framework_id"],
            ["framework.id"],
            name=op.f("fk_standard_link_framework_id_framework"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_standard_link")),
    )
    with op.batch_alter_table("standard_link", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_standard_link_destination"), ["destination"], unique=False
        )
        batch_op.create_index(
            "ix_standard_link_ends", ["framework_id", "kind", "origin"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_standard_link_framework_id"), ["framework_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_standard_link_origin"), ["origin"], unique=False)

    op.create_table(
        "station",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("places", sa.Integer(), nullable=False),
        sa.Column("hazard_class", sa.Text(), nullable=False),
        sa.Column("supervision", sa.Text(), nullable=False),
        sa.Column("zone", sa.Text(), nullable=True),
        sa.Column("permit", sa.Text(), nullable=True),
        sa.Column("substitute_safe", sa.Boolean(), nullable=False),
        sa.Column("level_dba", sa.Double(), nullable=True),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_station_room_id_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station")),
        sa.UniqueConstraint("room_id", "key", name=op.f("uq_station_room_id_key")),
    )
    with op.batch_alter_table("station", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_station_room_id"), ["room_id"], unique=False)

    op.create_table(
        "stock",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("reorder_at", sa.Double(), nullable=True),
        sa.Column("place", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_stock_material_id_material")
        ),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_stock_room_id_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock")),
        sa.UniqueConstraint("room_id", "material_id", name=op.f("uq_stock_room_id_material_id")),
    )
    with op.batch_alter_table("stock", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_material_id"), ["material_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_room_id"), ["room_id"], unique=False)

    op.create_table(
        "term_day",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("term_id", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column("closed", sa.Boolean(), nullable=False),
        sa.Column("planned", sa.Boolean(), nullable=False),
        sa.Column("schedule", sa.Text(), nullable=True),
        sa.Column("drill_minutes", sa.Integer(), nullable=False),
        sa.Column("make_up", sa.Boolean(), nullable=False),
        sa.Column("letter", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["term_id"], ["term.id"], name=op.f("fk_term_day_term_id_term")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_term_day")),
        sa.UniqueConstraint("term_id", "date", name=op.f("uq_term_day_term_id_date")),
    )
    with op.batch_alter_table("term_day", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_term_day_term_id"), ["term_id"], unique=False)

    op.create_table(
        "treatment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("concept_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("band", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("goal", sa.Text(), nullable=False),
        sa.Column("explanation", sa.Text(), nullable=False),
        sa.Column("demonstration", sa.Text(), nullable=False),
        sa.Column("vocabulary", sa.JSON(), nullable=False),
        sa.Column("misconception", sa.Text(), nullable=False),
        sa.Column("response", sa.Text(), nullable=False),
        sa.Column("extension", sa.Text(), nullable=False),
        sa.Column("support", sa.Text(), nullable=False),
        sa.Column("prerequisites", sa.JSON(), nullable=False),
        sa.Column("calculator", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["concept_id"], ["concept.id"], name=op.f("fk_treatment_concept_id_concept")
        ),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_treatment_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_treatment")),
        sa.UniqueConstraint(
            "concept_id", "band", "school_id", name=op.f("uq_treatment_concept_id_band_school_id")
        ),
    )
    with op.batch_alter_table("treatment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_treatment_band"), ["band"], unique=False)
        batch_op.create_index(batch_op.f("ix_treatment_concept_id"), ["concept_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_treatment_school_id"), ["school_id"], unique=False)

    op.create_table(
        "user",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=False),
        sa.Column("department_id", sa.Integer(), nullable=True),
        sa.Column("email", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column(
            "role",
            sa.Enum(
                "teacher",
                "department-head",
                "workshop-lead",
                "administrator",
                name="role",
                native_enum=False,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", app.db.Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["department_id"], ["department.id"], name=op.f("fk_user_department_id_department")
        ),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_user_school_id_school")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_user")),
        sa.UniqueConstraint("email", name=op.f("uq_user_email")),
    )
    with op.batch_alter_table("user", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_user_department_id"), ["department_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_user_school_id"), ["school_id"], unique=False)

    op.create_table(
        "alignment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=True),
        sa.Column("treatment_id", sa.Integer(), nullable=False),
        sa.Column("standard_id", sa.Integer(), nullable=False),
        sa.Column("strength", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("condition", sa.Text(), nullable=False),
        sa.Column("practice", sa.Boolean(), nullable=False),
        sa.Column("decided_by", sa.Text(), nullable=False),
        sa.Column("decided_on", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_alignment_school_id_school")
        ),
        sa.ForeignKeyConstraint(
            ["standard_id"], ["standard.id"], name=op.f("fk_alignment_standard_id_standard")
        ),
        sa.ForeignKeyConstraint(
            ["treatment_id"],
            ["treatment.id"],
            name=op.f("fk_alignment_treatment_id_treatment"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alignment")),
        sa.UniqueConstraint(
            "treatment_id",
            "standard_id",
            "school_id",
            name=op.f("uq_alignment_treatment_id_standard_id_school_id"),
        ),
    )
    with op.batch_alter_table("alignment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_alignment_school_id"), ["school_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_alignment_standard_id"), ["standard_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_alignment_treatment_id"), ["treatment_id"], unique=False
        )

    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("school_id", sa.Integer(), nullable=False),
        sa.Column("treatment_id", sa.Integer(), nullable=False),
        sa.Column("standard_id", sa.Integer(), nullable=False),
        sa.Column("accepted", sa.Boolean(), nullable=False),
        sa.Column("origin", sa.Text(), nullable=False),
        sa.Column("shown", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("decided_by", sa.Text(), nullable=False),
        sa.Column("decided_at", app.db.Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["school_id"], ["school.id"], name=op.f("fk_decision_school_id_school")
        ),
        sa.ForeignKeyConstraint(
            ["standard_id"], ["standard.id"], name=op.f("fk_decision_standard_id_standard")
        ),
        sa.ForeignKeyConstraint(
            ["treatment_id"],
            ["treatment.id"],
            name=op.f("fk_decision_treatment_id_treatment"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
        sa.UniqueConstraint(
            "school_id",
            "treatment_id",
            "standard_id",
            name=op.f("uq_decision_school_id_treatment_id_standard_id"),
        ),
    )
    with op.batch_alter_table("decision", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_decision_school_id"), ["school_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_decision_standard_id"), ["standard_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_decision_treatment_id"), ["treatment_id"], unique=False
        )

    op.create_table(
        "framework_upload",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("user_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("given", sa.JSON(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("uploaded_at", app.db.Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["user_id"], ["user.id"], name=op.f("fk_framework_upload_user_id_user")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_framework_upload")),
        sa.UniqueConstraint("user_id", name=op.f("uq_framework_upload_user_id")),
    )
    op.create_table(
        "question",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("treatment_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("prompt", sa.Text(), nullable=False),
        sa.Column("parameters", sa.JSON(), nullable=False),
        sa.Column("computed", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("written", sa.Text(), nullable=False),
        sa.Column("wrong", sa.JSON(), nullable=False),
        sa.Column("depth_of_knowledge", sa.Integer(), nullable=False),
        sa.Column("measure_then_compare", sa.Boolean(), nullable=False),
        sa.Column("steps", sa.JSON(), nullable=False),
        sa.Column("space_lines", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["treatment_id"], ["treatment.id"], name=op.f("fk_question_treatment_id_treatment")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_question")),
        sa.UniqueConstraint("treatment_id", "key", name=op.f("uq_question_treatment_id_key")),
    )
    with op.batch_alter_table("question", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_question_treatment_id"), ["treatment_id"], unique=False
        )

    op.create_table(
        "required_standard",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("course_id", sa.Integer(), nullable=False),
        sa.Column("standard_id", sa.Integer(), nullable=False),
        sa.Column("by_date", sa.Date(), nullable=True),
        sa.Column("priority", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["course_id"], ["course.id"], name=op.f("fk_required_standard_course_id_course")
        ),
        sa.ForeignKeyConstraint(
            ["standard_id"], ["standard.id"], name=op.f("fk_required_standard_standard_id_standard")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_required_standard")),
        sa.UniqueConstraint(
            "course_id", "standard_id", name=op.f("uq_required_standard_course_id_standard_id")
        ),
    )
    with op.batch_alter_table("required_standard", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_required_standard_course_id"), ["course_id"], unique=False
        )
        batch_op.create_index(
            batch_op.f("ix_required_standard_standard_id"), ["standard_id"], unique=False
        )

    op.create_table(
        "section",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("course_id", sa.Integer(), nullable=False),
        sa.Column("term_id", sa.Integer(), nullable=False),
        sa.Column("teacher_id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("band", sa.Text(), nullable=False),
        sa.Column("starts_at", sa.Time(), nullable=False),
        sa.Column("pattern", sa.JSON(), nullable=False),
        sa.Column("bells", sa.JSON(), nullable=False),
        sa.Column("opening_minutes", sa.Integer(), nullable=False),
        sa.Column("closing_minutes", sa.Integer(), nullable=False),
        sa.Column("routine", sa.JSON(), nullable=False),
        sa.Column("showcase", sa.Date(), nullable=True),
        sa.Column("ready_made", sa.JSON(), nullable=False),
        sa.Column("keep_until", sa.Date(), nullable=True),
        sa.Column("staff_changes", sa.JSON(), nullable=False),
        sa.Column("feed_token", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_section_build_id_build")),
        sa.ForeignKeyConstraint(
            ["course_id"], ["course.id"], name=op.f("fk_section_course_id_course")
        ),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_section_room_id_room")),
        sa.ForeignKeyConstraint(
            ["teacher_id"], ["user.id"], name=op.f("fk_section_teacher_id_user")
        ),
        sa.ForeignKeyConstraint(["term_id"], ["term.id"], name=op.f("fk_section_term_id_term")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_section")),
        sa.UniqueConstraint("feed_token", name=op.f("uq_section_feed_token")),
        sa.UniqueConstraint("key", name=op.f("uq_section_key")),
    )
    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_section_build_id"), ["build_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_section_course_id"), ["course_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_section_room_id"), ["room_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_section_teacher_id"), ["teacher_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_section_term_id"), ["term_id"], unique=False)

    op.create_table(
        "step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("phase_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("purpose", sa.Text(), nullable=False),
        sa.Column("minutes_low", sa.Double(), nullable=False),
        sa.Column("minutes_typical", sa.Double(), nullable=False),
        sa.Column("minutes_high", sa.Double(), nullable=False),
        sa.Column("minutes_per", sa.Text(), nullable=False),
        sa.Column("hands", sa.Integer(), nullable=False),
        sa.Column("one_sitting", sa.Boolean(), nullable=False),
        sa.Column("minimum_sitting", sa.Double(), nullable=False),
        sa.Column("whole_class", sa.Boolean(), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("places", sa.Integer(), nullable=False),
        sa.Column("outside_class", sa.Boolean(), nullable=False),
        sa.Column("drying", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("holds", sa.JSON(), nullable=False),
        sa.Column("hazard_class", sa.Text(), nullable=False),
        sa.Column("hazards", sa.JSON(), nullable=False),
        sa.Column("cautions", sa.JSON(), nullable=False),
        sa.Column("protection", sa.JSON(), nullable=False),
        sa.Column("supervision", sa.Text(), nullable=False),
        sa.Column("permit", sa.Text(), nullable=True),
        sa.Column("grants", sa.JSON(), nullable=False),
        sa.Column("substitute_safe", sa.Boolean(), nullable=False),
        sa.Column("hold_point", sa.Boolean(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        sa.Column("tools", sa.JSON(), nullable=False),
        sa.Column("check", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("ready_made", sa.JSON(), nullable=False),
        sa.Column("catch_up", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["phase_id"], ["phase.id"], name=op.f("fk_step_phase_id_phase")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step")),
        sa.UniqueConstraint("phase_id", "key", name=op.f("uq_step_phase_id_key")),
    )
    with op.batch_alter_table("step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_step_phase_id"), ["phase_id"], unique=False)

    op.create_table(
        "stock_count",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("stock_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Double(), nullable=False),
        sa.Column("counted_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("counted_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["stock_id"], ["stock.id"], name=op.f("fk_stock_count_stock_id_stock")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_count")),
    )
    with op.batch_alter_table("stock_count", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_count_counted_at"), ["counted_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_count_stock_id"), ["stock_id"], unique=False)

    op.create_table(
        "exposure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("concept_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("shows", sa.Text(), nullable=False),
        sa.Column("reading", sa.Text(), nullable=False),
        sa.Column("quantity", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["concept_id"], ["concept.id"], name=op.f("fk_exposure_concept_id_concept")
        ),
        sa.ForeignKeyConstraint(["step_id"], ["step.id"], name=op.f("fk_exposure_step_id_step")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_exposure")),
        sa.UniqueConstraint("step_id", "concept_id", name=op.f("uq_exposure_step_id_concept_id")),
    )
    with op.batch_alter_table("exposure", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_exposure_concept_id"), ["concept_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_exposure_step_id"), ["step_id"], unique=False)

    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("progress", sa.JSON(), nullable=False),
        sa.Column("error", sa.Text(), nullable=False),
        sa.Column("stop_asked", sa.Boolean(), nullable=False),
        sa.Column("created_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("created_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_job_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_section_id"), ["section_id"], unique=False)

    op.create_table(
        "meeting",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("starts_at", sa.Time(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("letter", sa.Text(), nullable=True),
        sa.Column("week", sa.Integer(), nullable=False),
        sa.Column("opening_minutes", sa.Integer(), nullable=False),
        sa.Column("closing_minutes", sa.Integer(), nullable=False),
        sa.Column("lesson_minutes", sa.Integer(), nullable=False),
        sa.Column("test_minutes", sa.Integer(), nullable=False),
        sa.Column("qualified_adults", sa.Integer(), nullable=False),
        sa.Column("machine_power", sa.Boolean(), nullable=False),
        sa.Column("label", sa.Text(), nullable=False),
        sa.Column(
            "state",
            sa.Enum("planned", "taught", "lost", name="meetingstate", native_enum=False, length=20),
            nullable=False,
        ),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_meeting_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_meeting")),
        sa.UniqueConstraint(
            "section_id", "date", "starts_at", name=op.f("uq_meeting_section_id_date_starts_at")
        ),
    )
    with op.batch_alter_table("meeting", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_meeting_date"), ["date"], unique=False)
        batch_op.create_index(batch_op.f("ix_meeting_section_id"), ["section_id"], unique=False)

    op.create_table(
        "paper",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("seed", sa.Text(), nullable=False),
        sa.Column("recipe", sa.JSON(), nullable=False),
        sa.Column("created_at", app.db.Moment(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_paper_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_paper")),
    )
    with op.batch_alter_table("paper", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_paper_section_id"), ["section_id"], unique=False)

    op.create_table(
        "plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("created_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("created_by", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("finish_date", sa.Date(), nullable=True),
        sa.Column("bound_date", sa.Date(), nullable=True),
        sa.Column("gap_meetings", sa.Integer(), nullable=True),
        sa.Column("teams", sa.Integer(), nullable=False),
        sa.Column("teams_complete", sa.Integer(), nullable=False),
        sa.Column("limiting", sa.Text(), nullable=True),
        sa.Column("broken_rules", sa.JSON(), nullable=False),
        sa.Column("uncovered", sa.JSON(), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.Column("before_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["before_id"], ["plan.id"], name=op.f("fk_plan_before_id_plan")),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_plan_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plan")),
    )
    with op.batch_alter_table("plan", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plan_before_id"), ["before_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plan_section_id"), ["section_id"], unique=False)

    op.create_table(
        "product_label",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("station", sa.Text(), nullable=False),
        sa.Column("lowest_temperature_c", sa.Double(), nullable=True),
        sa.Column("highest_temperature_c", sa.Double(), nullable=True),
        sa.Column("highest_humidity_percent", sa.Double(), nullable=True),
        sa.Column("recoat_hours", sa.Double(), nullable=True),
        sa.Column("product", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_product_label_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_product_label")),
        sa.UniqueConstraint(
            "section_id", "station", name=op.f("uq_product_label_section_id_station")
        ),
    )
    with op.batch_alter_table("product_label", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_product_label_section_id"), ["section_id"], unique=False
        )

    op.create_table(
        "review",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("standard_id", sa.Integer(), nullable=True),
        sa.Column("week", sa.Integer(), nullable=True),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("created_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("approved", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("answered_at", app.db.Moment(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_review_section_id_section")
        ),
        sa.ForeignKeyConstraint(
            ["standard_id"], ["standard.id"], name=op.f("fk_review_standard_id_standard")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_review")),
    )
    with op.batch_alter_table("review", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_review_section_id"), ["section_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_review_standard_id"), ["standard_id"], unique=False)

    op.create_table(
        "step_material",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("quantity", sa.Double(), nullable=False),
        sa.Column("per", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["material_id"], ["material.id"], name=op.f("fk_step_material_material_id_material")
        ),
        sa.ForeignKeyConstraint(
            ["step_id"], ["step.id"], name=op.f("fk_step_material_step_id_step")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_step_material")),
    )
    with op.batch_alter_table("step_material", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_step_material_material_id"), ["material_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_step_material_step_id"), ["step_id"], unique=False)

    op.create_table(
        "team",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("code", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_team_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_team")),
        sa.UniqueConstraint("section_id", "code", name=op.f("uq_team_section_id_code")),
    )
    with op.batch_alter_table("team", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_team_section_id"), ["section_id"], unique=False)

    op.create_table(
        "activity",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("team_id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("first_minute", sa.Integer(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("parts", sa.Integer(), nullable=False),
        sa.Column("pinned", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_activity_meeting_id_meeting")
        ),
        sa.ForeignKeyConstraint(["plan_id"], ["plan.id"], name=op.f("fk_activity_plan_id_plan")),
        sa.ForeignKeyConstraint(["step_id"], ["step.id"], name=op.f("fk_activity_step_id_step")),
        sa.ForeignKeyConstraint(["team_id"], ["team.id"], name=op.f("fk_activity_team_id_team")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_activity")),
    )
    with op.batch_alter_table("activity", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_activity_meeting_id"), ["meeting_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_activity_plan_id"), ["plan_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_activity_step_id"), ["step_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_activity_team_id"), ["team_id"], unique=False)

    op.create_table(
        "event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("first_day", sa.Date(), nullable=False),
        sa.Column("last_day", sa.Date(), nullable=False),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.Column("recorded_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Text(), nullable=False),
        sa.Column("undone_at", app.db.Moment(timezone=True), nullable=True),
        sa.Column("undone_by", sa.Text(), nullable=False),
        sa.Column("plan_before_id", sa.Integer(), nullable=True),
        sa.Column("plan_after_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["plan_after_id"], ["plan.id"], name=op.f("fk_event_plan_after_id_plan")
        ),
        sa.ForeignKeyConstraint(
            ["plan_before_id"], ["plan.id"], name=op.f("fk_event_plan_before_id_plan")
        ),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_event_section_id_section")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_event")),
    )
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_event_plan_after_id"), ["plan_after_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_event_plan_before_id"), ["plan_before_id"], unique=False
        )
        batch_op.create_index(batch_op.f("ix_event_section_id"), ["section_id"], unique=False)

    op.create_table(
        "instrument",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("team_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["team_id"], ["team.id"], name=op.f("fk_instrument_team_id_team")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument")),
        sa.UniqueConstraint("team_id", name=op.f("uq_instrument_team_id")),
    )
    op.create_table(
        "lesson",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("plan_id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("treatment_id", sa.Integer(), nullable=True),
        sa.Column("permit", sa.Text(), nullable=True),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_lesson_meeting_id_meeting")
        ),
        sa.ForeignKeyConstraint(["plan_id"], ["plan.id"], name=op.f("fk_lesson_plan_id_plan")),
        sa.ForeignKeyConstraint(
            ["treatment_id"], ["treatment.id"], name=op.f("fk_lesson_treatment_id_treatment")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lesson")),
    )
    with op.batch_alter_table("lesson", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lesson_meeting_id"), ["meeting_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lesson_plan_id"), ["plan_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lesson_treatment_id"), ["treatment_id"], unique=False)

    op.create_table(
        "progress",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("team_id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("event", sa.Text(), nullable=False),
        sa.Column("initials", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("recorded_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_progress_meeting_id_meeting")
        ),
        sa.ForeignKeyConstraint(["step_id"], ["step.id"], name=op.f("fk_progress_step_id_step")),
        sa.ForeignKeyConstraint(["team_id"], ["team.id"], name=op.f("fk_progress_team_id_team")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_progress")),
    )
    with op.batch_alter_table("progress", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_progress_meeting_id"), ["meeting_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_progress_step_id"), ["step_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_progress_team_id"), ["team_id"], unique=False)
        batch_op.create_index(
            "uq_progress_done",
            ["team_id", "step_id"],
            unique=True,
            sqlite_where=sa.text("event = 'done'"),
            postgresql_where=sa.text("event = 'done'"),
        )

    op.create_table(
        "room_air",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("temperature_c", sa.Double(), nullable=False),
        sa.Column("humidity_percent", sa.Double(), nullable=False),
        sa.Column("recorded_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_room_air_meeting_id_meeting")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_room_air")),
    )
    with op.batch_alter_table("room_air", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_room_air_meeting_id"), ["meeting_id"], unique=False)

    op.create_table(
        "student",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("section_id", sa.Integer(), nullable=False),
        sa.Column("team_id", sa.Integer(), nullable=True),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("grade", sa.Text(), nullable=False),
        sa.Column("absence_rate", sa.Double(), nullable=False),
        sa.Column("entered", sa.Date(), nullable=True),
        sa.Column("left", sa.Date(), nullable=True),
        sa.Column("source_id", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["section_id"], ["section.id"], name=op.f("fk_student_section_id_section")
        ),
        sa.ForeignKeyConstraint(["team_id"], ["team.id"], name=op.f("fk_student_team_id_team")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_student")),
        sa.UniqueConstraint("section_id", "code", name=op.f("uq_student_section_id_code")),
    )
    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_student_section_id"), ["section_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_student_team_id"), ["team_id"], unique=False)

    op.create_table(
        "absence",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_absence_meeting_id_meeting")
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_absence_student_id_student")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_absence")),
        sa.UniqueConstraint(
            "meeting_id", "student_id", name=op.f("uq_absence_meeting_id_student_id")
        ),
    )
    with op.batch_alter_table("absence", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_absence_meeting_id"), ["meeting_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_absence_student_id"), ["student_id"], unique=False)

    op.create_table(
        "instrument_quantity",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("nominal", sa.Text(), nullable=False),
        sa.Column("measured", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(
            ["instrument_id"],
            ["instrument.id"],
            name=op.f("fk_instrument_quantity_instrument_id_instrument"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_instrument_quantity")),
        sa.UniqueConstraint(
            "instrument_id", "key", name=op.f("uq_instrument_quantity_instrument_id_key")
        ),
    )
    with op.batch_alter_table("instrument_quantity", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_instrument_quantity_instrument_id"), ["instrument_id"], unique=False
        )

    op.create_table(
        "mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("treatment_id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("artifact", sa.Text(), nullable=False),
        sa.Column("score", sa.Double(), nullable=False),
        sa.Column("out_of", sa.Double(), nullable=False),
        sa.Column("recorded_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_mark_meeting_id_meeting")
        ),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_mark_student_id_student")
        ),
        sa.ForeignKeyConstraint(
            ["treatment_id"], ["treatment.id"], name=op.f("fk_mark_treatment_id_treatment")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mark")),
        sa.UniqueConstraint(
            "student_id",
            "treatment_id",
            "artifact",
            name=op.f("uq_mark_student_id_treatment_id_artifact"),
        ),
    )
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_mark_meeting_id"), ["meeting_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_student_id"), ["student_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_mark_treatment_id"), ["treatment_id"], unique=False)

    op.create_table(
        "measurement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("team_id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("meeting_id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=True),
        sa.Column("quantity", sa.Text(), nullable=False),
        sa.Column("written", sa.Text(), nullable=False),
        sa.Column("value", sa.Double(), nullable=True),
        sa.Column("unit", sa.Text(), nullable=False),
        sa.Column("within", sa.Boolean(), nullable=True),
        sa.Column("instrument_used", sa.Text(), nullable=False),
        sa.Column("resolution", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("recorded_at", app.db.Moment(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["meeting_id"], ["meeting.id"], name=op.f("fk_measurement_meeting_id_meeting")
        ),
        sa.ForeignKeyConstraint(["step_id"], ["step.id"], name=op.f("fk_measurement_step_id_step")),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_measurement_student_id_student")
        ),
        sa.ForeignKeyConstraint(["team_id"], ["team.id"], name=op.f("fk_measurement_team_id_team")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_measurement")),
    )
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_measurement_meeting_id"), ["meeting_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_measurement_step_id"), ["step_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_measurement_student_id"), ["student_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_measurement_team_id"), ["team_id"], unique=False)

    op.create_table(
        "sign_off",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("permit", sa.Text(), nullable=False),
        sa.Column("part", sa.Text(), nullable=False),
        sa.Column("date", sa.Date(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("test_version", sa.Text(), nullable=False),
        sa.Column("score", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"], ["student.id"], name=op.f("fk_sign_off_student_id_student")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_off")),
    )
    with op.batch_alter_table("sign_off", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_off_student_id"), ["student_id"], unique=False)

    op.create_table(
        "student_name",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("student_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["student_id"],
            ["student.id"],
            name=op.f("fk_student_name_student_id_student"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_student_name")),
        sa.UniqueConstraint("student_id", name=op.f("uq_student_name_student_id")),
    )


def downgrade() -> None:
    op.drop_table("student_name")
    with op.batch_alter_table("sign_off", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_off_student_id"))

    op.drop_table("sign_off")
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_measurement_team_id"))
        batch_op.drop_index(batch_op.f("ix_measurement_student_id"))
        batch_op.drop_index(batch_op.f("ix_measurement_step_id"))
        batch_op.drop_index(batch_op.f("ix_measurement_meeting_id"))

    op.drop_table("measurement")
    with op.batch_alter_table("mark", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_mark_treatment_id"))
        batch_op.drop_index(batch_op.f("ix_mark_student_id"))
        batch_op.drop_index(batch_op.f("ix_mark_meeting_id"))

    op.drop_table("mark")
    with op.batch_alter_table("instrument_quantity", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_instrument_quantity_instrument_id"))

    op.drop_table("instrument_quantity")
    with op.batch_alter_table("absence", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_absence_student_id"))
        batch_op.drop_index(batch_op.f("ix_absence_meeting_id"))

    op.drop_table("absence")
    with op.batch_alter_table("student", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_student_team_id"))
        batch_op.drop_index(batch_op.f("ix_student_section_id"))

    op.drop_table("student")
    with op.batch_alter_table("room_air", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_room_air_meeting_id"))

    op.drop_table("room_air")
    with op.batch_alter_table("progress", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_progress_done",
            sqlite_where=sa.text("event = 'done'"),
            postgresql_where=sa.text("event = 'done'"),
        )
        batch_op.drop_index(batch_op.f("ix_progress_team_id"))
        batch_op.drop_index(batch_op.f("ix_progress_step_id"))
        batch_op.drop_index(batch_op.f("ix_progress_meeting_id"))

    op.drop_table("progress")
    with op.batch_alter_table("lesson", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_lesson_treatment_id"))
        batch_op.drop_index(batch_op.f("ix_lesson_plan_id"))
        batch_op.drop_index(batch_op.f("ix_lesson_meeting_id"))

    op.drop_table("lesson")
    op.drop_table("instrument")
    with op.batch_alter_table("event", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_event_section_id"))
        batch_op.drop_index(batch_op.f("ix_event_plan_before_id"))
        batch_op.drop_index(batch_op.f("ix_event_plan_after_id"))

    op.drop_table("event")
    with op.batch_alter_table("activity", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_activity_team_id"))
        batch_op.drop_index(batch_op.f("ix_activity_step_id"))
        batch_op.drop_index(batch_op.f("ix_activity_plan_id"))
        batch_op.drop_index(batch_op.f("ix_activity_meeting_id"))

    op.drop_table("activity")
    with op.batch_alter_table("team", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_team_section_id"))

    op.drop_table("team")
    with op.batch_alter_table("step_material", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_step_material_step_id"))
        batch_op.drop_index(batch_op.f("ix_step_material_material_id"))

    op.drop_table("step_material")
    with op.batch_alter_table("review", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_review_standard_id"))
        batch_op.drop_index(batch_op.f("ix_review_section_id"))

    op.drop_table("review")
    with op.batch_alter_table("product_label", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_product_label_section_id"))

    op.drop_table("product_label")
    with op.batch_alter_table("plan", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plan_section_id"))
        batch_op.drop_index(batch_op.f("ix_plan_before_id"))

    op.drop_table("plan")
    with op.batch_alter_table("paper", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_paper_section_id"))

    op.drop_table("paper")
    with op.batch_alter_table("meeting", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_meeting_section_id"))
        batch_op.drop_index(batch_op.f("ix_meeting_date"))

    op.drop_table("meeting")
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_job_section_id"))

    op.drop_table("job")
    with op.batch_alter_table("exposure", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_exposure_step_id"))
        batch_op.drop_index(batch_op.f("ix_exposure_concept_id"))

    op.drop_table("exposure")
    with op.batch_alter_table("stock_count", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_count_stock_id"))
        batch_op.drop_index(batch_op.f("ix_stock_count_counted_at"))

    op.drop_table("stock_count")
    with op.batch_alter_table("step", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_step_phase_id"))

    op.drop_table("step")
    with op.batch_alter_table("section", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_section_term_id"))
        batch_op.drop_index(batch_op.f("ix_section_teacher_id"))
        batch_op.drop_index(batch_op.f("ix_section_room_id"))
        batch_op.drop_index(batch_op.f("ix_section_course_id"))
        batch_op.drop_index(batch_op.f("ix_section_build_id"))

    op.drop_table("section")
    with op.batch_alter_table("required_standard", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_required_standard_standard_id"))
        batch_op.drop_index(batch_op.f("ix_required_standard_course_id"))

    op.drop_table("required_standard")
    with op.batch_alter_table("question", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_question_treatment_id"))

    op.drop_table("question")
    op.drop_table("framework_upload")
    with op.batch_alter_table("decision", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_decision_treatment_id"))
        batch_op.drop_index(batch_op.f("ix_decision_standard_id"))
        batch_op.drop_index(batch_op.f("ix_decision_school_id"))

    op.drop_table("decision")
    with op.batch_alter_table("alignment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_alignment_treatment_id"))
        batch_op.drop_index(batch_op.f("ix_alignment_standard_id"))
        batch_op.drop_index(batch_op.f("ix_alignment_school_id"))

    op.drop_table("alignment")
    with op.batch_alter_table("user", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_user_school_id"))
        batch_op.drop_index(batch_op.f("ix_user_department_id"))

    op.drop_table("user")
    with op.batch_alter_table("treatment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_treatment_school_id"))
        batch_op.drop_index(batch_op.f("ix_treatment_concept_id"))
        batch_op.drop_index(batch_op.f("ix_treatment_band"))

    op.drop_table("treatment")
    with op.batch_alter_table("term_day", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_term_day_term_id"))

    op.drop_table("term_day")
    with op.batch_alter_table("stock", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_room_id"))
        batch_op.drop_index(batch_op.f("ix_stock_material_id"))

    op.drop_table("stock")
    with op.batch_alter_table("station", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_station_room_id"))

    op.drop_table("station")
    with op.batch_alter_table("standard_link", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_standard_link_origin"))
        batch_op.drop_index(batch_op.f("ix_standard_link_framework_id"))
        batch_op.drop_index("ix_standard_link_ends")
        batch_op.drop_index(batch_op.f("ix_standard_link_destination"))

    op.drop_table("standard_link")
    with op.batch_alter_table("standard", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_standard_identifier"))
        batch_op.drop_index(batch_op.f("ix_standard_framework_id"))
        batch_op.drop_index(batch_op.f("ix_standard_code"))

    op.drop_table("standard")
    with op.batch_alter_table("phase", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_phase_build_id"))

    op.drop_table("phase")
    with op.batch_alter_table("fixture", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_fixture_room_id"))

    op.drop_table("fixture")
    with op.batch_alter_table("course", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_course_department_id"))

    op.drop_table("course")
    with op.batch_alter_table("board_stock", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_board_stock_room_id"))

    op.drop_table("board_stock")
    with op.batch_alter_table("blade_change", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_blade_change_room_id"))

    op.drop_table("blade_change")
    with op.batch_alter_table("adult", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_adult_room_id"))

    op.drop_table("adult")
    with op.batch_alter_table("term", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_term_school_id"))

    op.drop_table("term")
    with op.batch_alter_table("station_type", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_station_type_school_id"))
        batch_op.drop_index(batch_op.f("ix_station_type_key"))

    op.drop_table("station_type")
    with op.batch_alter_table("school_rule", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_school_rule_school_id"))

    op.drop_table("school_rule")
    with op.batch_alter_table("room", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_room_school_id"))

    op.drop_table("room")
    with op.batch_alter_table("permit_type", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_permit_type_school_id"))
        batch_op.drop_index(batch_op.f("ix_permit_type_key"))

    op.drop_table("permit_type")
    with op.batch_alter_table("material", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_material_school_id"))
        batch_op.drop_index(batch_op.f("ix_material_key"))

    op.drop_table("material")
    with op.batch_alter_table("framework", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_framework_school_id"))

    op.drop_table("framework")
    with op.batch_alter_table("fixture_type", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_fixture_type_school_id"))
        batch_op.drop_index(batch_op.f("ix_fixture_type_key"))

    op.drop_table("fixture_type")
    with op.batch_alter_table("department", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_department_school_id"))

    op.drop_table("department")
    with op.batch_alter_table("concept", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_concept_school_id"))
        batch_op.drop_index(batch_op.f("ix_concept_key"))

    op.drop_table("concept")
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_build_school_id"))
        batch_op.drop_index(batch_op.f("ix_build_key"))

    op.drop_table("build")
    op.drop_table("school")
