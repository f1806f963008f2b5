"""Jotting, phones, watched folders, recalls, reference signals, and what lets a row be handed on and come back."""

import json
import struct

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

HANDED_ON = (
    "project",
    "source_track",
    "gear",
    "control_layout",
    "pass",
    "print",
    "photo",
    "keeper_mark",
)
SHAPE_BANDS = 24  # one-third octaves from 50 Hz to 10 kHz
SOUND_LEVEL_NOTES, FREE_TEXTS, NAMES_OF_LAYOUTS = 24, 28, 29  # their places in the full-text index
PLACES = 256


def upgrade() -> None:
    for noun in HANDED_ON:
        op.add_column(noun, sa.Column("uid", sa.String(), nullable=False, server_default=""))
        op.execute(f'UPDATE "{noun}" SET uid = lower(hex(randomblob(16)))')
        op.create_index(f"ix_{noun}_uid", noun, ["uid"], unique=True)
    op.add_column("project", sa.Column("print_name_pattern", sa.String(), nullable=False, server_default=""))
    op.add_column(
        "project", sa.Column("quiet_while_printing", sa.Boolean(), nullable=False, server_default="0")
    )
    op.add_column("pass", sa.Column("rating", sa.Integer(), nullable=True))
    op.add_column("pass", sa.Column("waiting_since", sa.DateTime(), nullable=True))
    op.create_table(
        "print_repeat",
        sa.Column("print_id", sa.Integer(), nullable=False),
        sa.Column("first_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["first_id"], ["print.id"], name="fk_print_repeat_first_id_print", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["print_id"], ["print.id"], name="fk_print_repeat_print_id_print", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("print_id", name="pk_print_repeat"),
    )
    op.create_index("ix_print_repeat_first_id", "print_repeat", ["first_id"])
    op.create_table(
        "device",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("paired_at", sa.DateTime(), nullable=False),
        sa.Column("seen_at", sa.DateTime(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_device"),
        sa.UniqueConstraint("token_hash", name="uq_device_token_hash"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "received_jotting",
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.Column("received_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_received_jotting"),
    )
    op.create_index("ix_received_jotting_received_at", "received_jotting", ["received_at"])
    op.create_table(
        "shared_row",
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("noun", sa.String(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("shared_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("uid", name="pk_shared_row"),
    )
    op.create_table(
        "examination",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("other_file_id", sa.Integer(), nullable=True),
        sa.Column("source_file_id", sa.Integer(), nullable=True),
        sa.Column("wanted", sa.JSON(), nullable=False),
        sa.Column("algorithm_version", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("figures", sa.JSON(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_examination_file_id_stored_file", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["other_file_id"],
            ["stored_file.id"],
            name="fk_examination_other_file_id_stored_file",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["source_file_id"],
            ["stored_file.id"],
            name="fk_examination_source_file_id_stored_file",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_examination"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_examination_of_file", "examination", ["file_id", "kind", "other_file_id"])
    op.create_index("ix_examination_other_file_id", "examination", ["other_file_id"])
    op.create_index("ix_examination_source_file_id", "examination", ["source_file_id"])
    op.create_index("ix_examination_state", "examination", ["state"])
    op.create_table(
        "reference_signal",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("project_id", sa.Integer(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("plan", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_reference_signal_file_id_stored_file"
        ),
        sa.ForeignKeyConstraint(
            ["project_id"], ["project.id"], name="fk_reference_signal_project_id_project", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_reference_signal"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_reference_signal_file_id", "reference_signal", ["file_id"])
    op.create_index("ix_reference_signal_project_id", "reference_signal", ["project_id"])
    op.create_table(
        "referred_file",
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.String(), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("modified_ns", sa.BigInteger(), nullable=False),
        sa.Column("problem", sa.String(), nullable=False),
        sa.Column("checked_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_referred_file_file_id_stored_file", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("file_id", name="pk_referred_file"),
    )
    op.create_table(
        "sound_shape",
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("integrated_lufs", sa.Float(), nullable=True),
        sa.Column("shape", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_sound_shape_file_id_stored_file", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("file_id", name="pk_sound_shape"),
    )
    op.create_index("ix_sound_shape_integrated_lufs", "sound_shape", ["integrated_lufs"])
    op.create_table(
        "watched_folder",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("project_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.String(), nullable=False),
        sa.Column("keeps", sa.String(), nullable=False),
        sa.Column("problem", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["project_id"], ["project.id"], name="fk_watched_folder_project_id_project", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_watched_folder"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_watched_folder_project_id", "watched_folder", ["project_id"])
    op.create_table(
        "draft",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=True),
        sa.Column("at", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("begun_at", sa.DateTime(), nullable=False),
        sa.Column("edited_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["pass_id"], ["pass.id"], name="fk_draft_pass_id_pass", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["source_id"], ["source_track.id"], name="fk_draft_source_id_source_track", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_draft"),
        sa.UniqueConstraint("pass_id", name="uq_draft_pass_id"),
        sqlite_autoincrement=True,
    )
    op.create_index(
        "ix_draft_next_of_source",
        "draft",
        ["source_id"],
        unique=True,
        sqlite_where=sa.text("pass_id IS NULL"),
    )
    op.create_table(
        "note",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("project_id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=True),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("private", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["pass_id"], ["pass.id"], name="fk_note_pass_id_pass", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(
            ["project_id"], ["project.id"], name="fk_note_project_id_project", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_note"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_note_pass_id", "note", ["pass_id"])
    op.create_index("ix_note_project_id", "note", ["project_id"])
    op.create_index("ix_note_uid", "note", ["uid"], unique=True)
    op.create_table(
        "pass_tag",
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("tag", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["pass_id"], ["pass.id"], name="fk_pass_tag_pass_id_pass", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("pass_id", "tag", name="pk_pass_tag"),
    )
    op.create_index("ix_pass_tag_tag", "pass_tag", ["tag"])
    op.create_table(
        "recall",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("begun_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(["pass_id"], ["pass.id"], name="fk_recall_pass_id_pass", ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name="pk_recall"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_recall_pass_id", "recall", ["pass_id"])
    op.create_table(
        "draft_photo",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("draft_id", sa.Integer(), nullable=False),
        sa.Column("caption", sa.String(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("original_file_id", sa.Integer(), nullable=False),
        sa.Column("shown_file_id", sa.Integer(), nullable=False),
        sa.Column("thumbnail_file_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["draft_id"], ["draft.id"], name="fk_draft_photo_draft_id_draft", ondelete="CASCADE"
        ),
        *(
            sa.ForeignKeyConstraint([name], ["stored_file.id"], name=f"fk_draft_photo_{name}_stored_file")
            for name in ("original_file_id", "shown_file_id", "thumbnail_file_id")
        ),
        sa.PrimaryKeyConstraint("id", name="pk_draft_photo"),
        sqlite_autoincrement=True,
    )
    for name in ("draft_id", "original_file_id", "shown_file_id", "thumbnail_file_id"):
        op.create_index(f"ix_draft_photo_{name}", "draft_photo", [name])
    op.create_table(
        "draft_state",
        sa.Column("draft_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("entry", sa.JSON(), nullable=False),
        sa.Column("change", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(
            ["draft_id"], ["draft.id"], name="fk_draft_state_draft_id_draft", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("draft_id", "number", name="pk_draft_state"),
    )
    op.create_table(
        "recall_mark",
        sa.Column("recall_id", sa.Integer(), nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("done", sa.Boolean(), nullable=False),
        sa.Column("deviation", sa.String(), nullable=False),
        sa.Column("marked_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["recall_id"], ["recall.id"], name="fk_recall_mark_recall_id_recall", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("recall_id", "item", name="pk_recall_mark"),
    )
    op.create_table(
        "recall_substitute",
        sa.Column("recall_id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("gear_id", sa.Integer(), nullable=False),
        sa.Column("layout_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["gear_id"], ["gear.id"], name="fk_recall_substitute_gear_id_gear", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["layout_id"], ["control_layout.id"], name="fk_recall_substitute_layout_id_control_layout"
        ),
        sa.ForeignKeyConstraint(
            ["recall_id"], ["recall.id"], name="fk_recall_substitute_recall_id_recall", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["step_id"], ["chain_step.id"], name="fk_recall_substitute_step_id_chain_step", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("recall_id", "step_id", name="pk_recall_substitute"),
    )
    op.create_index("ix_recall_substitute_gear_id", "recall_substitute", ["gear_id"])
    op.create_table(
        "reference_print",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("reference_id", sa.Integer(), nullable=False),
        sa.Column("pass_id", sa.Integer(), nullable=False),
        sa.Column("recall_id", sa.Integer(), nullable=True),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_reference_print_file_id_stored_file"
        ),
        sa.ForeignKeyConstraint(
            ["pass_id"], ["pass.id"], name="fk_reference_print_pass_id_pass", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["recall_id"], ["recall.id"], name="fk_reference_print_recall_id_recall", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["reference_id"],
            ["reference_signal.id"],
            name="fk_reference_print_reference_id_reference_signal",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_reference_print"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_reference_print_file_id", "reference_print", ["file_id"])
    op.create_index("ix_reference_print_pass_id", "reference_print", ["pass_id"])
    op.create_index("ix_reference_print_recall_id", "reference_print", ["recall_id"])
    op.create_index("ix_reference_print_reference_id", "reference_print", ["reference_id"])
    op.create_table(
        "arrival",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("folder_id", sa.Integer(), nullable=False),
        sa.Column("path", sa.String(), nullable=False),
        sa.Column("bytes", sa.BigInteger(), nullable=False),
        sa.Column("modified_ns", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("together", sa.String(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("print_id", sa.Integer(), nullable=True),
        sa.Column("found", sa.JSON(), nullable=True),
        sa.Column("missing_since", sa.DateTime(), nullable=True),
        sa.Column("seen_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["file_id"], ["stored_file.id"], name="fk_arrival_file_id_stored_file", ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["folder_id"],
            ["watched_folder.id"],
            name="fk_arrival_folder_id_watched_folder",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["print_id"], ["print.id"], name="fk_arrival_print_id_print", ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_arrival"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_arrival_file_id", "arrival", ["file_id"])
    op.create_index("ix_arrival_of_folder", "arrival", ["folder_id", "path"])
    op.create_index("ix_arrival_print_id", "arrival", ["print_id"])
    op.create_index("ix_arrival_state", "arrival", ["state"])
    op.create_table(
        "photo_pin",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("photo_id", sa.Integer(), nullable=False),
        sa.Column("gear_id", sa.Integer(), nullable=False),
        sa.Column("control_key", sa.String(), nullable=False),
        sa.Column("x", sa.Float(), nullable=False),
        sa.Column("y", sa.Float(), nullable=False),
        sa.ForeignKeyConstraint(
            ["gear_id"], ["gear.id"], name="fk_photo_pin_gear_id_gear", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["photo_id"], ["photo.id"], name="fk_photo_pin_photo_id_photo", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_photo_pin"),
        sa.UniqueConstraint(
            "photo_id", "gear_id", "control_key", name="uq_photo_pin_photo_id_gear_id_control_key"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_photo_pin_gear_id", "photo_pin", ["gear_id"])
    op.create_table(
        "recall_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recall_id", sa.Integer(), nullable=False),
        sa.Column("original_print_id", sa.Integer(), nullable=True),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("file_name", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["stored_file.id"], name="fk_recall_try_file_id_stored_file"),
        sa.ForeignKeyConstraint(
            ["original_print_id"],
            ["print.id"],
            name="fk_recall_try_original_print_id_print",
            ondelete="SET NULL",
        ),
        sa.ForeignKeyConstraint(
            ["recall_id"], ["recall.id"], name="fk_recall_try_recall_id_recall", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_recall_try"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_recall_try_file_id", "recall_try", ["file_id"])
    op.create_index("ix_recall_try_original_print_id", "recall_try", ["original_print_id"])
    op.create_index("ix_recall_try_recall_id", "recall_try", ["recall_id"])
    _shapes_of_what_is_measured()
    op.execute(
        f"INSERT INTO written_words(rowid, words) SELECT id * {PLACES} + {SOUND_LEVEL_NOTES}, note "
        "FROM sound_level WHERE note <> ''"
    )
    op.execute(
        f"INSERT INTO written_words(rowid, words) SELECT step_id * {PLACES} + {FREE_TEXTS}, "
        "group_concat(reading, ' · ') FROM setting "
        "WHERE position IS NULL AND value IS NULL AND reading <> '' GROUP BY step_id"
    )
    op.execute(
        f"INSERT INTO written_words(rowid, words) SELECT id * {PLACES} + {NAMES_OF_LAYOUTS}, gear_name "
        "FROM control_layout WHERE gear_name <> ''"
    )


def _shapes_of_what_is_measured() -> None:
    connection = op.get_bind()
    measured = connection.execute(
        sa.text(
            "SELECT file_id, json_extract(figures, '$.level.integrated_lufs'), json_extract(figures, '$.bands') "
            "FROM measurement WHERE state = 'done' ORDER BY algorithm_version"
        )
    ).all()
    shapes = {file_id: (lufs, _shape(json.loads(bands))) for file_id, lufs, bands in measured if bands}
    for file_id, (lufs, shape) in shapes.items():
        if shape is not None:
            connection.execute(
                sa.text(
                    "INSERT INTO sound_shape (file_id, integrated_lufs, shape) VALUES (:file_id, :lufs, :shape)"
                ),
                {"file_id": file_id, "lufs": lufs, "shape": shape},
            )


def _shape(bands: list[dict[str, float | None]]) -> bytes | None:
    """As app/signal/band_shape.py made it when this was written."""
    levels = [band["level_dbfs"] for band in bands if 45.0 < (band["mid_hz"] or 0.0) < 11_000.0]
    known = [level for level in levels if level is not None]
    if not known or len(levels) != SHAPE_BANDS:
        return None
    floor = max(known) - 60.0
    heard = [floor if level is None else max(level, floor) for level in levels]
    mean = sum(heard) / SHAPE_BANDS
    return struct.pack(f"<{SHAPE_BANDS}f", *(level - mean for level in heard))
