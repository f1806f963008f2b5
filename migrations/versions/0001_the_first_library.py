"""the first library"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "gear",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("retired_at", sa.DateTime(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_gear"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "project",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("artist", sa.String(), nullable=False),
        sa.Column("sample_rate", sa.Integer(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_project"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "stored_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("media_type", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stored_file"),
        sa.UniqueConstraint("sha256", name="uq_stored_file_sha256"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "control_layout",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("gear_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("gear_name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["gear_id"], ["gear.id"], name="fk_control_layout_gear_id_gear", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_control_layout"),
        sa.UniqueConstraint("gear_id", "version", name="uq_control_layout_gear_id_version"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "measurement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("source_file_id", sa.Integer(), nullable=True),
        sa.Column("algorithm_version", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("figures", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_measurement_file_id_stored_file", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["source_file_id"],
            ["stored_file.id"],
            name="fk_measurement_source_file_id_stored_file",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_measurement"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("measurement", schema=None) as batch_op:
        batch_op.create_index(
            "ix_measurement_of_file", ["file_id", "source_file_id", "algorithm_version"], unique=False
        )
        batch_op.create_index("ix_measurement_source_file_id", ["source_file_id"], unique=False)
        batch_op.create_index("ix_measurement_state", ["state"], unique=False)

    op.create_table(
        "source_track",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("project_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("instrument", sa.String(), nullable=False),
        sa.Column("recorded_with", sa.String(), nullable=False),
        sa.Column("gain", sa.String(), nullable=False),
        sa.Column("tuning", sa.String(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["stored_file.id"], name="fk_source_track_file_id_stored_file"),
        sa.ForeignKeyConstraint(
            ["project_id"], ["project.id"], name="fk_source_track_project_id_project", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_source_track"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("source_track", schema=None) as batch_op:
        batch_op.create_index("ix_source_track_file_id", ["file_id"], unique=False)
        batch_op.create_index("ix_source_track_project_id", ["project_id"], unique=False)

    op.create_table(
        "control",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("layout_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("spec", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["layout_id"],
            ["control_layout.id"],
            name="fk_control_layout_id_control_layout",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_control"),
        sa.UniqueConstraint("layout_id", "key", name="uq_control_layout_id_key"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "pass",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("notes", sa.String(), nullable=False),
        sa.Column("hook_up", sa.String(), nullable=False),
        sa.Column("levels", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("edited_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["source_id"], ["source_track.id"], name="fk_pass_source_id_source_track", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_pass"),
        sa.UniqueConstraint("source_id", "number", name="uq_pass_source_id_number"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("pass", schema=None) as batch_op:
        batch_op.create_index("ix_pass_created_at", ["created_at"], unique=False)

    op.create_table(
        "chain_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("branch", sa.String(), nullable=False),
        sa.Column("gear_id", sa.Integer(), nullable=False),
        sa.Column("layout_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["gear_id"], ["gear.id"], name="fk_chain_step_gear_id_gear"),
        sa.ForeignKeyConstraint(
            ["layout_id"], ["control_layout.id"], name="fk_chain_step_layout_id_control_layout"
        ),
        sa.ForeignKeyConstraint(
            ["pass_id"], ["pass.id"], name="fk_chain_step_pass_id_pass", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_chain_step"),
        sa.UniqueConstraint("pass_id", "gear_id", name="uq_chain_step_pass_id_gear_id"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("chain_step", schema=None) as batch_op:
        batch_op.create_index("ix_chain_step_gear_id", ["gear_id"], unique=False)
        batch_op.create_index("ix_chain_step_layout_id", ["layout_id"], unique=False)

    op.create_table(
        "keeper_mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["pass_id"], ["pass.id"], name="fk_keeper_mark_pass_id_pass", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_keeper_mark"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("keeper_mark", schema=None) as batch_op:
        batch_op.create_index("ix_keeper_mark_pass_id", ["pass_id"], unique=False)

    op.create_table(
        "mic_placement",
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("speaker", sa.String(), nullable=False),
        sa.Column("distance_mm", sa.Float(), nullable=True),
        sa.Column("offset_mm", sa.Float(), nullable=True),
        sa.Column("angle_deg", sa.Float(), nullable=True),
        sa.Column("height_mm", sa.Float(), nullable=True),
        sa.Column("pattern", sa.String(), nullable=False),
        sa.Column("pad_db", sa.Float(), nullable=True),
        sa.Column("low_cut_hz", sa.Float(), nullable=True),
        sa.Column("preamp", sa.String(), nullable=False),
        sa.Column("gain", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["step_id"], ["chain_step.id"], name="fk_mic_placement_step_id_chain_step", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("step_id", name="pk_mic_placement"),
    )
    op.create_table(
        "photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=True),
        sa.Column("step_id", sa.Integer(), nullable=True),
        sa.Column("gear_id", sa.Integer(), nullable=True),
        sa.Column("caption", sa.String(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("original_file_id", sa.Integer(), nullable=False),
        sa.Column("shown_file_id", sa.Integer(), nullable=False),
        sa.Column("thumbnail_file_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("(pass_id IS NULL) <> (gear_id IS NULL)", name="ck_photo_of_a_pass_or_gear"),
        sa.ForeignKeyConstraint(["gear_id"], ["gear.id"], name="fk_photo_gear_id_gear", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["original_file_id"], ["stored_file.id"], name="fk_photo_original_file_id_stored_file"
        ),
        sa.ForeignKeyConstraint(["pass_id"], ["pass.id"], name="fk_photo_pass_id_pass", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["shown_file_id"], ["stored_file.id"], name="fk_photo_shown_file_id_stored_file"
        ),
        sa.ForeignKeyConstraint(
            ["step_id"], ["chain_step.id"], name="fk_photo_step_id_chain_step", ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["thumbnail_file_id"], ["stored_file.id"], name="fk_photo_thumbnail_file_id_stored_file"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_photo"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("photo", schema=None) as batch_op:
        batch_op.create_index("ix_photo_gear_id", ["gear_id"], unique=False)
        batch_op.create_index("ix_photo_original_file_id", ["original_file_id"], unique=False)
        batch_op.create_index("ix_photo_pass_id", ["pass_id"], unique=False)
        batch_op.create_index("ix_photo_shown_file_id", ["shown_file_id"], unique=False)
        batch_op.create_index("ix_photo_step_id", ["step_id"], unique=False)
        batch_op.create_index("ix_photo_thumbnail_file_id", ["thumbnail_file_id"], unique=False)

    op.create_table(
        "print",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=True),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["stored_file.id"], name="fk_print_file_id_stored_file"),
        sa.ForeignKeyConstraint(["pass_id"], ["pass.id"], name="fk_print_pass_id_pass", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["step_id"], ["chain_step.id"], name="fk_print_step_id_chain_step", ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_print"),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("print", schema=None) as batch_op:
        batch_op.create_index("ix_print_file_id", ["file_id"], unique=False)
        batch_op.create_index("ix_print_pass_id", ["pass_id"], unique=False)
        batch_op.create_index("ix_print_step_id", ["step_id"], unique=False)

    op.create_table(
        "setting",
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("control_id", sa.Integer(), nullable=False),
        sa.Column("reading", sa.String(), nullable=False),
        sa.Column("position", sa.Float(), nullable=True),
        sa.Column("value", sa.Float(), nullable=True),
        sa.Column("approximate", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["control_id"], ["control.id"], name="fk_setting_control_id_control"),
        sa.ForeignKeyConstraint(
            ["step_id"], ["chain_step.id"], name="fk_setting_step_id_chain_step", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("step_id", "control_id", name="pk_setting"),
    )
    with op.batch_alter_table("setting", schema=None) as batch_op:
        batch_op.create_index(
            "ix_setting_control_id_position", ["control_id", "position", "step_id"], unique=False
        )
    op.execute(
        "CREATE VIRTUAL TABLE written_words USING fts5"
        "(words, tokenize = \"unicode61 remove_diacritics 2\", prefix = '2 3')"
    )
