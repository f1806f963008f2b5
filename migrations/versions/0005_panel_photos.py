"""Photos of panels that are read."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "panel_photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("layout_id", sa.Integer(), nullable=False),
        sa.Column("corners", sa.JSON(), nullable=False),
        sa.Column("marks", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["layout_id"],
            ["control_layout.id"],
            name=op.f("fk_panel_photo_layout_id_control_layout"),
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["photo_id"], ["photo.id"], name=op.f("fk_panel_photo_photo_id_photo"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_panel_photo")),
        sa.UniqueConstraint("photo_id", name=op.f("uq_panel_photo_photo_id")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_panel_photo_layout_id"), "panel_photo", ["layout_id"])
