"""Ports and facts of gear, hook-up plans, sound levels; auditions, blends, blind choices and hearing tests."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("control_layout", sa.Column("ports", sa.JSON(), nullable=True))
    op.add_column("control_layout", sa.Column("facts", sa.JSON(), nullable=False, server_default="{}"))
    op.create_table(
        "hook_up_plan",
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("plan", sa.JSON(), nullable=False),
        sa.Column("levels", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["pass_id"], ["pass.id"], name="fk_hook_up_plan_pass_id_pass", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("pass_id", name="pk_hook_up_plan"),
    )
    op.create_table(
        "sound_level",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("project_id", sa.Integer(), nullable=False),
        sa.Column("level_dba", sa.Float(), nullable=False),
        sa.Column("minutes", sa.Float(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["project_id"], ["project.id"], name="fk_sound_level_project_id_project", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_sound_level"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sound_level_project_id", "sound_level", ["project_id"])
    op.create_table(
        "audition",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("wanted", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("figures", sa.JSON(), nullable=True),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("used_at", sa.DateTime(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_audition"),
        sa.UniqueConstraint("key", name="uq_audition_key"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_audition_state", "audition", ["state"])
    op.add_column("print", sa.Column("balance_db", sa.Float(), nullable=False, server_default="0"))
    op.create_table(
        "blend",
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("settings", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["pass_id"], ["pass.id"], name="fk_blend_pass_id_pass", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("pass_id", name="pk_blend"),
    )
    op.create_table(
        "blind_choice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("pass_ids", sa.JSON(), nullable=False),
        sa.Column("said", sa.JSON(), nullable=False),
        sa.Column("begun_at", sa.DateTime(), nullable=False),
        sa.Column("revealed_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["source_id"],
            ["source_track.id"],
            name="fk_blind_choice_source_id_source_track",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_blind_choice"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_blind_choice_source_id", "blind_choice", ["source_id"])
    op.create_table(
        "hearing_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("pass_a", sa.Integer(), nullable=False),
        sa.Column("pass_b", sa.Integer(), nullable=False),
        sa.Column("trials", sa.Integer(), nullable=False),
        sa.Column("xs", sa.JSON(), nullable=False),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("begun_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["source_id"],
            ["source_track.id"],
            name="fk_hearing_test_source_id_source_track",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_hearing_test"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_hearing_test_source_id", "hearing_test", ["source_id"])
