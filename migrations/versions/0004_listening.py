"""Blind choices, hearing tests, the balance of a pass's prints and the blend that was chosen of them."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
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
