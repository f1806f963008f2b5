"""Ports and facts of gear, a hook-up plan for each pass, sound levels in the room."""

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
