"""Delays of prints that a person said, where measuring could not tell them."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("print", sa.Column("delay_by_hand_samples", sa.Float(), nullable=True))
