"""What photos showed of settings that were confirmed, and photos that a recall is held against."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

FILES = ("original_file_id", "shown_file_id", "thumbnail_file_id")


def upgrade() -> None:
    op.create_table(
        "setting_crop",
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("control_id", sa.Integer(), nullable=False),
        sa.Column("reading", sa.String(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        _refers("setting_crop", "control_id", "control", ondelete="CASCADE"),
        _refers("setting_crop", "file_id", "stored_file"),
        _refers("setting_crop", "step_id", "chain_step", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("step_id", "control_id", name=op.f("pk_setting_crop")),
    )
    op.create_table(
        "draft_crop",
        sa.Column("draft_id", sa.Integer(), nullable=False),
        sa.Column("gear_id", sa.Integer(), nullable=False),
        sa.Column("control_key", sa.String(), nullable=False),
        sa.Column("reading", sa.String(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        _refers("draft_crop", "draft_id", "draft", ondelete="CASCADE"),
        _refers("draft_crop", "file_id", "stored_file"),
        _refers("draft_crop", "gear_id", "gear", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("draft_id", "gear_id", "control_key", name=op.f("pk_draft_crop")),
    )
    op.create_table(
        "recall_photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recall_id", sa.Integer(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        *(sa.Column(name, sa.Integer(), nullable=False) for name in FILES),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        *(_refers("recall_photo", name, "stored_file") for name in FILES),
        _refers("recall_photo", "recall_id", "recall", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_photo")),
        sqlite_autoincrement=True,
    )
    for table, columns in (
        ("setting_crop", ("file_id",)),
        ("draft_crop", ("file_id",)),
        ("recall_photo", (*FILES, "recall_id")),
    ):
        for column in columns:
            op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def _refers(table: str, column: str, to: str, ondelete: str | None = None) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{to}.id"], name=op.f(f"fk_{table}_{column}_{to}"), ondelete=ondelete
    )
