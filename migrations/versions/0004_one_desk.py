"""One desk."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "measured_finding",
        sa.Column("measurement_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["measurement_id"],
            ["measurement.id"],
            name=op.f("fk_measured_finding_measurement_id_measurement"),
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("measurement_id", "kind", name=op.f("pk_measured_finding")),
    )
    op.create_index(op.f("ix_measured_finding_kind"), "measured_finding", ["kind"])
    # Stopping Dialback in the middle of a measurement used to count as the measurement's fault.
    for noun in ("measurement", "audition", "examination"):
        op.execute(
            f"UPDATE {noun} SET state = 'waiting', reason = '', tries = 0 "
            "WHERE state = 'failed' AND reason LIKE '% ended the measuring process 3 times.%'"
        )
    op.add_column("pass", sa.Column("chain_name", sa.String(), nullable=False, server_default=""))
