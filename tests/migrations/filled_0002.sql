-- A small library with one of everything as form 0002 kept it. Everything in it is invented. Never edited: it is history.
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
CREATE TABLE gear (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	kind VARCHAR NOT NULL, 
	name VARCHAR NOT NULL, 
	notes VARCHAR NOT NULL, 
	retired_at DATETIME, 
	created_at DATETIME NOT NULL
);
CREATE TABLE project (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	title VARCHAR NOT NULL, 
	artist VARCHAR NOT NULL, 
	sample_rate INTEGER NOT NULL, 
	notes VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL
);
CREATE TABLE stored_file (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	sha256 VARCHAR NOT NULL, 
	bytes BIGINT NOT NULL, 
	media_type VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT uq_stored_file_sha256 UNIQUE (sha256)
);
CREATE TABLE control_layout (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	gear_id INTEGER NOT NULL, 
	version INTEGER NOT NULL, 
	gear_name VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, ports JSON, facts JSON DEFAULT '{}' NOT NULL, 
	CONSTRAINT fk_control_layout_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE, 
	CONSTRAINT uq_control_layout_gear_id_version UNIQUE (gear_id, version)
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
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_source_track_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_source_track_project_id_project FOREIGN KEY(project_id) REFERENCES project (id) ON DELETE CASCADE
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
	edited_at DATETIME NOT NULL, 
	CONSTRAINT fk_pass_source_id_source_track FOREIGN KEY(source_id) REFERENCES source_track (id) ON DELETE CASCADE, 
	CONSTRAINT uq_pass_source_id_number UNIQUE (source_id, number)
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
CREATE TABLE keeper_mark (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER NOT NULL, 
	part VARCHAR NOT NULL, 
	reason VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, 
	CONSTRAINT fk_keeper_mark_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
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
	created_at DATETIME NOT NULL, 
	CONSTRAINT ck_photo_ck_photo_of_a_pass_or_gear CHECK ((pass_id IS NULL) <> (gear_id IS NULL)), 
	CONSTRAINT fk_photo_gear_id_gear FOREIGN KEY(gear_id) REFERENCES gear (id) ON DELETE CASCADE, 
	CONSTRAINT fk_photo_original_file_id_stored_file FOREIGN KEY(original_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_photo_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_photo_shown_file_id_stored_file FOREIGN KEY(shown_file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_photo_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE SET NULL, 
	CONSTRAINT fk_photo_thumbnail_file_id_stored_file FOREIGN KEY(thumbnail_file_id) REFERENCES stored_file (id)
);
CREATE TABLE print (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	pass_id INTEGER NOT NULL, 
	step_id INTEGER, 
	label VARCHAR NOT NULL, 
	file_id INTEGER NOT NULL, 
	file_name VARCHAR NOT NULL, 
	created_at DATETIME NOT NULL, balance_db FLOAT DEFAULT '0' NOT NULL, 
	CONSTRAINT fk_print_file_id_stored_file FOREIGN KEY(file_id) REFERENCES stored_file (id), 
	CONSTRAINT fk_print_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE, 
	CONSTRAINT fk_print_step_id_chain_step FOREIGN KEY(step_id) REFERENCES chain_step (id) ON DELETE SET NULL
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
CREATE VIRTUAL TABLE written_words USING fts5(words, tokenize = "unicode61 remove_diacritics 2", prefix = '2 3');
CREATE TABLE hook_up_plan (
	pass_id INTEGER NOT NULL, 
	"plan" JSON NOT NULL, 
	levels JSON NOT NULL, 
	CONSTRAINT pk_hook_up_plan PRIMARY KEY (pass_id), 
	CONSTRAINT fk_hook_up_plan_pass_id_pass FOREIGN KEY(pass_id) REFERENCES pass (id) ON DELETE CASCADE
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
CREATE INDEX ix_measurement_of_file ON measurement (file_id, source_file_id, algorithm_version);
CREATE INDEX ix_measurement_source_file_id ON measurement (source_file_id);
CREATE INDEX ix_measurement_state ON measurement (state);
CREATE INDEX ix_source_track_file_id ON source_track (file_id);
CREATE INDEX ix_source_track_project_id ON source_track (project_id);
CREATE INDEX ix_pass_created_at ON pass (created_at);
CREATE INDEX ix_chain_step_gear_id ON chain_step (gear_id);
CREATE INDEX ix_chain_step_layout_id ON chain_step (layout_id);
CREATE INDEX ix_keeper_mark_pass_id ON keeper_mark (pass_id);
CREATE INDEX ix_photo_gear_id ON photo (gear_id);
CREATE INDEX ix_photo_original_file_id ON photo (original_file_id);
CREATE INDEX ix_photo_pass_id ON photo (pass_id);
CREATE INDEX ix_photo_shown_file_id ON photo (shown_file_id);
CREATE INDEX ix_photo_step_id ON photo (step_id);
CREATE INDEX ix_photo_thumbnail_file_id ON photo (thumbnail_file_id);
CREATE INDEX ix_print_file_id ON print (file_id);
CREATE INDEX ix_print_pass_id ON print (pass_id);
CREATE INDEX ix_print_step_id ON print (step_id);
CREATE INDEX ix_setting_control_id_position ON setting (control_id, position, step_id);
CREATE INDEX ix_sound_level_project_id ON sound_level (project_id);
CREATE INDEX ix_audition_state ON audition (state);
CREATE INDEX ix_blind_choice_source_id ON blind_choice (source_id);
CREATE INDEX ix_hearing_test_source_id ON hearing_test (source_id);
INSERT INTO "alembic_version" ("version_num") VALUES ('0002');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (1, 'reamp_box', 're-amp box', '', NULL, '2026-11-25 08:30:19.928124');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (2, 'pedal', 'silicon fuzz', '', NULL, '2026-11-25 08:30:19.950641');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (3, 'amp', '15-watt valve combo', '', NULL, '2026-11-25 08:30:19.956927');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (4, 'cabinet', '1×12 cabinet', '', NULL, '2026-11-25 08:30:19.963352');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (5, 'microphone', 'small ribbon microphone', '', NULL, '2026-11-25 08:30:19.967304');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (6, 'di_box', 'spare DI box', '', NULL, '2026-11-25 08:30:19.970676');
INSERT INTO "gear" ("id", "kind", "name", "notes", "retired_at", "created_at") VALUES (7, 'pedal', 'sold chorus', '', '2026-11-25 08:30:19.979251', '2026-11-25 08:30:19.975278');
INSERT INTO "project" ("id", "title", "artist", "sample_rate", "notes", "created_at") VALUES (1, 'Boathouse', 'Invented Trio', 48000, 'Rain on tin.', '2026-11-25 08:30:19.985987');
INSERT INTO "project" ("id", "title", "artist", "sample_rate", "notes", "created_at") VALUES (2, 'Nothing yet', '', 48000, '', '2026-11-25 08:30:19.991272');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (1, '42e8d65f4972ec34f255f6a131d533a5eeaf0a3f730fb0c203bf08a270a19504', 48044, 'audio/wav', '2026-11-25 08:30:20.023394');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (2, '4be69c1e6a771537a3e7f4b953eaf6c633759104f900b7b401bf603bc4306c68', 48044, 'audio/wav', '2026-11-25 08:30:20.260339');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (3, 'ed257dd7525d8ec67bb4fb67d7e00cdf4aa5e3e09b88fe19a42a09ea93e306cf', 48044, 'audio/wav', '2026-11-25 08:30:20.288290');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (4, '8cd6fd2c738bee176d3207c0bfc52ae4dcb7b142ca803eba4873c56ce5f7a63a', 48044, 'audio/wav', '2026-11-25 08:30:20.320450');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (5, '86da7ac075eebdca06a8fe8f517f80460435ebedc51509170c62938d8f9a28fe', 676, 'image/jpeg', '2026-11-25 08:30:20.420646');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (6, '4398e899341c8b1e4d2122957927fbccc39b41dc728214b7410b4b5f4450e8c0', 539, 'image/jpeg', '2026-11-25 08:30:20.421316');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (7, '0801958faa919a2ff1d9193c4d30e1ee7fb660b980fe7540f0b369d9d4c7987f', 539, 'image/jpeg', '2026-11-25 08:30:20.421680');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (8, '9d316608408a8bf81b9845322314d0fab0e9bea7540fb094313c015ebeeabaab', 676, 'image/jpeg', '2026-11-25 08:30:20.462861');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (9, '2846a7136c6e678a899e0201483bd98ba6359ccb2151c777e73ca6345b7b6f95', 539, 'image/jpeg', '2026-11-25 08:30:20.463700');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (10, '6bc660fe2e4684801c46ee5f449e3c5e0005f65f1356993624698eb7680efa52', 539, 'image/jpeg', '2026-11-25 08:30:20.464089');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (11, 'ca52d5bb02d70088cf66d72b935a17c4e77ec3fa605765a74e3c7f1c1ab1af97', 676, 'image/jpeg', '2026-11-25 08:30:20.488981');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (12, 'ae83ac5e0cf3689f19c81cf794cb8a90a46e52bd2df74fa0a30baf6dcea97ea1', 539, 'image/jpeg', '2026-11-25 08:30:20.489739');
INSERT INTO "stored_file" ("id", "sha256", "bytes", "media_type", "created_at") VALUES (13, 'c3ea2d331597ec66ef333195ea14846ecc5b9f40237169c0458d7646be08316c', 539, 'image/jpeg', '2026-11-25 08:30:20.490102');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (1, 1, 1, 're-amp box', 'reamp_box', '2026-11-25 08:30:19.932495', NULL, '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (2, 2, 1, 'silicon fuzz', 'pedal', '2026-11-25 08:30:19.951624', NULL, '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (3, 3, 1, '15-watt valve combo', 'amp', '2026-11-25 08:30:19.957658', '[]', '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (4, 4, 1, '1×12 cabinet', 'cabinet', '2026-11-25 08:30:19.963992', NULL, '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (5, 5, 1, 'small ribbon microphone', 'microphone', '2026-11-25 08:30:19.967933', NULL, '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (6, 6, 1, 'spare DI box', 'di_box', '2026-11-25 08:30:19.971395', NULL, '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (7, 7, 1, 'sold chorus', 'pedal', '2026-11-25 08:30:19.975902', NULL, '{}');
INSERT INTO "control_layout" ("id", "gear_id", "version", "gear_name", "kind", "created_at", "ports", "facts") VALUES (8, 3, 2, '15-watt valve combo', 'amp', '2026-11-25 08:30:20.090309', NULL, '{}');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (1, 1, NULL, 1, 'done', '', 1, '{"file": {"sample_rate": 48000, "channels": 1, "frames": 48000, "duration_s": 1.0, "format": "WAV", "subtype": "PCM_16"}, "level": {"integrated_lufs": -18.3, "loudness_range_lu": 3.0, "max_momentary_lufs": -15.0, "max_short_term_lufs": -16.0, "true_peak_dbtp": -3.2, "sample_peak_dbfs": -3.4, "rms_dbfs": -20.0, "crest_db": 16.6, "dc_offset": 0.0}, "bands": [{"nominal_hz": 794, "mid_hz": 794.3282347242815, "level_dbfs": -39.0}, {"nominal_hz": 1000, "mid_hz": 1000.0, "level_dbfs": -40.0}, {"nominal_hz": 1259, "mid_hz": 1258.9254117941673, "level_dbfs": -41.0}], "faults": {"silent": false, "clipped_runs": [], "dropouts": [], "hum": null, "noise_floor_dbfs": -80.0, "starts_late_s": 0.0, "ends_early_s": null}, "alignment": null, "overview": {"columns": [[-0.2, 0.2], [-0.1, 0.1], [0.0, 0.0]], "loudness": [{"at_s": 1.5, "lufs": -18.3}]}, "notes": ["An invented note."], "algorithm_version": 1}', '2026-11-25 08:30:20.027628', '2026-11-25 08:30:20.047591');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (2, 2, 1, 1, 'done', '', 1, '{"file": {"sample_rate": 48000, "channels": 1, "frames": 48000, "duration_s": 1.0, "format": "WAV", "subtype": "PCM_16"}, "level": {"integrated_lufs": -18.3, "loudness_range_lu": 3.0, "max_momentary_lufs": -15.0, "max_short_term_lufs": -16.0, "true_peak_dbtp": -3.2, "sample_peak_dbfs": -3.4, "rms_dbfs": -20.0, "crest_db": 16.6, "dc_offset": 0.0}, "bands": [{"nominal_hz": 20, "mid_hz": 19.952623149688797, "level_dbfs": -57.0}, {"nominal_hz": 25, "mid_hz": 25.118864315095795, "level_dbfs": -56.0}, {"nominal_hz": 32, "mid_hz": 31.622776601683793, "level_dbfs": -55.0}, {"nominal_hz": 40, "mid_hz": 39.810717055349734, "level_dbfs": -54.0}, {"nominal_hz": 50, "mid_hz": 50.11872336272722, "level_dbfs": -53.0}, {"nominal_hz": 63, "mid_hz": 63.09573444801933, "level_dbfs": -52.0}, {"nominal_hz": 79, "mid_hz": 79.43282347242814, "level_dbfs": -51.0}, {"nominal_hz": 100, "mid_hz": 100.0, "level_dbfs": -50.0}, {"nominal_hz": 126, "mid_hz": 125.89254117941672, "level_dbfs": -49.0}, {"nominal_hz": 158, "mid_hz": 158.48931924611134, "level_dbfs": -48.0}, {"nominal_hz": 200, "mid_hz": 199.526231496888, "level_dbfs": -47.0}, {"nominal_hz": 251, "mid_hz": 251.188643150958, "level_dbfs": -46.0}, {"nominal_hz": 316, "mid_hz": 316.22776601683796, "level_dbfs": -45.0}, {"nominal_hz": 398, "mid_hz": 398.1071705534972, "level_dbfs": -44.0}, {"nominal_hz": 501, "mid_hz": 501.18723362727224, "level_dbfs": -43.0}, {"nominal_hz": 631, "mid_hz": 630.9573444801932, "level_dbfs": -42.0}, {"nominal_hz": 794, "mid_hz": 794.3282347242815, "level_dbfs": -41.0}, {"nominal_hz": 1000, "mid_hz": 1000.0, "level_dbfs": -40.0}, {"nominal_hz": 1259, "mid_hz": 1258.9254117941673, "level_dbfs": -41.0}, {"nominal_hz": 1585, "mid_hz": 1584.8931924611136, "level_dbfs": -42.0}, {"nominal_hz": 1995, "mid_hz": 1995.2623149688795, "level_dbfs": -43.0}, {"nominal_hz": 2512, "mid_hz": 2511.8864315095802, "level_dbfs": -44.0}, {"nominal_hz": 3162, "mid_hz": 3162.2776601683795, "level_dbfs": -45.0}, {"nominal_hz": 3981, "mid_hz": 3981.0717055349724, "level_dbfs": -46.0}, {"nominal_hz": 5012, "mid_hz": 5011.872336272722, "level_dbfs": -47.0}, {"nominal_hz": 6310, "mid_hz": 6309.573444801933, "level_dbfs": -48.0}, {"nominal_hz": 7943, "mid_hz": 7943.282347242815, "level_dbfs": -49.0}, {"nominal_hz": 10000, "mid_hz": 10000.0, "level_dbfs": -50.0}, {"nominal_hz": 12589, "mid_hz": 12589.254117941675, "level_dbfs": -51.0}, {"nominal_hz": 15849, "mid_hz": 15848.931924611134, "level_dbfs": -52.0}, {"nominal_hz": 19953, "mid_hz": 19952.623149688796, "level_dbfs": -53.0}], "faults": {"silent": false, "clipped_runs": [{"at_s": 63.2, "samples": 4}, {"at_s": 64.0, "samples": 4}], "dropouts": [{"at_s": 0.4, "kind": "gap", "samples": 64}], "hum": {"mains_hz": 50.0, "level_dbfs": -61.0, "confidence": 0.9}, "noise_floor_dbfs": -80.0, "starts_late_s": 0.0, "ends_early_s": 4.2}, "alignment": {"delay_samples": 37.0, "delay_ms": 0.7708333333333334, "polarity": "inverted", "confidence": 0.97, "drift_ppm": 0.0, "is_of_source": true}, "overview": {"columns": [[-0.2, 0.2], [-0.1, 0.1], [0.0, 0.0]], "loudness": [{"at_s": 1.5, "lufs": -18.3}]}, "notes": ["An invented note."], "algorithm_version": 1}', '2026-11-25 08:30:20.263687', '2026-11-25 08:30:20.335475');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (3, 3, 1, 1, 'failed', '“odd.wav” could not be read.', 1, 'null', '2026-11-25 08:30:20.289615', '2026-11-25 08:30:20.351289');
INSERT INTO "measurement" ("id", "file_id", "source_file_id", "algorithm_version", "state", "reason", "tries", "figures", "created_at", "finished_at") VALUES (4, 4, 1, 1, 'waiting', '', 0, 'null', '2026-11-25 08:30:20.321661', NULL);
INSERT INTO "source_track" ("id", "project_id", "name", "instrument", "recorded_with", "gain", "tuning", "notes", "file_id", "file_name", "created_at") VALUES (1, 1, 'bass DI', '', '', '', '', '', 1, 'bass DI.wav', '2026-11-25 08:30:20.020000');
INSERT INTO "source_track" ("id", "project_id", "name", "instrument", "recorded_with", "gain", "tuning", "notes", "file_id", "file_name", "created_at") VALUES (2, 1, 'organ line', '', '', '', '', '', NULL, '', '2026-11-25 08:30:20.055803');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (1, 1, '270b007f652b431c99d4930e1b1085e2', 0, 'Trim', '{"name": "Trim", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (2, 2, '1fae60b209b74c04aa4c74a91a8e5039', 0, 'Fuzz', '{"name": "Fuzz", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (3, 3, 'f9379fce427e4434b3307d40e3bf6e26', 0, 'Gain', '{"name": "Gain", "form": "knob", "scale": {"kind": "range", "low": 0.0, "high": 10.0, "unit": ""}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (4, 3, '40ab40301f064379a8fab154c9dc3a9f', 1, 'Tone', '{"name": "Tone", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (5, 3, '3d77a50388f949b99af2a715b94eb241', 2, 'Mix', '{"name": "Mix", "form": "knob", "scale": {"kind": "percent"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (6, 3, 'e159508d3b0b4434bcb09a1649f6a885', 3, 'Trim', '{"name": "Trim", "form": "knob", "scale": {"kind": "range", "low": -15.0, "high": 15.0, "unit": "dB"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (7, 3, '9d83b4bf2edd429bbce68d335445e18f', 4, 'Time', '{"name": "Time", "form": "knob", "scale": {"kind": "marks", "unit": "ms", "marks": [[20.0, 0.0], [120.0, 0.5], [600.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (8, 3, 'dceebd9848ef4016863af279dd46ff8d', 5, 'Level', '{"name": "Level", "form": "fader", "scale": {"kind": "marks", "unit": "dB", "marks": [[-60.0, 0.0], [0.0, 0.75], [10.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (9, 3, 'd738587eac76435d8b845715de404d4f', 6, 'Input', '{"name": "Input", "form": "selector", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["high", "low", "link"], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (10, 3, '86ad0c398c53417b8a8b3c10b95d517e', 7, 'Bright', '{"name": "Bright", "form": "switch", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["off", "on"], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (11, 3, '223086be843d4c68b51b9ec5ca69d202', 8, 'Mains', '{"name": "Mains", "form": "number", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "V"}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (12, 3, '784138fb52c94f73b6cbb8a9304f4150', 9, 'Remark', '{"name": "Remark", "form": "text", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (13, 8, 'f9379fce427e4434b3307d40e3bf6e26', 0, 'Drive', '{"name": "Drive", "form": "knob", "scale": {"kind": "range", "low": 0.0, "high": 10.0, "unit": ""}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (14, 8, '40ab40301f064379a8fab154c9dc3a9f', 1, 'Tone', '{"name": "Tone", "form": "knob", "scale": {"kind": "clock"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (15, 8, '3d77a50388f949b99af2a715b94eb241', 2, 'Mix', '{"name": "Mix", "form": "knob", "scale": {"kind": "percent"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (16, 8, 'e159508d3b0b4434bcb09a1649f6a885', 3, 'Trim', '{"name": "Trim", "form": "knob", "scale": {"kind": "range", "low": -15.0, "high": 15.0, "unit": "dB"}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (17, 8, '9d83b4bf2edd429bbce68d335445e18f', 4, 'Time', '{"name": "Time", "form": "knob", "scale": {"kind": "marks", "unit": "ms", "marks": [[20.0, 0.0], [120.0, 0.5], [600.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (18, 8, 'dceebd9848ef4016863af279dd46ff8d', 5, 'Level', '{"name": "Level", "form": "fader", "scale": {"kind": "marks", "unit": "dB", "marks": [[-60.0, 0.0], [0.0, 0.75], [10.0, 1.0]]}, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (19, 8, 'd738587eac76435d8b845715de404d4f', 6, 'Input', '{"name": "Input", "form": "selector", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["high", "low", "link"], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (20, 8, '86ad0c398c53417b8a8b3c10b95d517e', 7, 'Bright', '{"name": "Bright", "form": "switch", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": ["off", "on"], "unit": ""}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (21, 8, '223086be843d4c68b51b9ec5ca69d202', 8, 'Mains', '{"name": "Mains", "form": "number", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": "V"}');
INSERT INTO "control" ("id", "layout_id", "key", "position", "name", "spec") VALUES (22, 8, '784138fb52c94f73b6cbb8a9304f4150', 9, 'Remark', '{"name": "Remark", "form": "text", "scale": null, "travel": {"start_deg": -150.0, "end_deg": 150.0}, "positions": [], "unit": ""}');
INSERT INTO "pass" ("id", "source_id", "number", "title", "notes", "hook_up", "levels", "revision", "created_at", "edited_at") VALUES (1, 1, 1, 'first try', 'Kept it quiet.
Neighbours.', 'Output 3 to the box.', 'Box trim at noon.', 1, '2026-11-25 08:30:20.071898', '2026-11-25 08:30:20.071909');
INSERT INTO "pass" ("id", "source_id", "number", "title", "notes", "hook_up", "levels", "revision", "created_at", "edited_at") VALUES (2, 1, 2, '', '', 'Output 3 to the box.', 'Box trim at noon.', 1, '2026-11-25 08:30:20.122092', '2026-11-25 08:30:20.122103');
INSERT INTO "pass" ("id", "source_id", "number", "title", "notes", "hook_up", "levels", "revision", "created_at", "edited_at") VALUES (3, 1, 3, 'no fuzz', '', 'Output 3 to the box.', 'Box trim at noon.', 1, '2026-11-25 08:30:20.210454', '2026-11-25 08:30:20.210468');
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (1, 1, 0, '', 1, 1);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (2, 1, 1, '', 2, 2);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (3, 1, 2, '', 3, 3);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (4, 1, 3, '', 4, 4);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (5, 1, 4, '', 5, 5);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (6, 2, 0, '', 1, 1);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (7, 2, 1, '', 2, 2);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (8, 2, 2, '', 3, 8);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (9, 2, 3, '', 4, 4);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (10, 2, 4, '', 5, 5);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (11, 3, 0, '', 1, 1);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (12, 3, 1, 'A', 3, 8);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (13, 3, 2, 'A', 4, 4);
INSERT INTO "chain_step" ("id", "pass_id", "position", "branch", "gear_id", "layout_id") VALUES (14, 3, 3, '', 5, 5);
INSERT INTO "keeper_mark" ("id", "pass_id", "part", "reason", "created_at") VALUES (1, 1, 'left', 'The low end sits.', '2026-11-25 08:30:20.359772');
INSERT INTO "mic_placement" ("step_id", "speaker", "distance_mm", "offset_mm", "angle_deg", "height_mm", "pattern", "pad_db", "low_cut_hz", "preamp", "gain", "note") VALUES (5, 'left', 30.0, 40.0, 15.0, 600.0, 'figure-8', -10.0, 80.0, 'first', '6', 'on a towel');
INSERT INTO "mic_placement" ("step_id", "speaker", "distance_mm", "offset_mm", "angle_deg", "height_mm", "pattern", "pad_db", "low_cut_hz", "preamp", "gain", "note") VALUES (10, 'left', 30.0, 40.0, 15.0, 600.0, 'figure-8', -10.0, 80.0, 'first', '6', 'on a towel');
INSERT INTO "mic_placement" ("step_id", "speaker", "distance_mm", "offset_mm", "angle_deg", "height_mm", "pattern", "pad_db", "low_cut_hz", "preamp", "gain", "note") VALUES (14, 'left', 30.0, 40.0, 15.0, 600.0, 'figure-8', -10.0, 80.0, 'first', '6', 'on a towel');
INSERT INTO "photo" ("id", "pass_id", "step_id", "gear_id", "caption", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at") VALUES (1, 1, NULL, NULL, 'the amp', 64, 48, 5, 6, 7, '2026-11-25 08:30:20.421904');
INSERT INTO "photo" ("id", "pass_id", "step_id", "gear_id", "caption", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at") VALUES (2, 1, 5, NULL, '', 64, 48, 8, 9, 10, '2026-11-25 08:30:20.464318');
INSERT INTO "photo" ("id", "pass_id", "step_id", "gear_id", "caption", "width", "height", "original_file_id", "shown_file_id", "thumbnail_file_id", "created_at") VALUES (3, NULL, NULL, 2, 'inside', 64, 48, 11, 12, 13, '2026-11-25 08:30:20.490325');
INSERT INTO "print" ("id", "pass_id", "step_id", "label", "file_id", "file_name", "created_at", "balance_db") VALUES (1, 1, 5, 'near', 2, 'near.wav', '2026-11-25 08:30:20.261576', -3.0);
INSERT INTO "print" ("id", "pass_id", "step_id", "label", "file_id", "file_name", "created_at", "balance_db") VALUES (2, 2, NULL, '', 3, 'far.wav', '2026-11-25 08:30:20.288724', 0.0);
INSERT INTO "print" ("id", "pass_id", "step_id", "label", "file_id", "file_name", "created_at", "balance_db") VALUES (3, 3, NULL, '', 4, 'odd.wav', '2026-11-25 08:30:20.320904', 0.0);
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
INSERT INTO "written_words" ("rowid", "words") VALUES (512, 'Nothing yet');
INSERT INTO "written_words" ("rowid", "words") VALUES (515, 'organ line');
INSERT INTO "written_words" ("rowid", "words") VALUES (521, 'silicon fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (523, 'Fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (526, 'Output 3 to the box.');
INSERT INTO "written_words" ("rowid", "words") VALUES (527, 'Box trim at noon.');
INSERT INTO "written_words" ("rowid", "words") VALUES (532, 'far.wav');
INSERT INTO "written_words" ("rowid", "words") VALUES (777, '15-watt valve combo');
INSERT INTO "written_words" ("rowid", "words") VALUES (779, 'Gain');
INSERT INTO "written_words" ("rowid", "words") VALUES (780, 'no fuzz');
INSERT INTO "written_words" ("rowid", "words") VALUES (782, 'Output 3 to the box.');
INSERT INTO "written_words" ("rowid", "words") VALUES (783, 'Box trim at noon.');
INSERT INTO "written_words" ("rowid", "words") VALUES (788, 'odd.wav');
INSERT INTO "written_words" ("rowid", "words") VALUES (791, 'inside');
INSERT INTO "written_words" ("rowid", "words") VALUES (1033, '1×12 cabinet');
INSERT INTO "written_words" ("rowid", "words") VALUES (1035, 'Tone');
INSERT INTO "written_words" ("rowid", "words") VALUES (1289, 'small ribbon microphone');
INSERT INTO "written_words" ("rowid", "words") VALUES (1291, 'Mix');
INSERT INTO "written_words" ("rowid", "words") VALUES (1296, 'left');
INSERT INTO "written_words" ("rowid", "words") VALUES (1297, 'first');
INSERT INTO "written_words" ("rowid", "words") VALUES (1298, 'on a towel');
INSERT INTO "written_words" ("rowid", "words") VALUES (1545, 'spare DI box');
INSERT INTO "written_words" ("rowid", "words") VALUES (1547, 'Trim');
INSERT INTO "written_words" ("rowid", "words") VALUES (1801, 'sold chorus');
INSERT INTO "written_words" ("rowid", "words") VALUES (1803, 'Time');
INSERT INTO "written_words" ("rowid", "words") VALUES (2059, 'Level');
INSERT INTO "written_words" ("rowid", "words") VALUES (2315, 'Input');
INSERT INTO "written_words" ("rowid", "words") VALUES (2571, 'Bright');
INSERT INTO "written_words" ("rowid", "words") VALUES (2576, 'left');
INSERT INTO "written_words" ("rowid", "words") VALUES (2577, 'first');
INSERT INTO "written_words" ("rowid", "words") VALUES (2578, 'on a towel');
INSERT INTO "written_words" ("rowid", "words") VALUES (2827, 'Mains');
INSERT INTO "written_words" ("rowid", "words") VALUES (3083, 'Remark');
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
INSERT INTO "hook_up_plan" ("pass_id", "plan", "levels") VALUES (1, '{}', '{}');
INSERT INTO "sound_level" ("id", "project_id", "level_dba", "minutes", "note", "at") VALUES (1, 1, 88.5, 40.0, 'loft door open', '2026-11-25 09:00:00.000000');
INSERT INTO "audition" ("id", "key", "kind", "wanted", "state", "reason", "tries", "figures", "bytes", "used_at", "created_at", "finished_at") VALUES (1, 'abc', 'print', '{}', 'failed', 'gone', 3, NULL, 0, '2026-11-25 09:00:00.000000', '2026-11-25 09:00:00.000000', '2026-11-25 09:00:00.000000');
INSERT INTO "blend" ("pass_id", "settings") VALUES (1, '{"1": {"gain_db": -2.0, "nudge_samples": 0, "inverted": false}}');
INSERT INTO "blind_choice" ("id", "source_id", "pass_ids", "said", "begun_at", "revealed_at") VALUES (1, 1, '[1, 2]', '[{"note": "rounder", "rank": 1}, {"note": "", "rank": 2}]', '2026-11-25 09:00:00.000000', '2026-11-25 09:00:00.000000');
INSERT INTO "hearing_test" ("id", "source_id", "pass_a", "pass_b", "trials", "xs", "answers", "begun_at") VALUES (1, 1, 1, 2, 2, '["a", "b"]', '["a"]', '2026-11-25 09:00:00.000000');
