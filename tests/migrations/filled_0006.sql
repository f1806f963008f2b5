-- A small library with one of everything as form 0006 kept it. Everything in it is invented. Never edited: it is history.
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
CREATE TABLE arrival (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	folder_id INTEGER NOT NULL, 
	path VARCHAR NOT NULL, 
	bytes BIGINT NOT NULL, 
	modified_ns BIGINT NOT NULL, 
	state VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	together VARCHAR NOT NULL, 
	file_id INTEGER, 
	print_id INTEGER, 
	found JSON, 
	missing_since DATETIME, 
	seen_at DATETIME NOT NULL, 
	CONSTRAINT fk_arrival_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id) ON DELETE SET NULL, 
	CONSTRAINT fk_arrival_folder_id_watched_folder FOREIGN KEY(folder_id) REFERENCES watched_folder (id) ON DELETE CASCADE, 
	CONSTRAINT fk_arrival_print_id_print FOREIGN KEY(print_id) REFERENCES print (id) ON DELETE SET NULL
);
CREATE TABLE audition (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	"key" VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	wanted JSON NOT NULL, 
	state VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	tries INTEGER NOT NULL, 
	figures JSON, 
	bytes BIGINT NOT NULL, 
	used_at DATETIME NOT NULL, 
	created_at DATETIME NOT NULL, 
	finished_at DATETIME, 
	CONSTRAINT uq_audition_key UNIQUE ("key")
);
CREATE TABLE blend (
	pass_id INTEGER NOT NULL, 
	settings JSON NOT NULL, 
	CONSTRAINT pk_blend PRIMARY KEY (pass_id), 
	CONSTRAINT fk_blend_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
);
CREATE TABLE blind_choice (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	source_id INTEGER NOT NULL, 
	pass_ids JSON NOT NULL, 
	said JSON NOT NULL, 
	begun_at DATETIME NOT NULL, 
	revealed_at DATETIME, 
	CONSTRAINT fk_blind_choice_source_id_source_track FOREIGN KEY(source_id) REFERENCES source_track (id) ON DELETE CASCADE
);
CREATE TABLE chain_step (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	branch VARCHAR NOT NULL, 
	gear_id INTEGER NOT NULL, 
	layout_id INTEGER NOT NULL, 
	CONSTRAINT fk_chain_step_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id), 
	CONSTRAINT fk_chain_step_layout_id_control_layout FOREIGN KEY(layout_id) REFERENCES control_layout (id), 
	CONSTRAINT fk_chain_step_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT uq_chain_step_pass_id_gear_id UNIQUE (pass_id, gear_id)
);
CREATE TABLE control (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	layout_id INTEGER NOT NULL, 
	"key" VARCHAR NOT NULL, 
	position INTEGER NOT NULL, 
	name VARCHAR NOT NULL, 
	spec JSON NOT NULL, 
	CONSTRAINT fk_control_layout_id_control_layout FOREIGN KEY(layout_id) REFERENCES control_layout (id) ON DELETE CASCADE, 
	CONSTRAINT uq_control_layout_id_key UNIQUE (layout_id, "key")
);
CREATE TABLE control_layout (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	gear_id INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	gear_name VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, ports JSON, facts JSON DEFAULT '{}' NOT NULL, uid VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT fk_control_layout_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE, 
	CONSTRAINT uq_control_layout_gear_id_version UNIQUE (gear_id, version)
);
CREATE TABLE device (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	name VARCHAR NOT NULL, 
	token_hash VARCHAR NOT NULL, 
	paired_at DATETIME NOT NULL, 
	seen_at DATETIME NOT NULL, 
	revoked_at DATETIME, 
	CONSTRAINT uq_device_token_hash UNIQUE (token_hash)
);
CREATE TABLE draft (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	source_id INTEGER NOT NULL, 
	pass_id INTEGER, 
	at INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	begun_at DATETIME NOT NULL, 
	edited_at DATETIME NOT NULL, 
	CONSTRAINT fk_draft_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_draft_source_id_source_track FOREIGN KEY(source_id) REFERENCES source_track (id) ON DELETE CASCADE, 
	CONSTRAINT uq_draft_pass_id UNIQUE (pass_id)
);
CREATE TABLE draft_photo (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	draft_id INTEGER NOT NULL, 
	caption VARCHAR NOT NULL, 
	width INTEGER NOT NULL, 
	height INTEGER NOT NULL, 
	original_file_id INTEGER NOT NULL, 
	shown_file_id INTEGER NOT NULL, 
	thumbnail_file_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_draft_photo_draft_id_draft FOREIGN KEY(draft_id) REFERENCES draft (id) ON DELETE CASCADE, 
	CONSTRAINT fk_draft_photo_original_file_id_stored_file FOREIGN KEY(original_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_draft_photo_shown_file_id_stored_file FOREIGN KEY(shown_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_draft_photo_thumbnail_file_id_stored_file FOREIGN KEY(thumbnail_file_id) REFERENCES stored_file (id)
);
CREATE TABLE draft_state (
	draft_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	entry JSON NOT NULL, 
	change VARCHAR NOT NULL, 
	CONSTRAINT pk_draft_state PRIMARY KEY (draft_id, number), 
	CONSTRAINT fk_draft_state_draft_id_draft FOREIGN KEY(draft_id) REFERENCES draft (id) ON DELETE CASCADE
);
CREATE TABLE examination (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	kind VARCHAR NOT NULL, 
	file_id INTEGER NOT NULL, 
	other_file_id INTEGER, 
	source_file_id INTEGER, 
	wanted JSON NOT NULL, 
	algorithm_version INTEGER NOT NULL, 
	state VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	tries INTEGER NOT NULL, 
	figures JSON, 
	created_at DATETIME NOT NULL, 
	finished_at DATETIME, 
	CONSTRAINT fk_examination_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id) ON DELETE CASCADE, 
	CONSTRAINT fk_examination_other_file_id_stored_file FOREIGN KEY(other_file_id) REFERENCES stored_file (id) ON DELETE CASCADE, 
	CONSTRAINT fk_examination_source_file_id_stored_file FOREIGN KEY(source_file_id) REFERENCES stored_file (id) ON DELETE CASCADE
);
CREATE TABLE gear (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	kind VARCHAR NOT NULL, 
	name VARCHAR NOT NULL, 
	notes VARCHAR NOT NULL, 
	retired_at DATETIME, 
	created_at DATETIME NOT NULL
, uid VARCHAR DEFAULT '' NOT NULL);
CREATE TABLE hearing_test (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	source_id INTEGER NOT NULL, 
	pass_a INTEGER NOT NULL, 
	pass_b INTEGER NOT NULL, 
	trials INTEGER NOT NULL, 
	xs JSON NOT NULL, 
	answers JSON NOT NULL, 
	begun_at DATETIME NOT NULL, 
	CONSTRAINT fk_hearing_test_source_id_source_track FOREIGN KEY(source_id) REFERENCES source_track (id) ON DELETE CASCADE
);
CREATE TABLE hook_up_plan (
	pass_id INTEGER NOT NULL, 
	"plan" JSON NOT NULL, 
	levels JSON NOT NULL, 
	CONSTRAINT pk_hook_up_plan PRIMARY KEY (pass_id), 
	CONSTRAINT fk_hook_up_plan_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
);
CREATE TABLE keeper_mark (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER NOT NULL, 
	part VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, uid VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT fk_keeper_mark_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
);
CREATE TABLE measured_finding (
	measurement_id INTEGER NOT NULL, 
	kind VARCHAR NOT NULL, 
	CONSTRAINT pk_measured_finding PRIMARY KEY (measurement_id, kind), 
	CONSTRAINT fk_measured_finding_measurement_id_measurement FOREIGN KEY(measurement_id) REFERENCES measurement (id) ON DELETE CASCADE
);
CREATE TABLE measurement (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	file_id INTEGER NOT NULL, 
	source_file_id INTEGER, 
	algorithm_version INTEGER NOT NULL, 
	state VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	tries INTEGER NOT NULL, 
	figures JSON, 
	created_at DATETIME NOT NULL, 
	finished_at DATETIME, 
	CONSTRAINT fk_measurement_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id) ON DELETE CASCADE, 
	CONSTRAINT fk_measurement_source_file_id_stored_file FOREIGN KEY(source_file_id) REFERENCES stored_file (id) ON DELETE CASCADE
);
CREATE TABLE mic_placement (
	step_id INTEGER NOT NULL, 
	speaker VARCHAR NOT NULL, 
	distance_mm FLOAT, 
	offset_mm FLOAT, 
	angle_deg FLOAT, 
	height_mm FLOAT, 
	pattern VARCHAR NOT NULL, 
	pad_db FLOAT, 
	low_cut_hz FLOAT, 
	preamp VARCHAR NOT NULL, 
	gain VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	CONSTRAINT pk_mic_placement PRIMARY KEY (step_id), 
	CONSTRAINT fk_mic_placement_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE CASCADE
);
CREATE TABLE note (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	uid VARCHAR NOT NULL, 
	project_id INTEGER NOT NULL, 
	pass_id INTEGER, 
	words VARCHAR NOT NULL, 
	private BOOLEAN NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_note_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_note_project_id_project FOREIGN KEY(project_id) REFERENCES project (id) ON DELETE CASCADE
);
CREATE TABLE panel_photo (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	photo_id INTEGER NOT NULL,
	layout_id INTEGER NOT NULL,
	corners JSON NOT NULL,
	marks JSON NOT NULL,
	created_at DATETIME NOT NULL,
	CONSTRAINT fk_panel_photo_layout_id_control_layout FOREIGN KEY(layout_id) REFERENCES control_layout (id) ON DELETE CASCADE,
	CONSTRAINT fk_panel_photo_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id) ON DELETE CASCADE,
	CONSTRAINT uq_panel_photo_photo_id UNIQUE (photo_id)
);
CREATE TABLE pass (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	source_id INTEGER NOT NULL, 
	number INTEGER NOT NULL, 
	title VARCHAR NOT NULL, 
	notes VARCHAR NOT NULL, 
	hook_up VARCHAR NOT NULL, 
	levels VARCHAR NOT NULL, 
	revision INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	edited_at DATETIME NOT NULL, uid VARCHAR DEFAULT '' NOT NULL, rating INTEGER, waiting_since DATETIME, chain_name VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT fk_pass_source_id_source_track FOREIGN KEY(source_id) REFERENCES source_track (id) ON DELETE CASCADE, 
	CONSTRAINT uq_pass_source_id_number UNIQUE (source_id, number)
);
CREATE TABLE pass_tag (
	pass_id INTEGER NOT NULL, 
	tag VARCHAR NOT NULL, 
	CONSTRAINT pk_pass_tag PRIMARY KEY (pass_id, tag), 
	CONSTRAINT fk_pass_tag_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
);
CREATE TABLE photo (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER, 
	step_id INTEGER, 
	gear_id INTEGER, 
	caption VARCHAR NOT NULL, 
	width INTEGER NOT NULL, 
	height INTEGER NOT NULL, 
	original_file_id INTEGER NOT NULL, 
	shown_file_id INTEGER NOT NULL, 
	thumbnail_file_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, uid VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT ck_photo_ck_photo_of_a_pass_or_gear CHECK ((pass_id IS NULL) <> (gear_id IS NULL)), 
	CONSTRAINT fk_photo_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE, 
	CONSTRAINT fk_photo_original_file_id_stored_file FOREIGN KEY(original_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_photo_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_photo_shown_file_id_stored_file FOREIGN KEY(shown_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_photo_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE SET NULL, 
	CONSTRAINT fk_photo_thumbnail_file_id_stored_file FOREIGN KEY(thumbnail_file_id) REFERENCES stored_file (id)
);
CREATE TABLE photo_pin (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	photo_id INTEGER NOT NULL, 
	gear_id INTEGER NOT NULL, 
	control_key VARCHAR NOT NULL, 
	x FLOAT NOT NULL, 
	y FLOAT NOT NULL, 
	CONSTRAINT fk_photo_pin_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE, 
	CONSTRAINT fk_photo_pin_photo_id_photo FOREIGN KEY(photo_id) REFERENCES photo (id) ON DELETE CASCADE, 
	CONSTRAINT uq_photo_pin_photo_id_gear_id_control_key UNIQUE (photo_id, gear_id, control_key)
);
CREATE TABLE print (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER NOT NULL, 
	step_id INTEGER, 
	label VARCHAR NOT NULL, 
	file_id INTEGER NOT NULL, 
	file_name VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, balance_db FLOAT DEFAULT '0' NOT NULL, uid VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT fk_print_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_print_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_print_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE SET NULL
);
CREATE TABLE print_repeat (
	print_id INTEGER NOT NULL, 
	first_id INTEGER NOT NULL, 
	CONSTRAINT pk_print_repeat PRIMARY KEY (print_id), 
	CONSTRAINT fk_print_repeat_first_id_print FOREIGN KEY(first_id) REFERENCES print (id) ON DELETE CASCADE, 
	CONSTRAINT fk_print_repeat_print_id_print FOREIGN KEY(print_id) REFERENCES print (id) ON DELETE CASCADE
);
CREATE TABLE project (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	title VARCHAR NOT NULL, 
	artist VARCHAR NOT NULL, 
	sample_rate INTEGER NOT NULL, 
	notes VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL
, uid VARCHAR DEFAULT '' NOT NULL, print_name_pattern VARCHAR DEFAULT '' NOT NULL, quiet_while_printing BOOLEAN DEFAULT '0' NOT NULL);
CREATE TABLE recall (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER NOT NULL, 
	note VARCHAR NOT NULL, 
	begun_at DATETIME NOT NULL, 
	finished_at DATETIME, 
	CONSTRAINT fk_recall_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
);
CREATE TABLE recall_mark (
	recall_id INTEGER NOT NULL, 
	item VARCHAR NOT NULL, 
	done BOOLEAN NOT NULL, 
	deviation VARCHAR NOT NULL, 
	marked_at DATETIME NOT NULL, 
	CONSTRAINT pk_recall_mark PRIMARY KEY (recall_id, item), 
	CONSTRAINT fk_recall_mark_recall_id_recall FOREIGN KEY(recall_id) REFERENCES recall (id) ON DELETE CASCADE
);
CREATE TABLE recall_substitute (
	recall_id INTEGER NOT NULL, 
	step_id INTEGER NOT NULL, 
	gear_id INTEGER NOT NULL, 
	layout_id INTEGER NOT NULL, 
	CONSTRAINT pk_recall_substitute PRIMARY KEY (recall_id, step_id), 
	CONSTRAINT fk_recall_substitute_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE, 
	CONSTRAINT fk_recall_substitute_layout_id_control_layout FOREIGN KEY(layout_id) REFERENCES control_layout (id), 
	CONSTRAINT fk_recall_substitute_recall_id_recall FOREIGN KEY(recall_id) REFERENCES recall (id) ON DELETE CASCADE, 
	CONSTRAINT fk_recall_substitute_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE CASCADE
);
CREATE TABLE recall_try (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	recall_id INTEGER NOT NULL, 
	original_print_id INTEGER, 
	file_id INTEGER NOT NULL, 
	file_name VARCHAR NOT NULL, 
	note VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_recall_try_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_recall_try_original_print_id_print FOREIGN KEY(original_print_id) REFERENCES print (id) ON DELETE SET NULL, 
	CONSTRAINT fk_recall_try_recall_id_recall FOREIGN KEY(recall_id) REFERENCES recall (id) ON DELETE CASCADE
);
CREATE TABLE received_jotting (
	"key" VARCHAR NOT NULL, 
	answer JSON NOT NULL, 
	received_at DATETIME NOT NULL, 
	CONSTRAINT pk_received_jotting PRIMARY KEY ("key")
);
CREATE TABLE reference_print (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	reference_id INTEGER NOT NULL, 
	pass_id INTEGER NOT NULL, 
	recall_id INTEGER, 
	file_id INTEGER NOT NULL, 
	file_name VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_reference_print_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_reference_print_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_reference_print_recall_id_recall FOREIGN KEY(recall_id) REFERENCES recall (id) ON DELETE CASCADE, 
	CONSTRAINT fk_reference_print_reference_id_reference_signal FOREIGN KEY(reference_id) REFERENCES reference_signal (id) ON DELETE CASCADE
);
CREATE TABLE reference_signal (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	project_id INTEGER NOT NULL, 
	file_id INTEGER NOT NULL, 
	"plan" JSON NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_reference_signal_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_reference_signal_project_id_project FOREIGN KEY(project_id) REFERENCES project (id) ON DELETE CASCADE
);
CREATE TABLE referred_file (
	file_id INTEGER NOT NULL, 
	path VARCHAR NOT NULL, 
	bytes BIGINT NOT NULL, 
	modified_ns BIGINT NOT NULL, 
	problem VARCHAR NOT NULL, 
	checked_at DATETIME NOT NULL, 
	CONSTRAINT pk_referred_file PRIMARY KEY (file_id), 
	CONSTRAINT fk_referred_file_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id) ON DELETE CASCADE
);
CREATE TABLE setting (
	step_id INTEGER NOT NULL, 
	control_id INTEGER NOT NULL, 
	reading VARCHAR NOT NULL, 
	position FLOAT, 
	value FLOAT, 
	approximate BOOLEAN NOT NULL, 
	CONSTRAINT pk_setting PRIMARY KEY (step_id, control_id), 
	CONSTRAINT fk_setting_control_id_control FOREIGN KEY(control_id) REFERENCES control (id), 
	CONSTRAINT fk_setting_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE CASCADE
);
CREATE TABLE shared_row (
	uid VARCHAR NOT NULL, 
	noun VARCHAR NOT NULL, 
	digest VARCHAR NOT NULL, 
	shared_at DATETIME NOT NULL, 
	CONSTRAINT pk_shared_row PRIMARY KEY (uid)
);
CREATE TABLE sound_level (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	project_id INTEGER NOT NULL, 
	level_dba FLOAT NOT NULL, 
	minutes FLOAT NOT NULL, 
	note VARCHAR NOT NULL, 
	at DATETIME NOT NULL, 
	CONSTRAINT fk_sound_level_project_id_project FOREIGN KEY(project_id) REFERENCES project (id) ON DELETE CASCADE
);
CREATE TABLE sound_shape (
	file_id INTEGER NOT NULL, 
	integrated_lufs FLOAT, 
	shape BLOB NOT NULL, 
	CONSTRAINT pk_sound_shape PRIMARY KEY (file_id), 
	CONSTRAINT fk_sound_shape_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id) ON DELETE CASCADE
);
CREATE TABLE source_track (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	project_id INTEGER NOT NULL, 
	name VARCHAR NOT NULL, 
	instrument VARCHAR NOT NULL, 
	recorded_with VARCHAR NOT NULL, 
	gain VARCHAR NOT NULL, 
	tuning VARCHAR NOT NULL, 
	notes VARCHAR NOT NULL, 
	file_id INTEGER, 
	file_name VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, uid VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT fk_source_track_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_source_track_project_id_project FOREIGN KEY(project_id) REFERENCES project (id) ON DELETE CASCADE
);
CREATE TABLE stored_file (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	sha256 VARCHAR NOT NULL, 
	bytes BIGINT NOT NULL, 
	media_type VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT uq_stored_file_sha256 UNIQUE (sha256)
);
CREATE TABLE watched_folder (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	project_id INTEGER NOT NULL, 
	path VARCHAR NOT NULL, 
	keeps VARCHAR NOT NULL, 
	problem VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_watched_folder_project_id_project FOREIGN KEY(project_id) REFERENCES project (id) ON DELETE CASCADE
);
CREATE VIRTUAL TABLE written_words USING fts5(words, tokenize = "unicode61 remove_diacritics 2", prefix = '2 3');
CREATE TABLE setting_crop (
	step_id INTEGER NOT NULL, 
	control_id INTEGER NOT NULL, 
	reading VARCHAR NOT NULL, 
	file_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT pk_setting_crop PRIMARY KEY (step_id, control_id), 
	CONSTRAINT fk_setting_crop_control_id_control FOREIGN KEY(control_id) REFERENCES control (id) ON DELETE CASCADE, 
	CONSTRAINT fk_setting_crop_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_setting_crop_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE CASCADE
);
CREATE TABLE draft_crop (
	draft_id INTEGER NOT NULL, 
	gear_id INTEGER NOT NULL, 
	control_key VARCHAR NOT NULL, 
	reading VARCHAR NOT NULL, 
	file_id INTEGER NOT NULL, 
	CONSTRAINT pk_draft_crop PRIMARY KEY (draft_id, gear_id, control_key), 
	CONSTRAINT fk_draft_crop_draft_id_draft FOREIGN KEY(draft_id) REFERENCES draft (id) ON DELETE CASCADE, 
	CONSTRAINT fk_draft_crop_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_draft_crop_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE
);
CREATE TABLE recall_photo (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	recall_id INTEGER NOT NULL, 
	width INTEGER NOT NULL, 
	height INTEGER NOT NULL, 
	original_file_id INTEGER NOT NULL, 
	shown_file_id INTEGER NOT NULL, 
	thumbnail_file_id INTEGER NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_recall_photo_original_file_id_stored_file FOREIGN KEY(original_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_recall_photo_shown_file_id_stored_file FOREIGN KEY(shown_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_recall_photo_thumbnail_file_id_stored_file FOREIGN KEY(thumbnail_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_recall_photo_recall_id_recall FOREIGN KEY(recall_id) REFERENCES recall (id) ON DELETE CASCADE
);
INSERT INTO "alembic_version" ("version_num") VALUES ('0006');
INSERT INTO "arrival" ("id", "folder_id", "path", "bytes", "modified_ns", "state", "reason", "together", "file_id", "print_id", "found", "missing_since", "seen_at") VALUES (1, 1, 'before.wav', 9644, 1600000000000000000, 'left', 'There before the folder was watched.', '', NULL, NULL, 'null', NULL, '2026-11-28 16:12:17.453933');
INSERT INTO "arrival" ("id", "folder_id", "path", "bytes", "modified_ns", "state", "reason", "together", "file_id", "print_id", "found", "missing_since", "seen_at") VALUES (2, 1, 'take 1.wav', 19244, 1600000000000000000, 'offered', '', '', 14, NULL, '{"duration_s": 0.2, "time_reference": null, "is_finished": true, "by": "", "is_unheard": false, "sample_rate": 48000, "channels": 1, "alike": null}', NULL, '2026-11-28 16:12:17.491464');
INSERT INTO "arrival" ("id", "folder_id", "path", "bytes", "modified_ns", "state", "reason", "together", "file_id", "print_id", "found", "missing_since", "seen_at") VALUES (3, 1, 'take 2.wav', 28844, 1600000000000000000, 'offered', '', '', 15, NULL, '{"duration_s": 0.3, "time_reference": null, "is_finished": true, "by": "", "is_unheard": false, "sample_rate": 48000, "channels": 1, "alike": null}', NULL, '2026-11-28 16:12:17.491700');
INSERT INTO "blind_choice" ("id", "source_id", "pass_ids", "said", "begun_at", "revealed_at") VALUES (1, 1, '[2, 1]', '[]', '2026-11-28 16:12:17.401230', NULL);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (1, 1, 0, '', 1, 1);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (2, 1, 1, '', 2, 2);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (3, 1, 2, '', 3, 3);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (4, 1, 3, '', 4, 4);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (5, 1, 4, '', 5, 5);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (6, 2, 0, '', 1, 1);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (7, 2, 1, '', 2, 2);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (8, 2, 2, '', 3, 9);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (9, 2, 3, '', 4, 4);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (10, 2, 4, '', 5, 5);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (11, 3, 0, '', 1, 1);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (12, 3, 1, 'A', 3, 9);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (13, 3, 2, 'A', 4, 4);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (14, 3, 3, '', 5, 5);
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (1, 1, '6389f039f9a44e99bfd3cd9b388c6029', 0, 'Trim', '{"name": "Trim", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (2, 2, '034c47c03fb5417cbe51cccf740b4460', 0, 'Fuzz', '{"name": "Fuzz", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (3, 3, 'cc6e089b257e4452b3712c9e324ce7dc', 0, 'Gain', '{"name": "Gain", "form": "knob", "scale": {"kind": "range", "low": 0.0, "high": 10.0, "unit": ""}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": "gain"}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (4, 3, 'a14f604eb0da44609318c2175704a614', 1, 'Tone', '{"name": "Tone", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (5, 3, '58c9bd724d4249eeaca454a3c574a51a', 2, 'Mix', '{"name": "Mix", "form": "knob", "scale": {"kind": "percent"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (6, 3, 'f0814188395649bd91602b9f5157a24c', 3, 'Trim', '{"name": "Trim", "form": "knob", "scale": {"kind": "range", "low": -15.0, "high": 15.0, "unit": "dB"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (7, 3, '7b607b0015f84b0aa0384248984798de', 4, 'Time', '{"name": "Time", "form": "knob", "scale": {"kind": "marks", "unit": "ms", "marks": [[20.0, 0.0], [120.0, 0.5], [600.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (8, 3, 'f59fa19ff0c34913a67c82e1d07fc07f', 5, 'Level', '{"name": "Level", "form": "fader", "scale": {"kind": "marks", "unit": "dB", "marks": [[-60.0, 0.0], [0.0, 0.75], [10.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (9, 3, '12be7d25f97c4e23933d46ffd9780713', 6, 'Input', '{"name": "Input", "form": "selector", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["high", "low", "link"], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (10, 3, '5b249b31e9b34d5c8aa16ba2240afd6b', 7, 'Bright', '{"name": "Bright", "form": "switch", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["off", "on"], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (11, 3, '8214ffea848749f69e9e6581de1e6c24', 8, 'Mains', '{"name": "Mains", "form": "number", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "V", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (12, 3, '45581ac798cc4f2796fea7ad6317cd65', 9, 'Remark', '{"name": "Remark", "form": "text", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (13, 9, 'cc6e089b257e4452b3712c9e324ce7dc', 0, 'Drive', '{"name": "Drive", "form": "knob", "scale": {"kind": "range", "low": 0.0, "high": 10.0, "unit": ""}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": "gain"}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (14, 9, 'a14f604eb0da44609318c2175704a614', 1, 'Tone', '{"name": "Tone", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (15, 9, '58c9bd724d4249eeaca454a3c574a51a', 2, 'Mix', '{"name": "Mix", "form": "knob", "scale": {"kind": "percent"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (16, 9, 'f0814188395649bd91602b9f5157a24c', 3, 'Trim', '{"name": "Trim", "form": "knob", "scale": {"kind": "range", "low": -15.0, "high": 15.0, "unit": "dB"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (17, 9, '7b607b0015f84b0aa0384248984798de', 4, 'Time', '{"name": "Time", "form": "knob", "scale": {"kind": "marks", "unit": "ms", "marks": [[20.0, 0.0], [120.0, 0.5], [600.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (18, 9, 'f59fa19ff0c34913a67c82e1d07fc07f', 5, 'Level', '{"name": "Level", "form": "fader", "scale": {"kind": "marks", "unit": "dB", "marks": [[-60.0, 0.0], [0.0, 0.75], [10.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (19, 9, '12be7d25f97c4e23933d46ffd9780713', 6, 'Input', '{"name": "Input", "form": "selector", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["high", "low", "link"], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (20, 9, '5b249b31e9b34d5c8aa16ba2240afd6b', 7, 'Bright', '{"name": "Bright", "form": "switch", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["off", "on"], "unit": "", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (21, 9, '8214ffea848749f69e9e6581de1e6c24', 8, 'Mains', '{"name": "Mains", "form": "number", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "V", "job": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (22, 9, '45581ac798cc4f2796fea7ad6317cd65', 9, 'Remark', '{"name": "Remark", "form": "text", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (1, 1, 1, 're-amp box', 'reamp_box', '2026-11-28 16:12:15.636902', 'null', '{}', '42c2bb0612c2429980c6b4b3608ae6af');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (2, 2, 1, 'silicon fuzz', 'pedal', '2026-11-28 16:12:15.645146', 'null', '{}', '631c15df4aca42ddad8f185839ba2a35');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (3, 3, 1, '15-watt valve combo', 'amp', '2026-11-28 16:12:15.650074', 'null', '{}', '0685c322ca5a4085bbdd7b5b1d78e03b');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (4, 4, 1, '1×12 cabinet', 'cabinet', '2026-11-28 16:12:15.664940', 'null', '{}', '1307c22c63b344df8642303916368627');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (5, 5, 1, 'small ribbon microphone', 'microphone', '2026-11-28 16:12:15.667859', 'null', '{}', '57a527a803ef4f1c85a10abe97fe95bb');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (6, 6, 1, 'spare DI box', 'di_box', '2026-11-28 16:12:15.670206', 'null', '{}', '6b8db710315346319be9db325cd9bca8');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (7, 7, 1, 'sold chorus', 'pedal', '2026-11-28 16:12:15.672727', 'null', '{}', '8bccd660c1684bc38d24063174628f3c');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (8, 8, 1, 'eight-in interface', 'interface', '2026-11-28 16:12:15.675088', 'null', '{}', '17210f62984c43e692e7bb8750f92751');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts", "uid") VALUES (9, 3, 2, '15-watt valve combo', 'amp', '2026-11-28 16:12:15.794559', 'null', '{}', '03a82caeed0f45d198ad51297f7c6fc3');
INSERT INTO "draft" ("id", "source_id", "pass_id", "at", "revision", "begun_at", "edited_at") VALUES (1, 1, NULL, 0, 0, '2026-11-28 16:12:17.730056', '2026-11-28 16:12:17.730074');
INSERT INTO "draft_state" ("draft_id", "number", "entry", "change") VALUES (1, 0, '{"title": "", "notes": "", "hook_up": "Output 3 to the box.", "levels": "Box trim at noon.", "steps": [{"gear_id": 1, "layout_id": 1, "branch": "", "readings": {"1": "noon"}, "placement": null}, {"gear_id": 3, "layout_id": 9, "branch": "A", "readings": {"13": "7", "14": "half past 2", "15": "40 %", "16": "-3 dB", "17": "120 ms", "18": "-10 dB", "19": "low", "20": "off", "21": "231 V", "22": "valves warm"}, "placement": null}, {"gear_id": 4, "layout_id": 4, "branch": "A", "readings": {}, "placement": null}, {"gear_id": 5, "layout_id": 5, "branch": "", "readings": {}, "placement": {"speaker": "left", "distance": "30 mm", "offset": "40 mm", "angle": "15\u00b0", "height": "600 mm", "pattern": "figure-8", "pad": "\u221210 dB", "low_cut": "80 Hz", "preamp": "first", "gain": "6", "note": "on a towel"}}], "revision": 0, "like": 3}', '');
INSERT INTO "examination" ("id", "kind", "file_id", "other_file_id", "source_file_id", "wanted", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (1, 'identify', 14, NULL, NULL, '{"source_file_ids": [1]}', 6, 'waiting', '', 0, 'null', '2026-11-28 16:12:17.538357', NULL);
INSERT INTO "examination" ("id", "kind", "file_id", "other_file_id", "source_file_id", "wanted", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (2, 'identify', 15, NULL, NULL, '{"source_file_ids": [1]}', 6, 'waiting', '', 0, 'null', '2026-11-28 16:12:17.553402', NULL);
INSERT INTO "examination" ("id", "kind", "file_id", "other_file_id", "source_file_id", "wanted", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (3, 'match', 16, 2, 1, '{}', 6, 'waiting', '', 0, 'null', '2026-11-28 16:12:17.620053', NULL);
INSERT INTO "examination" ("id", "kind", "file_id", "other_file_id", "source_file_id", "wanted", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (4, 'reference', 18, NULL, NULL, '{"sample_rate": 48000, "level_dbfs": -12.0, "tone_hz": 215.0, "lead": {"start_s": 0.0, "length_s": 1.52}, "marks": [{"start_s": 1.52, "length_s": 0.1}, {"start_s": 17.64, "length_s": 0.1}], "steps": [{"start_s": 2.12, "length_s": 0.6, "level_dbfs": -48.0}, {"start_s": 2.84, "length_s": 0.6, "level_dbfs": -42.0}, {"start_s": 3.56, "length_s": 0.6, "level_dbfs": -36.0}, {"start_s": 4.28, "length_s": 0.6, "level_dbfs": -30.0}, {"start_s": 5.0, "length_s": 0.6, "level_dbfs": -24.0}, {"start_s": 5.72, "length_s": 0.6, "level_dbfs": -18.0}, {"start_s": 6.44, "length_s": 0.6, "level_dbfs": -12.0}], "sweep": {"start_s": 7.68, "from_hz": 20.0, "to_hz": 20000.0, "rate_s": 1.15, "level_dbfs": -12.0}, "tail": {"start_s": 15.64, "length_s": 2.0}, "excerpt": null, "excerpt_from_s": 0.0, "length_s": 18.24, "version": 1}', 6, 'waiting', '', 0, 'null', '2026-11-28 16:12:17.685007', NULL);
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (1, 'reamp_box', 're-amp box', '', NULL, '2026-11-28 16:12:15.626688', '374421f3641f43649e6a5998e5c67bb2');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (2, 'pedal', 'silicon fuzz', '', NULL, '2026-11-28 16:12:15.644169', 'd3a6b3726ddd475983e5905e45cdee77');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (3, 'amp', '15-watt valve combo', '', NULL, '2026-11-28 16:12:15.649205', 'c1d5a566443d48e08e91bbbb7c4b60ab');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (4, 'cabinet', '1×12 cabinet', '', NULL, '2026-11-28 16:12:15.663803', 'a77f24e3b0bb4fc49bb91fcde9c89697');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (5, 'microphone', 'small ribbon microphone', '', NULL, '2026-11-28 16:12:15.666956', '146af5e02a304e7fad783b0a5cc44f19');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (6, 'di_box', 'spare DI box', '', NULL, '2026-11-28 16:12:15.669395', 'd1e8f3141d684f77a17a960fdf806c47');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (7, 'pedal', 'sold chorus', '', '2026-11-28 16:12:15.676618', '2026-11-28 16:12:15.671923', '59505fa7aa4940c9a802e895e46b72c7');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at", "uid") VALUES (8, 'interface', 'eight-in interface', '', NULL, '2026-11-28 16:12:15.674243', 'b886c52b8fd6441da24384e87f3bcd56');
INSERT INTO "hearing_test" ("id", "source_id", "pass_a", "pass_b", "trials", "xs", "answers", "begun_at") VALUES (1, 1, 1, 2, 8, '["B", "A", "B", "B", "A", "B", "A", "B"]', '[]', '2026-11-28 16:12:17.436748');
INSERT INTO "keeper_mark" ("id", "pass_id", "part", "reason", "created_at", "uid") VALUES (1, 1, 'left', 'The low end sits.', '2026-11-28 16:12:16.276572', 'c77e7c7ae99b49a898f2aaa347e04ca2');
INSERT INTO "measured_finding" ("measurement_id", "kind") VALUES (2, 'clipped');
INSERT INTO "measured_finding" ("measurement_id", "kind") VALUES (2, 'early');
INSERT INTO "measured_finding" ("measurement_id", "kind") VALUES (2, 'hum');
INSERT INTO "measured_finding" ("measurement_id", "kind") VALUES (2, 'inverted');
INSERT INTO "measured_finding" ("measurement_id", "kind") VALUES (2, 'dropout');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (1, 1, NULL, 6, 'done', '', 1, '{"file": {"sample_rate": 48000, "channels": 1, "frames": 48000, "duration_s": 1.0, "format": "WAV", "subtype": "PCM_16"}, "level": {"integrated_lufs": -18.3, "loudness_range_lu": 3.0, "max_momentary_lufs": -15.0, "max_short_term_lufs": -16.0, "true_peak_dbtp": -3.2, "sample_peak_dbfs": -3.4, "rms_dbfs": -20.0, "crest_db": 16.6, "dc_offset": 0.0, "resting_offset": null}, "bands": [{"nominal_hz": 20, "mid_hz": 19.952623149688797, "level_dbfs": -23.0, "floor_dbfs": null}, {"nominal_hz": 25, "mid_hz": 25.118864315095795, "level_dbfs": -24.0, "floor_dbfs": null}, {"nominal_hz": 32, "mid_hz": 31.622776601683793, "level_dbfs": -25.0, "floor_dbfs": null}, {"nominal_hz": 40, "mid_hz": 39.810717055349734, "level_dbfs": -26.0, "floor_dbfs": null}, {"nominal_hz": 50, "mid_hz": 50.11872336272722, "level_dbfs": -27.0, "floor_dbfs": null}, {"nominal_hz": 63, "mid_hz": 63.09573444801933, "level_dbfs": -28.0, "floor_dbfs": null}, {"nominal_hz": 79, "mid_hz": 79.43282347242814, "level_dbfs": -29.0, "floor_dbfs": null}, {"nominal_hz": 100, "mid_hz": 100.0, "level_dbfs": -30.0, "floor_dbfs": null}, {"nominal_hz": 126, "mid_hz": 125.89254117941672, "level_dbfs": -31.0, "floor_dbfs": null}, {"nominal_hz": 158, "mid_hz": 158.48931924611134, "level_dbfs": -32.0, "floor_dbfs": null}, {"nominal_hz": 200, "mid_hz": 199.526231496888, "level_dbfs": -33.0, "floor_dbfs": null}, {"nominal_hz": 251, "mid_hz": 251.188643150958, "level_dbfs": -34.0, "floor_dbfs": null}, {"nominal_hz": 316, "mid_hz": 316.22776601683796, "level_dbfs": -35.0, "floor_dbfs": null}, {"nominal_hz": 398, "mid_hz": 398.1071705534972, "level_dbfs": -36.0, "floor_dbfs": null}, {"nominal_hz": 501, "mid_hz": 501.18723362727224, "level_dbfs": -37.0, "floor_dbfs": null}, {"nominal_hz": 631, "mid_hz": 630.9573444801932, "level_dbfs": -38.0, "floor_dbfs": null}, {"nominal_hz": 794, "mid_hz": 794.3282347242815, "level_dbfs": -39.0, "floor_dbfs": null}, {"nominal_hz": 1000, "mid_hz": 1000.0, "level_dbfs": -40.0, "floor_dbfs": null}, {"nominal_hz": 1259, "mid_hz": 1258.9254117941673, "level_dbfs": -41.0, "floor_dbfs": null}, {"nominal_hz": 1585, "mid_hz": 1584.8931924611136, "level_dbfs": -42.0, "floor_dbfs": null}, {"nominal_hz": 1995, "mid_hz": 1995.2623149688795, "level_dbfs": -43.0, "floor_dbfs": null}, {"nominal_hz": 2512, "mid_hz": 2511.8864315095802, "level_dbfs": -44.0, "floor_dbfs": null}, {"nominal_hz": 3162, "mid_hz": 3162.2776601683795, "level_dbfs": -45.0, "floor_dbfs": null}, {"nominal_hz": 3981, "mid_hz": 3981.0717055349724, "level_dbfs": -46.0, "floor_dbfs": null}, {"nominal_hz": 5012, "mid_hz": 5011.872336272722, "level_dbfs": -47.0, "floor_dbfs": null}, {"nominal_hz": 6310, "mid_hz": 6309.573444801933, "level_dbfs": -48.0, "floor_dbfs": null}, {"nominal_hz": 7943, "mid_hz": 7943.282347242815, "level_dbfs": -49.0, "floor_dbfs": null}, {"nominal_hz": 10000, "mid_hz": 10000.0, "level_dbfs": -50.0, "floor_dbfs": null}, {"nominal_hz": 12589, "mid_hz": 12589.254117941675, "level_dbfs": -51.0, "floor_dbfs": null}, {"nominal_hz": 15849, "mid_hz": 15848.931924611134, "level_dbfs": -52.0, "floor_dbfs": null}, {"nominal_hz": 19953, "mid_hz": 19952.623149688796, "level_dbfs": -53.0, "floor_dbfs": null}], "faults": {"silent": false, "clipped_runs": [], "dropouts": [], "hum": null, "noise_floor_dbfs": -80.0, "starts_late_s": 0.0, "ends_early_s": null, "channels": null}, "alignment": null, "overview": {"columns": [[-0.2, 0.2], [-0.1, 0.1], [0.0, 0.0]], "loudness": [{"at_s": 1.5, "lufs": -18.3}]}, "notes": ["An invented note."], "algorithm_version": 6, "source": null}', '2026-11-28 16:12:15.708200', '2026-11-28 16:12:15.723469');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (2, 2, 1, 6, 'done', '', 1, '{"file": {"sample_rate": 48000, "channels": 1, "frames": 48000, "duration_s": 1.0, "format": "WAV", "subtype": "PCM_16"}, "level": {"integrated_lufs": -18.3, "loudness_range_lu": 3.0, "max_momentary_lufs": -15.0, "max_short_term_lufs": -16.0, "true_peak_dbtp": -3.2, "sample_peak_dbfs": -3.4, "rms_dbfs": -20.0, "crest_db": 16.6, "dc_offset": 0.0, "resting_offset": null}, "bands": [{"nominal_hz": 20, "mid_hz": 19.952623149688797, "level_dbfs": -23.0, "floor_dbfs": null}, {"nominal_hz": 25, "mid_hz": 25.118864315095795, "level_dbfs": -24.0, "floor_dbfs": null}, {"nominal_hz": 32, "mid_hz": 31.622776601683793, "level_dbfs": -25.0, "floor_dbfs": null}, {"nominal_hz": 40, "mid_hz": 39.810717055349734, "level_dbfs": -26.0, "floor_dbfs": null}, {"nominal_hz": 50, "mid_hz": 50.11872336272722, "level_dbfs": -27.0, "floor_dbfs": null}, {"nominal_hz": 63, "mid_hz": 63.09573444801933, "level_dbfs": -28.0, "floor_dbfs": null}, {"nominal_hz": 79, "mid_hz": 79.43282347242814, "level_dbfs": -29.0, "floor_dbfs": null}, {"nominal_hz": 100, "mid_hz": 100.0, "level_dbfs": -30.0, "floor_dbfs": null}, {"nominal_hz": 126, "mid_hz": 125.89254117941672, "level_dbfs": -31.0, "floor_dbfs": null}, {"nominal_hz": 158, "mid_hz": 158.48931924611134, "level_dbfs": -32.0, "floor_dbfs": null}, {"nominal_hz": 200, "mid_hz": 199.526231496888, "level_dbfs": -33.0, "floor_dbfs": null}, {"nominal_hz": 251, "mid_hz": 251.188643150958, "level_dbfs": -34.0, "floor_dbfs": null}, {"nominal_hz": 316, "mid_hz": 316.22776601683796, "level_dbfs": -35.0, "floor_dbfs": null}, {"nominal_hz": 398, "mid_hz": 398.1071705534972, "level_dbfs": -36.0, "floor_dbfs": null}, {"nominal_hz": 501, "mid_hz": 501.18723362727224, "level_dbfs": -37.0, "floor_dbfs": null}, {"nominal_hz": 631, "mid_hz": 630.9573444801932, "level_dbfs": -38.0, "floor_dbfs": null}, {"nominal_hz": 794, "mid_hz": 794.3282347242815, "level_dbfs": -39.0, "floor_dbfs": null}, {"nominal_hz": 1000, "mid_hz": 1000.0, "level_dbfs": -40.0, "floor_dbfs": null}, {"nominal_hz": 1259, "mid_hz": 1258.9254117941673, "level_dbfs": -41.0, "floor_dbfs": null}, {"nominal_hz": 1585, "mid_hz": 1584.8931924611136, "level_dbfs": -42.0, "floor_dbfs": null}, {"nominal_hz": 1995, "mid_hz": 1995.2623149688795, "level_dbfs": -43.0, "floor_dbfs": null}, {"nominal_hz": 2512, "mid_hz": 2511.8864315095802, "level_dbfs": -44.0, "floor_dbfs": null}, {"nominal_hz": 3162, "mid_hz": 3162.2776601683795, "level_dbfs": -45.0, "floor_dbfs": null}, {"nominal_hz": 3981, "mid_hz": 3981.0717055349724, "level_dbfs": -46.0, "floor_dbfs": null}, {"nominal_hz": 5012, "mid_hz": 5011.872336272722, "level_dbfs": -47.0, "floor_dbfs": null}, {"nominal_hz": 6310, "mid_hz": 6309.573444801933, "level_dbfs": -48.0, "floor_dbfs": null}, {"nominal_hz": 7943, "mid_hz": 7943.282347242815, "level_dbfs": -49.0, "floor_dbfs": null}, {"nominal_hz": 10000, "mid_hz": 10000.0, "level_dbfs": -50.0, "floor_dbfs": null}, {"nominal_hz": 12589, "mid_hz": 12589.254117941675, "level_dbfs": -51.0, "floor_dbfs": null}, {"nominal_hz": 15849, "mid_hz": 15848.931924611134, "level_dbfs": -52.0, "floor_dbfs": null}, {"nominal_hz": 19953, "mid_hz": 19952.623149688796, "level_dbfs": -53.0, "floor_dbfs": null}], "faults": {"silent": false, "clipped_runs": [{"at_s": 63.2, "samples": 4}, {"at_s": 64.0, "samples": 4}], "dropouts": [{"at_s": 0.4, "kind": "gap", "samples": 64}], "hum": {"mains_hz": 50.0, "level_dbfs": -61.0, "confidence": 0.9}, "noise_floor_dbfs": -80.0, "starts_late_s": 0.0, "ends_early_s": 4.2, "channels": null}, "alignment": {"delay_samples": 37.0, "delay_ms": 0.7708333333333334, "polarity": "inverted", "confidence": 0.97, "drift_ppm": 0.0, "is_of_source": true}, "overview": {"columns": [[-0.2, 0.2], [-0.1, 0.1], [0.0, 0.0]], "loudness": [{"at_s": 1.5, "lufs": -18.3}]}, "notes": ["An invented note."], "algorithm_version": 6, "source": null}', '2026-11-28 16:12:16.053609', '2026-11-28 16:12:16.157758');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (3, 3, 1, 6, 'failed', '“odd.wav” could not be read.', 1, 'null', '2026-11-28 16:12:16.082185', '2026-11-28 16:12:16.270174');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (4, 4, 1, 6, 'waiting', '', 0, 'null', '2026-11-28 16:12:16.133095', NULL);
INSERT INTO "mic_placement" ("step_id", "speaker", "distance_mm", "offset_mm", "angle_deg", "height_mm", "pattern", "pad_db", "low_cut_hz", "preamp", "gain", "note") VALUES (5, 'left', 30.0, 40.0, 15.0, 600.0, 'figure-8', -10.0, 80.0, 'first', '6', 'on a towel');
INSERT INTO "mic_placement" ("step_id", "speaker", "distance_mm", "offset_mm", "angle_deg", "height_mm", "pattern", "pad_db", "low_cut_hz", "preamp", "gain", "note") VALUES (10, 'left', 30.0, 40.0, 15.0, 600.0, 'figure-8', -10.0, 80.0, 'first', '6', 'on a towel');
INSERT INTO "mic_placement" ("step_id", "speaker", "distance_mm", "offset_mm", "angle_deg", "height_mm", "pattern", "pad_db", "low_cut_hz", "preamp", "gain", "note") VALUES (14, 'left', 30.0, 40.0, 15.0, 600.0, 'figure-8', -10.0, 80.0, 'first', '6', 'on a towel');
INSERT INTO "panel_photo" ("id", "photo_id", "layout_id", "corners", "marks", "created_at") VALUES (1, 3, 2, '[[0.1, 0.2], [0.9, 0.2], [0.9, 0.8], [0.1, 0.8]]', '{"034c47c03fb5417cbe51cccf740b4460": {"look": "line", "centre": [0.4, 0.5], "edge": [0.45, 0.5], "stands": "noon", "spec": {"name": "Fuzz", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "", "job": ""}}}', '2026-05-02 20:14:00.000000');
INSERT INTO "pass" ("id", "source_id", "number", "title", "notes", "hook_up", "levels", "revision", "created_at", "edited_at", "uid", "rating", "waiting_since", "chain_name") VALUES (1, 1, 1, 'first try', 'Kept it quiet.
Neighbours.', 'Output 3 to the box.', 'Box trim at noon.', 1, '2026-11-28 16:12:15.756569', '2026-11-28 16:12:15.756583', '04471d87d934488d90daa987cb6b8ad8', NULL, NULL, '');
INSERT INTO "pass" ("id", "source_id", "number", "title", "notes", "hook_up", "levels", "revision", "created_at", "edited_at", "uid", "rating", "waiting_since", "chain_name") VALUES (2, 1, 2, '', '', 'Output 3 to the box.', 'Box trim at noon.', 1, '2026-11-28 16:12:15.902352', '2026-11-28 16:12:15.902379', '9d9df54c61fb4903a45120d64e54054e', NULL, NULL, '');
INSERT INTO "pass" ("id", "source_id", "number", "title", "notes", "hook_up", "levels", "revision", "created_at", "edited_at", "uid", "rating", "waiting_since", "chain_name") VALUES (3, 1, 3, 'no fuzz', '', 'Output 3 to the box.', 'Box trim at noon.', 1, '2026-11-28 16:12:15.976741', '2026-11-28 16:12:15.976763', '0ad22c1877e247d6ad1a59bdb975475a', NULL, NULL, '');
INSERT INTO "photo" ("id", "pass_id", "step_id", "gear_id", "caption", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at", "uid") VALUES (1, 1, NULL, NULL, 'the amp', 64, 48, 5, 6, 7, '2026-11-28 16:12:17.250977', '9b899e29815749b2a6905dfa05116a8c');
INSERT INTO "photo" ("id", "pass_id", "step_id", "gear_id", "caption", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at", "uid") VALUES (2, 1, 5, NULL, '', 64, 48, 8, 9, 10, '2026-11-28 16:12:17.315608', 'a72b0cd78bbc4c929f8f08c4eb040836');
INSERT INTO "photo" ("id", "pass_id", "step_id", "gear_id", "caption", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at", "uid") VALUES (3, NULL, NULL, 2, 'inside', 64, 48, 11, 12, 13, '2026-11-28 16:12:17.368537', '61ff707d2b0d4bd0a06075b45d87be79');
INSERT INTO "print" ("id", "pass_id", "step_id", "label", "file_id", "file_name", "created_at", "balance_db", "uid") VALUES (1, 1, 5, 'near', 2, 'near.wav', '2026-11-28 16:12:16.046966', 0.0, 'a5661adeab6b4f6fafda2c02294c9806');
INSERT INTO "print" ("id", "pass_id", "step_id", "label", "file_id", "file_name", "created_at", "balance_db", "uid") VALUES (2, 2, NULL, '', 3, 'far.wav', '2026-11-28 16:12:16.079909', 0.0, '482d8a44c5d64376b24d07fd8b451af9');
INSERT INTO "print" ("id", "pass_id", "step_id", "label", "file_id", "file_name", "created_at", "balance_db", "uid") VALUES (3, 3, NULL, '', 4, 'odd.wav', '2026-11-28 16:12:16.124933', 0.0, '1127447a5491470e8f849c6ab7317741');
INSERT INTO "project" ("id", "title", "artist", "sample_rate", "notes", "created_at", "uid", "print_name_pattern", "quiet_while_printing") VALUES (1, 'Boathouse', 'Invented Trio', 48000, 'Rain on tin.', '2026-11-28 16:12:15.680097', '236b423e5ab3449c9183673d69067adf', '', 0);
INSERT INTO "project" ("id", "title", "artist", "sample_rate", "notes", "created_at", "uid", "print_name_pattern", "quiet_while_printing") VALUES (2, 'Nothing yet', '', 48000, '', '2026-11-28 16:12:15.682847', 'dd3ac5b18d9d4f309b52bfef838430e7', '', 0);
INSERT INTO "recall" ("id", "pass_id", "note", "begun_at", "finished_at") VALUES (1, 1, '', '2026-11-28 16:12:17.558614', NULL);
INSERT INTO "recall_photo" ("id", "recall_id", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at") VALUES (1, 1, 40, 30, 1, 1, 1, '2026-11-01 20:00:00.000000');
INSERT INTO "recall_try" ("id", "recall_id", "original_print_id", "file_id", "file_name", "note", "created_at") VALUES (1, 1, 1, 16, 'try.wav', '', '2026-11-28 16:12:17.616787');
INSERT INTO "reference_print" ("id", "reference_id", "pass_id", "recall_id", "file_id", "file_name", "created_at") VALUES (1, 1, 1, NULL, 18, 'back.wav', '2026-11-28 16:12:17.678613');
INSERT INTO "reference_signal" ("id", "project_id", "file_id", "plan", "created_at") VALUES (1, 1, 17, '{"sample_rate": 48000, "level_dbfs": -12.0, "tone_hz": 215.0, "lead": {"start_s": 0.0, "length_s": 1.52}, "marks": [{"start_s": 1.52, "length_s": 0.1}, {"start_s": 17.64, "length_s": 0.1}], "steps": [{"start_s": 2.12, "length_s": 0.6, "level_dbfs": -48.0}, {"start_s": 2.84, "length_s": 0.6, "level_dbfs": -42.0}, {"start_s": 3.56, "length_s": 0.6, "level_dbfs": -36.0}, {"start_s": 4.28, "length_s": 0.6, "level_dbfs": -30.0}, {"start_s": 5.0, "length_s": 0.6, "level_dbfs": -24.0}, {"start_s": 5.72, "length_s": 0.6, "level_dbfs": -18.0}, {"start_s": 6.44, "length_s": 0.6, "level_dbfs": -12.0}], "sweep": {"start_s": 7.68, "from_hz": 20.0, "to_hz": 20000.0, "rate_s": 1.15, "level_dbfs": -12.0}, "tail": {"start_s": 15.64, "length_s": 2.0}, "excerpt": null, "excerpt_from_s": 0.0, "length_s": 18.24, "version": 1}', '2026-11-28 16:12:17.640974');
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (1, 1, 'noon', 0.5, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (2, 2, '10 o''clock', 0.3, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 3, '6.5', 0.65, 6.5, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 4, 'half past 2', 0.75, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 5, '40 %', 0.4, 40.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 6, '-3 dB', 0.4, -3.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 7, '120 ms', 0.5, 120.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 8, '-10 dB', 0.625, -10.0, 1);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 9, 'low', 0.5, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 10, 'on', 1.0, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 11, '231 V', NULL, 231.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (3, 12, 'valves warm', NULL, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (6, 1, 'noon', 0.5, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (7, 2, '10 o''clock', 0.3, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 13, '7', 0.7, 7.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 14, 'half past 2', 0.75, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 15, '40 %', 0.4, 40.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 16, '-3 dB', 0.4, -3.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 17, '120 ms', 0.5, 120.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 18, '-10 dB', 0.625, -10.0, 1);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 19, 'low', 0.5, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 20, 'off', 0.0, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 21, '231 V', NULL, 231.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (8, 22, 'valves warm', NULL, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (11, 1, 'noon', 0.5, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 13, '7', 0.7, 7.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 14, 'half past 2', 0.75, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 15, '40 %', 0.4, 40.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 16, '-3 dB', 0.4, -3.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 17, '120 ms', 0.5, 120.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 18, '-10 dB', 0.625, -10.0, 1);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 19, 'low', 0.5, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 20, 'off', 0.0, NULL, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 21, '231 V', NULL, 231.0, 0);
INSERT INTO "setting" ("step_id", "control_id", "reading", "position", "value", "approximate") VALUES (12, 22, 'valves warm', NULL, NULL, 0);
INSERT INTO "setting_crop" ("step_id", "control_id", "reading", "file_id", "created_at") VALUES (1, 1, 'noon', 1, '2026-11-01 20:00:00.000000');
INSERT INTO "sound_shape" ("file_id", "integrated_lufs", "shape") VALUES (1, -18.3, X'000038410000284100001841000008410000F0400000D0400000B0400000904000006040000020400000C03F0000003F000000BF0000C0BF000020C0000060C0000090C00000B0C00000D0C00000F0C0000008C1000018C1000028C1000038C1');
INSERT INTO "sound_shape" ("file_id", "integrated_lufs", "shape") VALUES (2, -18.3, X'000038410000284100001841000008410000F0400000D0400000B0400000904000006040000020400000C03F0000003F000000BF0000C0BF000020C0000060C0000090C00000B0C00000D0C00000F0C0000008C1000018C1000028C1000038C1');
INSERT INTO "source_track" ("id", "project_id", "name", "instrument", "recorded_with", "gain", "tuning", "notes", "file_id", "file_name", "created_at", "uid") VALUES (1, 1, 'bass DI', '', '', '', '', '', 1, 'bass DI.wav', '2026-11-28 16:12:15.700678', '33eeb709343e4e13951f78a0e40f15aa');
INSERT INTO "source_track" ("id", "project_id", "name", "instrument", "recorded_with", "gain", "tuning", "notes", "file_id", "file_name", "created_at", "uid") VALUES (2, 1, 'organ line', '', '', '', '', '', NULL, '', '2026-11-28 16:12:15.734557', '6f19654a8f4e41b591db7fee3e90f626');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (1, '42e8d65f4972ec34f255f6a131d533a5eeaf0a3f730fb0c203bf08a270a19504', 48044, 'audio/wav', '2026-11-28 16:12:15.704462');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (2, '4be69c1e6a771537a3e7f4b953eaf6c633759104f900b7b401bf603bc4306c68', 48044, 'audio/wav', '2026-11-28 16:12:16.044712');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (3, 'ed257dd7525d8ec67bb4fb67d7e00cdf4aa5e3e09b88fe19a42a09ea93e306cf', 48044, 'audio/wav', '2026-11-28 16:12:16.069508');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (4, '8cd6fd2c738bee176d3207c0bfc52ae4dcb7b142ca803eba4873c56ce5f7a63a', 48044, 'audio/wav', '2026-11-28 16:12:16.122986');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (5, '86da7ac075eebdca06a8fe8f517f80460435ebedc51509170c62938d8f9a28fe', 676, 'image/jpeg', '2026-11-28 16:12:17.248572');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (6, '4398e899341c8b1e4d2122957927fbccc39b41dc728214b7410b4b5f4450e8c0', 539, 'image/jpeg', '2026-11-28 16:12:17.249619');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (7, '0801958faa919a2ff1d9193c4d30e1ee7fb660b980fe7540f0b369d9d4c7987f', 539, 'image/jpeg', '2026-11-28 16:12:17.250484');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (8, '9d316608408a8bf81b9845322314d0fab0e9bea7540fb094313c015ebeeabaab', 676, 'image/jpeg', '2026-11-28 16:12:17.305148');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (9, '2846a7136c6e678a899e0201483bd98ba6359ccb2151c777e73ca6345b7b6f95', 539, 'image/jpeg', '2026-11-28 16:12:17.305953');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (10, '6bc660fe2e4684801c46ee5f449e3c5e0005f65f1356993624698eb7680efa52', 539, 'image/jpeg', '2026-11-28 16:12:17.306893');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (11, 'ca52d5bb02d70088cf66d72b935a17c4e77ec3fa605765a74e3c7f1c1ab1af97', 676, 'image/jpeg', '2026-11-28 16:12:17.366671');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (12, 'ae83ac5e0cf3689f19c81cf794cb8a90a46e52bd2df74fa0a30baf6dcea97ea1', 539, 'image/jpeg', '2026-11-28 16:12:17.367531');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (13, 'c3ea2d331597ec66ef333195ea14846ecc5b9f40237169c0458d7646be08316c', 539, 'image/jpeg', '2026-11-28 16:12:17.368145');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (14, 'e130761da501ca5b9a6a15305839209e1b11cc8f3333cb85b74b35c0dfdd0a64', 19244, 'audio/wav', '2026-11-28 16:12:17.506205');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (15, '1cce9e662d4b42a02f4c23ab38a4272fcdee95406bdf179ed965a2dfd3582346', 28844, 'audio/wav', '2026-11-28 16:12:17.544859');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (16, '53ba96a3adf441edb0649dc23b92bf16009ffb729f9afa9c343940db8827d7eb', 48044, 'audio/wav', '2026-11-28 16:12:17.613778');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (17, '7a461f75a9482e53fa084920a87fc5d9292893a4fc7bdf5be83893eefd56c5ed', 48044, 'audio/wav', '2026-11-28 16:12:17.640206');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (18, 'e8c26a553ae4798318bbd4490e1a68b7e52f42dfaf241a6684c999061924bd1e', 48044, 'audio/wav', '2026-11-28 16:12:17.677913');
INSERT INTO "watched_folder" ("id", "project_id", "path", "keeps", "problem", "created_at") VALUES (1, 1, '/recordings/takes', 'copy', '', '2026-11-28 16:12:17.452474');
INSERT INTO "written_words" ("rowid", "words") VALUES (256, 'Boathouse');
INSERT INTO "written_words" ("rowid", "words") VALUES (257, 'Invented Trio');
INSERT INTO "written_words" ("rowid", "words") VALUES (258, 'Rain on tin.');
INSERT INTO "written_words" ("rowid", "words") VALUES (259, 'bass DI');
INSERT INTO "written_words" ("rowid", "words") VALUES (264, 'bass DI.wav');
INSERT INTO "written_words" ("rowid", "words") VALUES (265, 're-amp box');
INSERT INTO "written_words" ("rowid", "words") VALUES (267, 'Trim');
INSERT INTO "written_words" ("rowid", "words") VALUES (268, 'first try');
INSERT INTO "written_words" ("rowid", "words") VALUES (269, 'Kept it quiet.
Neighbours.');
INSERT INTO "written_words" ("rowid", "words") VALUES (270, 'Output 3 to the box.');
INSERT INTO "written_words" ("rowid", "words") VALUES (271, 'Box trim at noon.');
INSERT INTO "written_words" ("rowid", "words") VALUES (275, 'near');
INSERT INTO "written_words" ("rowid", "words") VALUES (276, 'near.wav');
INSERT INTO "written_words" ("rowid", "words") VALUES (277, 'left');
INSERT INTO "written_words" ("rowid", "words") VALUES (278, 'The low end sits.');
INSERT INTO "written_words" ("rowid", "words") VALUES (279, 'the amp');
INSERT INTO "written_words" ("rowid", "words") VALUES (285, 're-amp box');
INSERT INTO "written_words" ("rowid", "words") VALUES (512, 'Nothing yet');
INSERT INTO "written_words" ("rowid", "words") VALUES (515, 'organ line');
INSERT INTO "written_words" ("rowid", "words") VALUES (521, 'silicon fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (523, 'Fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (526, 'Output 3 to the box.');
INSERT INTO "written_words" ("rowid", "words") VALUES (527, 'Box trim at noon.');
INSERT INTO "written_words" ("rowid", "words") VALUES (532, 'far.wav');
INSERT INTO "written_words" ("rowid", "words") VALUES (541, 'silicon fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (777, '15-watt valve combo');
INSERT INTO "written_words" ("rowid", "words") VALUES (779, 'Gain');
INSERT INTO "written_words" ("rowid", "words") VALUES (780, 'no fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (782, 'Output 3 to the box.');
INSERT INTO "written_words" ("rowid", "words") VALUES (783, 'Box trim at noon.');
INSERT INTO "written_words" ("rowid", "words") VALUES (788, 'odd.wav');
INSERT INTO "written_words" ("rowid", "words") VALUES (791, 'inside');
INSERT INTO "written_words" ("rowid", "words") VALUES (796, 'valves warm');
INSERT INTO "written_words" ("rowid", "words") VALUES (797, '15-watt valve combo');
INSERT INTO "written_words" ("rowid", "words") VALUES (1033, '1×12 cabinet');
INSERT INTO "written_words" ("rowid", "words") VALUES (1035, 'Tone');
INSERT INTO "written_words" ("rowid", "words") VALUES (1053, '1×12 cabinet');
INSERT INTO "written_words" ("rowid", "words") VALUES (1289, 'small ribbon microphone');
INSERT INTO "written_words" ("rowid", "words") VALUES (1291, 'Mix');
INSERT INTO "written_words" ("rowid", "words") VALUES (1296, 'left');
INSERT INTO "written_words" ("rowid", "words") VALUES (1297, 'first');
INSERT INTO "written_words" ("rowid", "words") VALUES (1298, 'on a towel');
INSERT INTO "written_words" ("rowid", "words") VALUES (1309, 'small ribbon microphone');
INSERT INTO "written_words" ("rowid", "words") VALUES (1545, 'spare DI box');
INSERT INTO "written_words" ("rowid", "words") VALUES (1547, 'Trim');
INSERT INTO "written_words" ("rowid", "words") VALUES (1565, 'spare DI box');
INSERT INTO "written_words" ("rowid", "words") VALUES (1801, 'sold chorus');
INSERT INTO "written_words" ("rowid", "words") VALUES (1803, 'Time');
INSERT INTO "written_words" ("rowid", "words") VALUES (1821, 'sold chorus');
INSERT INTO "written_words" ("rowid", "words") VALUES (2057, 'eight-in interface');
INSERT INTO "written_words" ("rowid", "words") VALUES (2059, 'Level');
INSERT INTO "written_words" ("rowid", "words") VALUES (2076, 'valves warm');
INSERT INTO "written_words" ("rowid", "words") VALUES (2077, 'eight-in interface');
INSERT INTO "written_words" ("rowid", "words") VALUES (2315, 'Input');
INSERT INTO "written_words" ("rowid", "words") VALUES (2333, '15-watt valve combo');
INSERT INTO "written_words" ("rowid", "words") VALUES (2571, 'Bright');
INSERT INTO "written_words" ("rowid", "words") VALUES (2576, 'left');
INSERT INTO "written_words" ("rowid", "words") VALUES (2577, 'first');
INSERT INTO "written_words" ("rowid", "words") VALUES (2578, 'on a towel');
INSERT INTO "written_words" ("rowid", "words") VALUES (2827, 'Mains');
INSERT INTO "written_words" ("rowid", "words") VALUES (3083, 'Remark');
INSERT INTO "written_words" ("rowid", "words") VALUES (3100, 'valves warm');
INSERT INTO "written_words" ("rowid", "words") VALUES (3339, 'Drive');
INSERT INTO "written_words" ("rowid", "words") VALUES (3595, 'Tone');
INSERT INTO "written_words" ("rowid", "words") VALUES (3600, 'left');
INSERT INTO "written_words" ("rowid", "words") VALUES (3601, 'first');
INSERT INTO "written_words" ("rowid", "words") VALUES (3602, 'on a towel');
INSERT INTO "written_words" ("rowid", "words") VALUES (3851, 'Mix');
INSERT INTO "written_words" ("rowid", "words") VALUES (4107, 'Trim');
INSERT INTO "written_words" ("rowid", "words") VALUES (4363, 'Time');
INSERT INTO "written_words" ("rowid", "words") VALUES (4619, 'Level');
INSERT INTO "written_words" ("rowid", "words") VALUES (4875, 'Input');
INSERT INTO "written_words" ("rowid", "words") VALUES (5131, 'Bright');
INSERT INTO "written_words" ("rowid", "words") VALUES (5387, 'Mains');
INSERT INTO "written_words" ("rowid", "words") VALUES (5643, 'Remark');
CREATE INDEX ix_arrival_file_id ON arrival (file_id);
CREATE INDEX ix_arrival_of_folder ON arrival (folder_id, path);
CREATE INDEX ix_arrival_print_id ON arrival (print_id);
CREATE INDEX ix_arrival_state ON arrival (state);
CREATE INDEX ix_audition_state ON audition (state);
CREATE INDEX ix_blind_choice_source_id ON blind_choice (source_id);
CREATE INDEX ix_chain_step_gear_id ON chain_step (gear_id);
CREATE INDEX ix_chain_step_layout_id ON chain_step (layout_id);
CREATE UNIQUE INDEX ix_control_layout_uid ON control_layout (uid);
CREATE INDEX ix_draft_crop_file_id ON draft_crop (file_id);
CREATE UNIQUE INDEX ix_draft_next_of_source ON draft (source_id) WHERE pass_id IS NULL;
CREATE INDEX ix_draft_photo_draft_id ON draft_photo (draft_id);
CREATE INDEX ix_draft_photo_original_file_id ON draft_photo (original_file_id);
CREATE INDEX ix_draft_photo_shown_file_id ON draft_photo (shown_file_id);
CREATE INDEX ix_draft_photo_thumbnail_file_id ON draft_photo (thumbnail_file_id);
CREATE INDEX ix_examination_of_file ON examination (file_id, kind, other_file_id);
CREATE INDEX ix_examination_other_file_id ON examination (other_file_id);
CREATE INDEX ix_examination_source_file_id ON examination (source_file_id);
CREATE INDEX ix_examination_state ON examination (state);
CREATE UNIQUE INDEX ix_gear_uid ON gear (uid);
CREATE INDEX ix_hearing_test_source_id ON hearing_test (source_id);
CREATE INDEX ix_keeper_mark_pass_id ON keeper_mark (pass_id);
CREATE UNIQUE INDEX ix_keeper_mark_uid ON keeper_mark (uid);
CREATE INDEX ix_measured_finding_kind ON measured_finding (kind);
CREATE INDEX ix_measurement_of_file ON measurement (file_id, source_file_id, algorithm_version);
CREATE INDEX ix_measurement_source_file_id ON measurement (source_file_id);
CREATE INDEX ix_measurement_state ON measurement (state);
CREATE INDEX ix_note_pass_id ON note (pass_id);
CREATE INDEX ix_note_project_id ON note (project_id);
CREATE UNIQUE INDEX ix_note_uid ON note (uid);
CREATE INDEX ix_panel_photo_layout_id ON panel_photo (layout_id);
CREATE INDEX ix_pass_created_at ON pass (created_at);
CREATE INDEX ix_pass_tag_tag ON pass_tag (tag);
CREATE UNIQUE INDEX ix_pass_uid ON pass (uid);
CREATE INDEX ix_photo_gear_id ON photo (gear_id);
CREATE INDEX ix_photo_original_file_id ON photo (original_file_id);
CREATE INDEX ix_photo_pass_id ON photo (pass_id);
CREATE INDEX ix_photo_pin_gear_id ON photo_pin (gear_id);
CREATE INDEX ix_photo_shown_file_id ON photo (shown_file_id);
CREATE INDEX ix_photo_step_id ON photo (step_id);
CREATE INDEX ix_photo_thumbnail_file_id ON photo (thumbnail_file_id);
CREATE UNIQUE INDEX ix_photo_uid ON photo (uid);
CREATE INDEX ix_print_file_id ON print (file_id);
CREATE INDEX ix_print_pass_id ON print (pass_id);
CREATE INDEX ix_print_repeat_first_id ON print_repeat (first_id);
CREATE INDEX ix_print_step_id ON print (step_id);
CREATE UNIQUE INDEX ix_print_uid ON print (uid);
CREATE UNIQUE INDEX ix_project_uid ON project (uid);
CREATE INDEX ix_recall_pass_id ON recall (pass_id);
CREATE INDEX ix_recall_photo_original_file_id ON recall_photo (original_file_id);
CREATE INDEX ix_recall_photo_recall_id ON recall_photo (recall_id);
CREATE INDEX ix_recall_photo_shown_file_id ON recall_photo (shown_file_id);
CREATE INDEX ix_recall_photo_thumbnail_file_id ON recall_photo (thumbnail_file_id);
CREATE INDEX ix_recall_substitute_gear_id ON recall_substitute (gear_id);
CREATE INDEX ix_recall_try_file_id ON recall_try (file_id);
CREATE INDEX ix_recall_try_original_print_id ON recall_try (original_print_id);
CREATE INDEX ix_recall_try_recall_id ON recall_try (recall_id);
CREATE INDEX ix_received_jotting_received_at ON received_jotting (received_at);
CREATE INDEX ix_reference_print_file_id ON reference_print (file_id);
CREATE INDEX ix_reference_print_pass_id ON reference_print (pass_id);
CREATE INDEX ix_reference_print_recall_id ON reference_print (recall_id);
CREATE INDEX ix_reference_print_reference_id ON reference_print (reference_id);
CREATE INDEX ix_reference_signal_file_id ON reference_signal (file_id);
CREATE INDEX ix_reference_signal_project_id ON reference_signal (project_id);
CREATE INDEX ix_setting_control_id_position ON setting (control_id, position, step_id);
CREATE INDEX ix_setting_crop_file_id ON setting_crop (file_id);
CREATE INDEX ix_sound_level_project_id ON sound_level (project_id);
CREATE INDEX ix_sound_shape_integrated_lufs ON sound_shape (integrated_lufs);
CREATE INDEX ix_source_track_file_id ON source_track (file_id);
CREATE INDEX ix_source_track_project_id ON source_track (project_id);
CREATE UNIQUE INDEX ix_source_track_uid ON source_track (uid);
CREATE INDEX ix_watched_folder_project_id ON watched_folder (project_id);
