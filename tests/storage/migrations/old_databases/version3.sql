PRAGMA application_id = 1179403347;
PRAGMA user_version = 3;
BEGIN TRANSACTION;
CREATE TABLE action (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	sample_id BLOB, 
	assessment_id BLOB, 
	kind TEXT NOT NULL, 
	owner TEXT DEFAULT '' NOT NULL, 
	due_on DATE, 
	due_hours DOUBLE, 
	status TEXT NOT NULL, 
	done_at TEXT, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_action PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_action_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_action_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_action_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_action_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_action_assessment_id_is_key CHECK (length(assessment_id) = 16), 
	CONSTRAINT ck_action_due_on_is_date CHECK (date(due_on) IS due_on), 
	CONSTRAINT ck_action_due_hours_is_real CHECK (typeof(due_hours) IN ('real', 'null')), 
	CONSTRAINT ck_action_done_at_is_moment CHECK (typeof(done_at) IN ('text', 'null')), 
	CONSTRAINT ck_action_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_action_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_action_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_action_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_action_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT fk_action_site_id_assessment_id FOREIGN KEY(site_id, assessment_id) REFERENCES assessment (site_id, id), 
	CONSTRAINT ck_action_status_known CHECK (status IN ('proposed', 'open', 'done', 'dropped'))
);
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('r0003');
CREATE TABLE analyte (
	number INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	unit TEXT NOT NULL, 
	CONSTRAINT pk_analyte PRIMARY KEY (number), 
	CONSTRAINT ck_analyte_number_is_integer CHECK (typeof(number) IN ('integer', 'null')), 
	CONSTRAINT uq_analyte_code UNIQUE (code)
);
INSERT INTO "analyte" VALUES(1,'iron','mg/kg');
INSERT INTO "analyte" VALUES(2,'copper','mg/kg');
CREATE TABLE answered_warning (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	sheet_id BLOB, 
	draft_id BLOB, 
	analyte TEXT DEFAULT '' NOT NULL, 
	kind TEXT NOT NULL, 
	told TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	old_text TEXT DEFAULT '' NOT NULL, 
	new_text TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_answered_warning PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_answered_warning_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_answered_warning_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_answered_warning_sheet_id_is_key CHECK (length(sheet_id) = 16), 
	CONSTRAINT ck_answered_warning_draft_id_is_key CHECK (length(draft_id) = 16), 
	CONSTRAINT ck_answered_warning_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_answered_warning_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_answered_warning_site_id_sheet_id FOREIGN KEY(site_id, sheet_id) REFERENCES result_sheet (site_id, id), 
	CONSTRAINT fk_answered_warning_site_id_draft_id FOREIGN KEY(site_id, draft_id) REFERENCES key_draft (site_id, id), 
	CONSTRAINT ck_answered_warning_answer_known CHECK (answer IN ('corrected', 'confirmed', 'parked'))
);
CREATE TABLE assessment (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	sample_id BLOB NOT NULL, 
	made_at TEXT NOT NULL, 
	limit_set_number INTEGER, 
	program_version TEXT NOT NULL, 
	severity INTEGER NOT NULL, 
	trust INTEGER NOT NULL, 
	reasons TEXT DEFAULT '{}' NOT NULL, 
	inputs_digest TEXT NOT NULL, 
	superseded_by BLOB, 
	CONSTRAINT pk_assessment PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_assessment_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_assessment_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_assessment_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_assessment_made_at_is_moment CHECK (typeof(made_at) IN ('text', 'null')), 
	CONSTRAINT ck_assessment_limit_set_number_is_integer CHECK (typeof(limit_set_number) IN ('integer', 'null')), 
	CONSTRAINT ck_assessment_severity_is_integer CHECK (typeof(severity) IN ('integer', 'null')), 
	CONSTRAINT ck_assessment_trust_is_integer CHECK (typeof(trust) IN ('integer', 'null')), 
	CONSTRAINT ck_assessment_superseded_by_is_key CHECK (length(superseded_by) = 16), 
	CONSTRAINT fk_assessment_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT fk_assessment_site_id_superseded_by FOREIGN KEY(site_id, superseded_by) REFERENCES assessment (site_id, id) DEFERRABLE INITIALLY DEFERRED, 
	CONSTRAINT fk_assessment_limit_set_number FOREIGN KEY(limit_set_number) REFERENCES limit_set (number), 
	CONSTRAINT ck_assessment_severity_range CHECK (severity BETWEEN -1 AND 3), 
	CONSTRAINT ck_assessment_trust_range CHECK (trust BETWEEN 0 AND 2)
);
INSERT INTO "assessment" VALUES(1,X'019CA9450A007EE9892D4684304BBDC4',X'019CA9450A007AC7B1A220AEC3E81FE2','2026-03-01T12:00:00.000000+00:00',NULL,'0',1,0,'[]','0',NULL);
INSERT INTO "assessment" VALUES(1,X'019CA9450A007B1383A791278B8D0C73',X'019CA9450A00756F88720DB3D1D3DDCC','2026-03-01T12:00:00.000000+00:00',NULL,'0',1,0,'[]','0',NULL);
INSERT INTO "assessment" VALUES(1,X'019CA9450A007FDFBB8A88742F5D2D61',X'019CA9450A007D819A784BBD3FDACFA9','2026-03-01T12:00:00.000000+00:00',NULL,'0',1,0,'[]','0',NULL);
CREATE TABLE attachment (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	owner_kind TEXT NOT NULL, 
	owner_id BLOB NOT NULL, 
	file_name TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	bytes INTEGER NOT NULL, 
	media_type TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_attachment PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_attachment_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_attachment_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_attachment_owner_id_is_key CHECK (length(owner_id) = 16), 
	CONSTRAINT ck_attachment_bytes_is_integer CHECK (typeof(bytes) IN ('integer', 'null')), 
	CONSTRAINT ck_attachment_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_attachment_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT ck_attachment_sha256_length CHECK (length(sha256) = 64), 
	CONSTRAINT ck_attachment_owner_kind_known CHECK (owner_kind IN ('machine', 'compartment', 'sampling_point', 'sample', 'sheet', 'fluid_batch', 'fluid_tank', 'fluid_sample'))
);
CREATE TABLE audit_trail (
	site_id INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	at TEXT NOT NULL, 
	who TEXT NOT NULL, 
	what TEXT NOT NULL, 
	old TEXT, 
	new TEXT, 
	previous_hash TEXT NOT NULL, 
	hash TEXT NOT NULL, 
	CONSTRAINT pk_audit_trail PRIMARY KEY (site_id, place), 
	CONSTRAINT ck_audit_trail_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_audit_trail_place_is_integer CHECK (typeof(place) IN ('integer', 'null')), 
	CONSTRAINT ck_audit_trail_at_is_moment CHECK (typeof(at) IN ('text', 'null'))
);
INSERT INTO "audit_trail" VALUES(1,1,'2026-03-01T12:00:00.000000+00:00','Kim','site North pit',NULL,'{"time_zone":"UTC"}','','2f075e870d14fd0ec4131815ed28c195665fc0a11581c8ddbf2ca929557f8911');
INSERT INTO "audit_trail" VALUES(1,2,'2026-03-01T12:00:00.000000+00:00','Kim','machine EX-01',NULL,'{"code":"EX-01","criticality":3,"kind":"excavator","model":"A","serial":"","state":"working"}','2f075e870d14fd0ec4131815ed28c195665fc0a11581c8ddbf2ca929557f8911','0cfb771a845cdada49d234dfc05a9fa1e9b34db92cd466050dc49a124aa4a957');
INSERT INTO "audit_trail" VALUES(1,3,'2026-03-01T12:00:00.000000+00:00','Kim','meter of machine EX-01',NULL,'{"fitted_on":"2024-01-01","start_value":0}','0cfb771a845cdada49d234dfc05a9fa1e9b34db92cd466050dc49a124aa4a957','99aa939f29dd6bd623e2cf1ceef5a3328224b75e2d33c9d8173d02e1bc435a1e');
INSERT INTO "audit_trail" VALUES(1,4,'2026-03-01T12:00:00.000000+00:00','Kim','compartment engine',NULL,'{"capacity_l":40.0,"fluid":"E15"}','99aa939f29dd6bd623e2cf1ceef5a3328224b75e2d33c9d8173d02e1bc435a1e','80fd869621220a03e0376534a7f8607582120dcf0a953cb6fe5b59e120d5e6b9');
INSERT INTO "audit_trail" VALUES(1,5,'2026-03-01T12:00:00.000000+00:00','Kim','result sheet 019ca9450a00784b814617a8250aa652',NULL,'{"bottle":"26K-0000-K","issue":1,"report":"R-26K-0000-K"}','80fd869621220a03e0376534a7f8607582120dcf0a953cb6fe5b59e120d5e6b9','697ed0d388d3fbd49fbe36d5285f862fb85f3ea1683741d42c4f148d9e48b0d8');
INSERT INTO "audit_trail" VALUES(1,6,'2026-03-01T12:00:00.000000+00:00','Kim','result sheet 019ca9450a0070a2aba89d95183a30e4',NULL,'{"bottle":"26K-0001-I","issue":1,"report":"R-26K-0001-I"}','697ed0d388d3fbd49fbe36d5285f862fb85f3ea1683741d42c4f148d9e48b0d8','f718c2e38ee417ad941d8214a5d723b25831b4f687a1f23cc10a6a7797b2d85e');
INSERT INTO "audit_trail" VALUES(1,7,'2026-03-01T12:00:00.000000+00:00','Kim','result sheet 019ca9450a0072c3ba32be9c6407bda8',NULL,'{"bottle":"26K-0002-G","issue":1,"report":"R-26K-0002-G"}','f718c2e38ee417ad941d8214a5d723b25831b4f687a1f23cc10a6a7797b2d85e','c795f3645ddbf6c6fb0e862f3e80161aef5a3d7c709f62b917a1094b2c23b873');
INSERT INTO "audit_trail" VALUES(1,8,'2026-03-01T13:00:00.000000+00:00','Kim','event 019ca97bf8807040972c90e45cbcebbc',NULL,'{"certainty":"recorded","kind":"top_up","litres":2.0,"on":"2025-02-01"}','c795f3645ddbf6c6fb0e862f3e80161aef5a3d7c709f62b917a1094b2c23b873','9713159236860e73fd399cda171d4370ba765e61610d7ff6373ec28c2b102b18');
CREATE TABLE bottle (
	site_id INTEGER NOT NULL, 
	code TEXT NOT NULL, 
	lot TEXT DEFAULT '' NOT NULL, 
	sample_id BLOB, 
	issued_on DATE, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_bottle PRIMARY KEY (site_id, code), 
	CONSTRAINT ck_bottle_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_bottle_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_bottle_issued_on_is_date CHECK (date(issued_on) IS issued_on), 
	CONSTRAINT ck_bottle_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_bottle_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_bottle_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id)
);
CREATE TABLE compartment (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	kind TEXT NOT NULL, 
	position TEXT DEFAULT '' NOT NULL, 
	fluid_code TEXT NOT NULL, 
	capacity_l DOUBLE NOT NULL, 
	residue_share DOUBLE NOT NULL, 
	filter_micron DOUBLE, 
	interval_hours DOUBLE, 
	interval_days INTEGER, 
	criticality INTEGER DEFAULT 3 NOT NULL, 
	retired BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, test_list_code TEXT
	CONSTRAINT fk_compartment_test_list_code REFERENCES test_list (code), 
	CONSTRAINT pk_compartment PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_compartment_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_compartment_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_compartment_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_compartment_capacity_l_is_real CHECK (typeof(capacity_l) IN ('real', 'null')), 
	CONSTRAINT ck_compartment_residue_share_is_real CHECK (typeof(residue_share) IN ('real', 'null')), 
	CONSTRAINT ck_compartment_filter_micron_is_real CHECK (typeof(filter_micron) IN ('real', 'null')), 
	CONSTRAINT ck_compartment_interval_hours_is_real CHECK (typeof(interval_hours) IN ('real', 'null')), 
	CONSTRAINT ck_compartment_interval_days_is_integer CHECK (typeof(interval_days) IN ('integer', 'null')), 
	CONSTRAINT ck_compartment_criticality_is_integer CHECK (typeof(criticality) IN ('integer', 'null')), 
	CONSTRAINT ck_compartment_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT ck_compartment_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_compartment_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_compartment_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_compartment_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id), 
	CONSTRAINT fk_compartment_fluid_code FOREIGN KEY(fluid_code) REFERENCES fluid (code), 
	CONSTRAINT uq_compartment_site_id_machine_id_kind_position UNIQUE (site_id, machine_id, kind, position), 
	CONSTRAINT ck_compartment_capacity_positive CHECK (capacity_l > 0), 
	CONSTRAINT ck_compartment_residue_share_range CHECK (residue_share BETWEEN 0 AND 1), 
	CONSTRAINT ck_compartment_criticality_range CHECK (criticality BETWEEN 1 AND 5)
);
INSERT INTO "compartment" VALUES(1,X'019CA9450A0072C78C25F83ED20CB13E',X'019CA9450A0072B59489B2285BBF49E7','engine','','E15',40.0,0.1,NULL,250.0,NULL,3,0,'2026-03-01T12:00:00.000000+00:00','Kim',1,NULL,NULL,NULL);
CREATE TABLE compartment_event (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	kind TEXT NOT NULL, 
	happened_on DATE NOT NULL, 
	true_hours DOUBLE, 
	litres DOUBLE, 
	fluid_code TEXT, 
	certainty TEXT NOT NULL, 
	source TEXT NOT NULL, 
	superseded_by BLOB, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_compartment_event PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_compartment_event_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_compartment_event_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_compartment_event_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_compartment_event_happened_on_is_date CHECK (date(happened_on) IS happened_on), 
	CONSTRAINT ck_compartment_event_true_hours_is_real CHECK (typeof(true_hours) IN ('real', 'null')), 
	CONSTRAINT ck_compartment_event_litres_is_real CHECK (typeof(litres) IN ('real', 'null')), 
	CONSTRAINT ck_compartment_event_superseded_by_is_key CHECK (length(superseded_by) = 16), 
	CONSTRAINT ck_compartment_event_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_compartment_event_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_compartment_event_site_id_superseded_by FOREIGN KEY(site_id, superseded_by) REFERENCES compartment_event (site_id, id) DEFERRABLE INITIALLY DEFERRED, 
	CONSTRAINT fk_compartment_event_fluid_code FOREIGN KEY(fluid_code) REFERENCES fluid (code), 
	CONSTRAINT ck_compartment_event_kind_known CHECK (kind IN ('fluid_change', 'top_up', 'filter_change', 'component_fit', 'repair', 'stand_down')), 
	CONSTRAINT ck_compartment_event_certainty_known CHECK (certainty IN ('recorded', 'inferred', 'denied'))
);
INSERT INTO "compartment_event" VALUES(1,X'019CA97BF8807040972C90E45CBCEBBC',X'019CA9450A0072C78C25F83ED20CB13E','top_up','2025-02-01',300.0,2.0,NULL,'recorded','desk',NULL,'','2026-03-01T13:00:00.000000+00:00','Kim');
CREATE TABLE component_fit (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	serial TEXT NOT NULL, 
	fitted_on DATE NOT NULL, 
	fitted_at_hours DOUBLE, 
	hours_before DOUBLE NOT NULL, 
	condition TEXT NOT NULL, 
	removed_on DATE, 
	removed_at_hours DOUBLE, 
	reason TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_component_fit PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_component_fit_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_component_fit_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_component_fit_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_component_fit_fitted_on_is_date CHECK (date(fitted_on) IS fitted_on), 
	CONSTRAINT ck_component_fit_fitted_at_hours_is_real CHECK (typeof(fitted_at_hours) IN ('real', 'null')), 
	CONSTRAINT ck_component_fit_hours_before_is_real CHECK (typeof(hours_before) IN ('real', 'null')), 
	CONSTRAINT ck_component_fit_removed_on_is_date CHECK (date(removed_on) IS removed_on), 
	CONSTRAINT ck_component_fit_removed_at_hours_is_real CHECK (typeof(removed_at_hours) IN ('real', 'null')), 
	CONSTRAINT ck_component_fit_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_component_fit_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT ck_component_fit_condition_known CHECK (condition IN ('new', 'overhauled', 'used'))
);
INSERT INTO "component_fit" VALUES(1,X'019CA97BF88075F6A5CD505A52771E4C',X'019CA9450A0072C78C25F83ED20CB13E','ENG-1','2024-01-01',0.0,0.0,'new',NULL,NULL,'','2026-03-01T13:00:00.000000+00:00','Kim');
CREATE TABLE crew (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	name TEXT NOT NULL, 
	hours_per_day DOUBLE NOT NULL, 
	retired BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_crew PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_crew_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_crew_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_crew_hours_per_day_is_real CHECK (typeof(hours_per_day) IN ('real', 'null')), 
	CONSTRAINT ck_crew_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT ck_crew_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_crew_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_crew_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_crew_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT uq_crew_site_id_name UNIQUE (site_id, name), 
	CONSTRAINT ck_crew_hours_per_day_range CHECK (hours_per_day BETWEEN 0 AND 24)
);
INSERT INTO "crew" VALUES(1,X'019CA9450A0073000000000000000001','North',8.0,0,'2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
CREATE TABLE current_condition (
	site_id INTEGER NOT NULL, 
	compartment_id BLOB NOT NULL, 
	sample_id BLOB, 
	severity INTEGER NOT NULL, 
	trust INTEGER NOT NULL, 
	taken_on DATE, 
	true_hours DOUBLE, 
	fluid_hours DOUBLE, 
	direction INTEGER DEFAULT 0 NOT NULL, 
	previous_severity INTEGER, 
	reasons TEXT DEFAULT '{}' NOT NULL, 
	headline TEXT DEFAULT '' NOT NULL, 
	assessed_at TEXT, 
	first_seen_on DATE, 
	CONSTRAINT pk_current_condition PRIMARY KEY (site_id, compartment_id), 
	CONSTRAINT ck_current_condition_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_current_condition_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_current_condition_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_current_condition_severity_is_integer CHECK (typeof(severity) IN ('integer', 'null')), 
	CONSTRAINT ck_current_condition_trust_is_integer CHECK (typeof(trust) IN ('integer', 'null')), 
	CONSTRAINT ck_current_condition_taken_on_is_date CHECK (date(taken_on) IS taken_on), 
	CONSTRAINT ck_current_condition_true_hours_is_real CHECK (typeof(true_hours) IN ('real', 'null')), 
	CONSTRAINT ck_current_condition_fluid_hours_is_real CHECK (typeof(fluid_hours) IN ('real', 'null')), 
	CONSTRAINT ck_current_condition_direction_is_integer CHECK (typeof(direction) IN ('integer', 'null')), 
	CONSTRAINT ck_current_condition_previous_severity_is_integer CHECK (typeof(previous_severity) IN ('integer', 'null')), 
	CONSTRAINT ck_current_condition_assessed_at_is_moment CHECK (typeof(assessed_at) IN ('text', 'null')), 
	CONSTRAINT ck_current_condition_first_seen_on_is_date CHECK (date(first_seen_on) IS first_seen_on), 
	CONSTRAINT fk_current_condition_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_current_condition_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT ck_current_condition_severity_range CHECK (severity BETWEEN -1 AND 3), 
	CONSTRAINT ck_current_condition_previous_severity_range CHECK (previous_severity BETWEEN -1 AND 3), 
	CONSTRAINT ck_current_condition_trust_range CHECK (trust BETWEEN 0 AND 2), 
	CONSTRAINT ck_current_condition_direction_range CHECK (direction BETWEEN -1 AND 1)
);
INSERT INTO "current_condition" VALUES(1,X'019CA9450A0072C78C25F83ED20CB13E',X'019CA9450A007D819A784BBD3FDACFA9',1,0,'2025-03-02',500.0,500.0,0,NULL,'[]','',NULL,NULL);
CREATE TABLE custody_step (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	bottle_code TEXT NOT NULL, 
	step TEXT NOT NULL, 
	at TEXT NOT NULL, 
	known_by TEXT NOT NULL, 
	shipment_id BLOB, 
	note TEXT DEFAULT '' NOT NULL, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_custody_step PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_custody_step_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_custody_step_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_custody_step_at_is_moment CHECK (typeof(at) IN ('text', 'null')), 
	CONSTRAINT ck_custody_step_shipment_id_is_key CHECK (length(shipment_id) = 16), 
	CONSTRAINT ck_custody_step_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_custody_step_site_id_bottle_code FOREIGN KEY(site_id, bottle_code) REFERENCES bottle (site_id, code), 
	CONSTRAINT fk_custody_step_site_id_shipment_id FOREIGN KEY(site_id, shipment_id) REFERENCES shipment (site_id, id), 
	CONSTRAINT ck_custody_step_step_known CHECK (step IN ('issued', 'taken', 'handed_in', 'shipped', 'received', 'reported', 'keyed', 'lost', 'found', 'void')), 
	CONSTRAINT ck_custody_step_known_by_known CHECK (known_by IN ('scanned', 'typed', 'assumed'))
);
CREATE TABLE desk_user (
	name TEXT NOT NULL, 
	role TEXT NOT NULL, 
	is_active BOOLEAN DEFAULT true NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_desk_user PRIMARY KEY (name), 
	CONSTRAINT ck_desk_user_is_active_is_boolean CHECK (is_active IN (0, 1)), 
	CONSTRAINT ck_desk_user_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_desk_user_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_desk_user_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT ck_desk_user_role_known CHECK (role IN ('clerk', 'planner', 'manager', 'reader'))
);
INSERT INTO "desk_user" VALUES('Kim','clerk',1,'2026-03-01T13:00:00.000000+00:00','Kim',1,NULL,NULL);
CREATE TABLE due_note (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	due_on DATE NOT NULL, 
	due_hours DOUBLE, 
	kind TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_due_note PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_due_note_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_due_note_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_due_note_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_due_note_due_on_is_date CHECK (date(due_on) IS due_on), 
	CONSTRAINT ck_due_note_due_hours_is_real CHECK (typeof(due_hours) IN ('real', 'null')), 
	CONSTRAINT ck_due_note_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_due_note_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT ck_due_note_kind_known CHECK (kind IN ('missed', 'excused')), 
	CONSTRAINT ck_due_note_reason_known CHECK (reason IN ('machine_down', 'no_access', 'no_bottle', 'forgotten', 'weather', 'sold', 'standby', 'other'))
);
INSERT INTO "due_note" VALUES(1,X'019CA9450A0073000000000000000006',X'019CA9450A0072C78C25F83ED20CB13E','2026-09-01',NULL,'missed','no_access','',NULL,'2026-11-01T08:00:00.000000+00:00','planner');
CREATE TABLE event_question (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	sample_id BLOB NOT NULL, 
	told TEXT NOT NULL, 
	answer TEXT DEFAULT '' NOT NULL, 
	event_id BLOB, 
	answered_at TEXT, 
	answered_by TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_event_question PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_event_question_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_event_question_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_event_question_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_event_question_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_event_question_event_id_is_key CHECK (length(event_id) = 16), 
	CONSTRAINT ck_event_question_answered_at_is_moment CHECK (typeof(answered_at) IN ('text', 'null')), 
	CONSTRAINT ck_event_question_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_event_question_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_event_question_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT fk_event_question_site_id_event_id FOREIGN KEY(site_id, event_id) REFERENCES compartment_event (site_id, id), 
	CONSTRAINT uq_event_question_site_id_sample_id UNIQUE (site_id, sample_id)
);
CREATE TABLE finding (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	action_id BLOB NOT NULL, 
	result TEXT NOT NULL, 
	part TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	cost DOUBLE, 
	found_on DATE NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_finding PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_finding_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_finding_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_finding_action_id_is_key CHECK (length(action_id) = 16), 
	CONSTRAINT ck_finding_cost_is_real CHECK (typeof(cost) IN ('real', 'null')), 
	CONSTRAINT ck_finding_found_on_is_date CHECK (date(found_on) IS found_on), 
	CONSTRAINT ck_finding_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_finding_site_id_action_id FOREIGN KEY(site_id, action_id) REFERENCES action (site_id, id), 
	CONSTRAINT ck_finding_result_known CHECK (result IN ('fault_confirmed', 'wear_but_serviceable', 'nothing_found', 'sampling_error', 'laboratory_error', 'keying_error', 'wrong_fluid', 'could_not_look'))
);
CREATE TABLE fluid (
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	fluid_class TEXT NOT NULL, 
	viscosity_grade TEXT NOT NULL, 
	density_kg_per_l DOUBLE NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, retired BOOLEAN
	DEFAULT false NOT NULL
	CONSTRAINT ck_fluid_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT pk_fluid PRIMARY KEY (code), 
	CONSTRAINT ck_fluid_density_kg_per_l_is_real CHECK (typeof(density_kg_per_l) IN ('real', 'null')), 
	CONSTRAINT ck_fluid_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_fluid_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT ck_fluid_density_positive CHECK (density_kg_per_l > 0)
);
INSERT INTO "fluid" VALUES('E15','Engine oil 15W-40','engine_oil','15W-40',0.87,'2026-03-01T12:00:00.000000+00:00','Kim',1,NULL,NULL,0);
CREATE TABLE fluid_batch (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	fluid_code TEXT NOT NULL, 
	batch TEXT NOT NULL, 
	delivered_on DATE NOT NULL, 
	reference_number INTEGER, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, version INTEGER
	DEFAULT 1 NOT NULL
	CONSTRAINT ck_fluid_batch_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), changed_at TEXT
	CONSTRAINT ck_fluid_batch_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), changed_by TEXT, 
	CONSTRAINT pk_fluid_batch PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_fluid_batch_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_batch_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_fluid_batch_delivered_on_is_date CHECK (date(delivered_on) IS delivered_on), 
	CONSTRAINT ck_fluid_batch_reference_number_is_integer CHECK (typeof(reference_number) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_batch_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_fluid_batch_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_fluid_batch_fluid_code FOREIGN KEY(fluid_code) REFERENCES fluid (code), 
	CONSTRAINT fk_fluid_batch_reference_number FOREIGN KEY(reference_number) REFERENCES fluid_reference (number), 
	CONSTRAINT uq_fluid_batch_site_id_fluid_code_batch UNIQUE (site_id, fluid_code, batch)
);
INSERT INTO "fluid_batch" VALUES(1,X'019CA97BF8807F039396A8F757542F0F','E15','B-1','2024-01-01',0,'2026-03-01T13:00:00.000000+00:00','Kim',1,NULL,NULL);
CREATE TABLE fluid_reading (
	site_id INTEGER NOT NULL, 
	sheet_id BLOB NOT NULL, 
	analyte_number INTEGER NOT NULL, 
	sign INTEGER NOT NULL, 
	value DOUBLE, 
	printed TEXT NOT NULL, 
	printed_unit TEXT NOT NULL, 
	decimals INTEGER, 
	detection_limit DOUBLE, 
	CONSTRAINT pk_fluid_reading PRIMARY KEY (site_id, sheet_id, analyte_number), 
	CONSTRAINT ck_fluid_reading_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_reading_sheet_id_is_key CHECK (length(sheet_id) = 16), 
	CONSTRAINT ck_fluid_reading_analyte_number_is_integer CHECK (typeof(analyte_number) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_reading_sign_is_integer CHECK (typeof(sign) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_reading_value_is_real CHECK (typeof(value) IN ('real', 'null')), 
	CONSTRAINT ck_fluid_reading_decimals_is_integer CHECK (typeof(decimals) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_reading_detection_limit_is_real CHECK (typeof(detection_limit) IN ('real', 'null')), 
	CONSTRAINT fk_fluid_reading_site_id_sheet_id FOREIGN KEY(site_id, sheet_id) REFERENCES fluid_sheet (site_id, id), 
	CONSTRAINT fk_fluid_reading_analyte_number FOREIGN KEY(analyte_number) REFERENCES analyte (number), 
	CONSTRAINT ck_fluid_reading_sign_range CHECK (sign BETWEEN 0 AND 6), 
	CONSTRAINT ck_fluid_reading_value_fits_sign CHECK ((value IS NULL) = (sign >= 5))
)
 WITHOUT ROWID

;
CREATE TABLE fluid_reference (
	number INTEGER NOT NULL, 
	fluid_code TEXT NOT NULL, 
	valid_from DATE NOT NULL, 
	source TEXT NOT NULL, 
	reference_values TEXT DEFAULT '{}' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_fluid_reference PRIMARY KEY (number), 
	CONSTRAINT ck_fluid_reference_number_is_integer CHECK (typeof(number) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_reference_valid_from_is_date CHECK (date(valid_from) IS valid_from), 
	CONSTRAINT ck_fluid_reference_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_fluid_reference_fluid_code FOREIGN KEY(fluid_code) REFERENCES fluid (code)
);
INSERT INTO "fluid_reference" VALUES(0,'E15','2024-01-01','invented for a test','{"iron":2.0}','2026-03-01T12:00:00.000000+00:00','Kim');
CREATE TABLE fluid_sample (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	bottle_code TEXT DEFAULT '' NOT NULL, 
	kind TEXT NOT NULL, 
	fluid_code TEXT NOT NULL, 
	batch_id BLOB, 
	tank_id BLOB, 
	container TEXT DEFAULT '' NOT NULL, 
	reason TEXT NOT NULL, 
	state TEXT NOT NULL, 
	taken_on DATE, 
	taken_by TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	duplicate_of BLOB, 
	test_list_code TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_fluid_sample PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_fluid_sample_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_sample_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_fluid_sample_batch_id_is_key CHECK (length(batch_id) = 16), 
	CONSTRAINT ck_fluid_sample_tank_id_is_key CHECK (length(tank_id) = 16), 
	CONSTRAINT ck_fluid_sample_taken_on_is_date CHECK (date(taken_on) IS taken_on), 
	CONSTRAINT ck_fluid_sample_duplicate_of_is_key CHECK (length(duplicate_of) = 16), 
	CONSTRAINT ck_fluid_sample_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_fluid_sample_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_sample_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_fluid_sample_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_fluid_sample_fluid_code FOREIGN KEY(fluid_code) REFERENCES fluid (code), 
	CONSTRAINT fk_fluid_sample_test_list_code FOREIGN KEY(test_list_code) REFERENCES test_list (code), 
	CONSTRAINT fk_fluid_sample_site_id_batch_id FOREIGN KEY(site_id, batch_id) REFERENCES fluid_batch (site_id, id), 
	CONSTRAINT fk_fluid_sample_site_id_tank_id FOREIGN KEY(site_id, tank_id) REFERENCES fluid_tank (site_id, id), 
	CONSTRAINT fk_fluid_sample_site_id_duplicate_of FOREIGN KEY(site_id, duplicate_of) REFERENCES fluid_sample (site_id, id) DEFERRABLE INITIALLY DEFERRED, 
	CONSTRAINT ck_fluid_sample_kind_known CHECK (kind IN ('drum', 'tank', 'new_fluid', 'check')), 
	CONSTRAINT ck_fluid_sample_reason_known CHECK (reason IN ('routine', 'resample', 'post_change', 'special', 'duplicate', 'reference', 'storage')), 
	CONSTRAINT ck_fluid_sample_state_known CHECK (state IN ('planned', 'issued', 'taken', 'shipped', 'received', 'reported', 'not_taken', 'lost', 'void'))
);
CREATE TABLE fluid_sheet (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	fluid_sample_id BLOB NOT NULL, 
	laboratory_code TEXT NOT NULL, 
	report_number TEXT NOT NULL, 
	issue INTEGER NOT NULL, 
	received_on DATE, 
	tested_on DATE, 
	issued_on DATE, 
	remark TEXT DEFAULT '' NOT NULL, 
	rejected_reason TEXT DEFAULT '' NOT NULL, 
	intake_id BLOB, 
	is_current BOOLEAN DEFAULT true NOT NULL, 
	superseded_by BLOB, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_fluid_sheet PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_fluid_sheet_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_sheet_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_fluid_sheet_fluid_sample_id_is_key CHECK (length(fluid_sample_id) = 16), 
	CONSTRAINT ck_fluid_sheet_issue_is_integer CHECK (typeof(issue) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_sheet_received_on_is_date CHECK (date(received_on) IS received_on), 
	CONSTRAINT ck_fluid_sheet_tested_on_is_date CHECK (date(tested_on) IS tested_on), 
	CONSTRAINT ck_fluid_sheet_issued_on_is_date CHECK (date(issued_on) IS issued_on), 
	CONSTRAINT ck_fluid_sheet_intake_id_is_key CHECK (length(intake_id) = 16), 
	CONSTRAINT ck_fluid_sheet_is_current_is_boolean CHECK (is_current IN (0, 1)), 
	CONSTRAINT ck_fluid_sheet_superseded_by_is_key CHECK (length(superseded_by) = 16), 
	CONSTRAINT ck_fluid_sheet_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_fluid_sheet_site_id_fluid_sample_id FOREIGN KEY(site_id, fluid_sample_id) REFERENCES fluid_sample (site_id, id), 
	CONSTRAINT fk_fluid_sheet_site_id_intake_id FOREIGN KEY(site_id, intake_id) REFERENCES intake (site_id, id), 
	CONSTRAINT fk_fluid_sheet_site_id_superseded_by FOREIGN KEY(site_id, superseded_by) REFERENCES fluid_sheet (site_id, id) DEFERRABLE INITIALLY DEFERRED, 
	CONSTRAINT fk_fluid_sheet_laboratory_code FOREIGN KEY(laboratory_code) REFERENCES laboratory (code), 
	CONSTRAINT ck_fluid_sheet_current_not_voided CHECK (NOT is_current OR voided_reason IS NULL), 
	CONSTRAINT ck_fluid_sheet_current_not_superseded CHECK (NOT is_current OR superseded_by IS NULL)
);
CREATE TABLE fluid_tank (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	code TEXT NOT NULL, 
	fluid_code TEXT NOT NULL, 
	capacity_l DOUBLE, 
	location TEXT DEFAULT '' NOT NULL, 
	retired BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_fluid_tank PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_fluid_tank_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_tank_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_fluid_tank_capacity_l_is_real CHECK (typeof(capacity_l) IN ('real', 'null')), 
	CONSTRAINT ck_fluid_tank_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT ck_fluid_tank_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_fluid_tank_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_fluid_tank_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_fluid_tank_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_fluid_tank_fluid_code FOREIGN KEY(fluid_code) REFERENCES fluid (code), 
	CONSTRAINT uq_fluid_tank_site_id_code UNIQUE (site_id, code), 
	CONSTRAINT ck_fluid_tank_capacity_positive CHECK (capacity_l > 0)
);
INSERT INTO "fluid_tank" VALUES(1,X'000102030405060708090A0B0C0D0E0F','T1','E15',1000.0,'',0,'2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
CREATE TABLE forecast (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	sample_id BLOB NOT NULL, 
	made_at TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	analyte TEXT DEFAULT '' NOT NULL, 
	severity INTEGER NOT NULL, 
	bound DOUBLE, 
	at_hours DOUBLE NOT NULL, 
	p10 DOUBLE, 
	p50 DOUBLE, 
	p90 DOUBLE, 
	chance_before_due DOUBLE, 
	why TEXT DEFAULT '' NOT NULL, 
	outcome TEXT DEFAULT 'open' NOT NULL, 
	crossed_at_hours DOUBLE, 
	marked_at TEXT, 
	program_version TEXT NOT NULL, 
	inputs_digest TEXT NOT NULL, 
	CONSTRAINT pk_forecast PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_forecast_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_forecast_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_forecast_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_forecast_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_forecast_made_at_is_moment CHECK (typeof(made_at) IN ('text', 'null')), 
	CONSTRAINT ck_forecast_severity_is_integer CHECK (typeof(severity) IN ('integer', 'null')), 
	CONSTRAINT ck_forecast_bound_is_real CHECK (typeof(bound) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_at_hours_is_real CHECK (typeof(at_hours) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_p10_is_real CHECK (typeof(p10) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_p50_is_real CHECK (typeof(p50) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_p90_is_real CHECK (typeof(p90) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_chance_before_due_is_real CHECK (typeof(chance_before_due) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_crossed_at_hours_is_real CHECK (typeof(crossed_at_hours) IN ('real', 'null')), 
	CONSTRAINT ck_forecast_marked_at_is_moment CHECK (typeof(marked_at) IN ('text', 'null')), 
	CONSTRAINT fk_forecast_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_forecast_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT ck_forecast_kind_known CHECK (kind IN ('hours_left')), 
	CONSTRAINT ck_forecast_outcome_known CHECK (outcome IN ('open', 'crossed', 'not_crossed', 'cut_off')), 
	CONSTRAINT ck_forecast_severity_range CHECK (severity BETWEEN -1 AND 3), 
	CONSTRAINT ck_forecast_chance_before_due_range CHECK (chance_before_due BETWEEN 0 AND 1), 
	CONSTRAINT uq_forecast_site_id_sample_id_inputs_digest UNIQUE (site_id, sample_id, inputs_digest)
);
CREATE TABLE held_row (
	site_id INTEGER NOT NULL, 
	intake_id BLOB NOT NULL, 
	row_number INTEGER NOT NULL, 
	cells TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	settled_at TEXT, 
	settled_by TEXT, 
	outcome TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_held_row PRIMARY KEY (site_id, intake_id, row_number), 
	CONSTRAINT ck_held_row_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_held_row_intake_id_is_key CHECK (length(intake_id) = 16), 
	CONSTRAINT ck_held_row_row_number_is_integer CHECK (typeof(row_number) IN ('integer', 'null')), 
	CONSTRAINT ck_held_row_settled_at_is_moment CHECK (typeof(settled_at) IN ('text', 'null')), 
	CONSTRAINT fk_held_row_site_id_intake_id FOREIGN KEY(site_id, intake_id) REFERENCES intake (site_id, id)
);
CREATE TABLE history_block (
	site_id INTEGER NOT NULL, 
	compartment_id BLOB NOT NULL, 
	block BLOB NOT NULL, 
	CONSTRAINT pk_history_block PRIMARY KEY (site_id, compartment_id), 
	CONSTRAINT ck_history_block_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_history_block_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT fk_history_block_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id)
);
INSERT INTO "history_block" VALUES(1,X'019CA9450A0072C78C25F83ED20CB13E',X'46444831010002000100020000000000019CA9450A007AC7B1A220AEC3E81FE2B4470B0000000000000000000000000000000000000000000000000000000000000000FF00000000000000000000244000000000000008400000000000000000019CA9450A00756F88720DB3D1D3DDCCD2470B00000000000000000000406F400000000000406F400000000000000000000000FF00000000000000000000264000000000000008400000000000000000019CA9450A007D819A784BBD3FDACFA9F0470B00000000000000000000407F400000000000407F400000000000000000000000FF00000000000000000000284000000000000008400000000000000000');
CREATE TABLE intake (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	file_name TEXT NOT NULL, 
	sha256 TEXT NOT NULL, 
	layout TEXT NOT NULL, 
	taken_in_at TEXT NOT NULL, 
	taken_in_by TEXT NOT NULL, 
	counts TEXT DEFAULT '{}' NOT NULL, 
	undone_at TEXT, 
	undone_by TEXT, 
	undone_reason TEXT, 
	CONSTRAINT pk_intake PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_intake_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_intake_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_intake_taken_in_at_is_moment CHECK (typeof(taken_in_at) IN ('text', 'null')), 
	CONSTRAINT ck_intake_undone_at_is_moment CHECK (typeof(undone_at) IN ('text', 'null')), 
	CONSTRAINT fk_intake_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT ck_intake_sha256_length CHECK (length(sha256) = 64)
);
CREATE TABLE interval_rule (
	limit_set_number INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	machine_kind TEXT DEFAULT '' NOT NULL, 
	model TEXT DEFAULT '' NOT NULL, 
	compartment_kind TEXT DEFAULT '' NOT NULL, 
	compartment TEXT DEFAULT '' NOT NULL, 
	interval_hours DOUBLE, 
	interval_days INTEGER, 
	window_share DOUBLE DEFAULT (0.1) NOT NULL, 
	convention TEXT DEFAULT 'rolling' NOT NULL, 
	source TEXT NOT NULL, 
	set_by TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_interval_rule PRIMARY KEY (limit_set_number, place), 
	CONSTRAINT ck_interval_rule_limit_set_number_is_integer CHECK (typeof(limit_set_number) IN ('integer', 'null')), 
	CONSTRAINT ck_interval_rule_place_is_integer CHECK (typeof(place) IN ('integer', 'null')), 
	CONSTRAINT ck_interval_rule_interval_hours_is_real CHECK (typeof(interval_hours) IN ('real', 'null')), 
	CONSTRAINT ck_interval_rule_interval_days_is_integer CHECK (typeof(interval_days) IN ('integer', 'null')), 
	CONSTRAINT ck_interval_rule_window_share_is_real CHECK (typeof(window_share) IN ('real', 'null')), 
	CONSTRAINT fk_interval_rule_limit_set_number FOREIGN KEY(limit_set_number) REFERENCES limit_set (number), 
	CONSTRAINT ck_interval_rule_convention_known CHECK (convention IN ('rolling', 'grid')), 
	CONSTRAINT ck_interval_rule_interval_hours_positive CHECK (interval_hours > 0), 
	CONSTRAINT ck_interval_rule_interval_days_positive CHECK (interval_days > 0), 
	CONSTRAINT ck_interval_rule_window_share_range CHECK (window_share BETWEEN 0 AND 0.5)
);
INSERT INTO "interval_rule" VALUES(1,0,'','','engine','',250.0,90,0.1,'grid','the machine''s manual','planner','');
CREATE TABLE key_draft (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	bottle_code TEXT NOT NULL, 
	sample_id BLOB, 
	laboratory_code TEXT NOT NULL, 
	report_number TEXT DEFAULT '' NOT NULL, 
	issue INTEGER DEFAULT 1 NOT NULL, 
	state TEXT NOT NULL, 
	cells TEXT DEFAULT '{}' NOT NULL, 
	second TEXT DEFAULT '{}' NOT NULL, 
	second_by TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_key_draft PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_key_draft_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_key_draft_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_key_draft_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_key_draft_issue_is_integer CHECK (typeof(issue) IN ('integer', 'null')), 
	CONSTRAINT ck_key_draft_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_key_draft_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_key_draft_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_key_draft_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_key_draft_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT fk_key_draft_laboratory_code FOREIGN KEY(laboratory_code) REFERENCES laboratory (code), 
	CONSTRAINT ck_key_draft_state_known CHECK (state IN ('open', 'parked', 'saved', 'dropped'))
);
CREATE TABLE laboratory (
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, site_name TEXT
	DEFAULT '' NOT NULL, layout TEXT
	DEFAULT '' NOT NULL, methods TEXT
	DEFAULT '{}' NOT NULL, lane_days INTEGER
	CONSTRAINT ck_laboratory_lane_days_is_integer CHECK (typeof(lane_days) IN ('integer', 'null'))
	CONSTRAINT ck_laboratory_lane_days_range CHECK (lane_days BETWEEN 0 AND 365), turnaround_days INTEGER
	CONSTRAINT ck_laboratory_turnaround_days_is_integer CHECK (typeof(turnaround_days) IN ('integer', 'null'))
	CONSTRAINT ck_laboratory_turnaround_days_range CHECK (turnaround_days BETWEEN 0 AND 365), retired BOOLEAN
	DEFAULT false NOT NULL
	CONSTRAINT ck_laboratory_retired_is_boolean CHECK (retired IN (0, 1)), version INTEGER
	DEFAULT 1 NOT NULL
	CONSTRAINT ck_laboratory_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), changed_at TEXT
	CONSTRAINT ck_laboratory_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), changed_by TEXT, 
	CONSTRAINT pk_laboratory PRIMARY KEY (code), 
	CONSTRAINT ck_laboratory_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null'))
);
INSERT INTO "laboratory" VALUES('own','Invented laboratory','2026-03-01T12:00:00.000000+00:00','Kim','','','{}',NULL,NULL,0,1,NULL,NULL);
CREATE TABLE limit_row (
	limit_set_number INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	machine_kind TEXT DEFAULT '' NOT NULL, 
	model TEXT DEFAULT '' NOT NULL, 
	compartment_kind TEXT DEFAULT '' NOT NULL, 
	compartment TEXT DEFAULT '' NOT NULL, 
	fluid_class TEXT DEFAULT '' NOT NULL, 
	analyte TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	direction TEXT NOT NULL, 
	watch DOUBLE, 
	act DOUBLE, 
	urgent DOUBLE, 
	source TEXT NOT NULL, 
	set_by TEXT NOT NULL, 
	boundary TEXT NOT NULL, 
	group_name TEXT DEFAULT '' NOT NULL, 
	act_needs INTEGER DEFAULT 1 NOT NULL, 
	urgent_needs INTEGER DEFAULT 1 NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	is_off BOOLEAN DEFAULT false NOT NULL, 
	companion TEXT DEFAULT '' NOT NULL, 
	least_change DOUBLE, 
	off_until DATE, 
	derivation TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_limit_row PRIMARY KEY (limit_set_number, place), 
	CONSTRAINT ck_limit_row_limit_set_number_is_integer CHECK (typeof(limit_set_number) IN ('integer', 'null')), 
	CONSTRAINT ck_limit_row_place_is_integer CHECK (typeof(place) IN ('integer', 'null')), 
	CONSTRAINT ck_limit_row_watch_is_real CHECK (typeof(watch) IN ('real', 'null')), 
	CONSTRAINT ck_limit_row_act_is_real CHECK (typeof(act) IN ('real', 'null')), 
	CONSTRAINT ck_limit_row_urgent_is_real CHECK (typeof(urgent) IN ('real', 'null')), 
	CONSTRAINT ck_limit_row_act_needs_is_integer CHECK (typeof(act_needs) IN ('integer', 'null')), 
	CONSTRAINT ck_limit_row_urgent_needs_is_integer CHECK (typeof(urgent_needs) IN ('integer', 'null')), 
	CONSTRAINT ck_limit_row_is_off_is_boolean CHECK (is_off IN (0, 1)), 
	CONSTRAINT ck_limit_row_least_change_is_real CHECK (typeof(least_change) IN ('real', 'null')), 
	CONSTRAINT ck_limit_row_off_until_is_date CHECK (date(off_until) IS off_until), 
	CONSTRAINT fk_limit_row_limit_set_number FOREIGN KEY(limit_set_number) REFERENCES limit_set (number), 
	CONSTRAINT ck_limit_row_kind_known CHECK (kind IN ('level', 'change', 'change_percent', 'rate_per_100h', 'left_right_ratio', 'companion_ratio', 'plain_ratio', 'own_step', 'percentile', 'off_grade', 'missing_test')), 
	CONSTRAINT ck_limit_row_direction_known CHECK (direction IN ('up', 'down')), 
	CONSTRAINT ck_limit_row_boundary_known CHECK (boundary IN ('at', 'beyond'))
);
INSERT INTO "limit_row" VALUES(1,0,'','','engine','','','iron','level','up',60.0,100.0,150.0,'common practice, no source','planner','at','',1,1,'invented',0,'',NULL,NULL,'');
INSERT INTO "limit_row" VALUES(1,1,'','','engine','','','silicon','change','up',10.0,20.0,35.0,'common practice, no source','planner','at','',1,1,'invented',0,'',NULL,NULL,'');
INSERT INTO "limit_row" VALUES(1,2,'','','engine','','','iron','rate_per_100h','up',20.0,35.0,55.0,'common practice, no source','planner','at','',1,1,'invented',0,'',NULL,NULL,'');
INSERT INTO "limit_row" VALUES(1,3,'','','engine','','','ferrous_index','companion_ratio','up',2.0,3.0,NULL,'common practice, no source','planner','at','',1,1,'invented',0,'iron',NULL,NULL,'');
CREATE TABLE limit_set (
	number INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	state TEXT NOT NULL, 
	valid_from DATE NOT NULL, 
	valid_until DATE, 
	author TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	program TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, settings TEXT DEFAULT '{}' NOT NULL, based_on INTEGER
	CONSTRAINT ck_limit_set_based_on_is_integer CHECK (typeof(based_on) IN ('integer', 'null')), 
	CONSTRAINT pk_limit_set PRIMARY KEY (number), 
	CONSTRAINT ck_limit_set_number_is_integer CHECK (typeof(number) IN ('integer', 'null')), 
	CONSTRAINT ck_limit_set_valid_from_is_date CHECK (date(valid_from) IS valid_from), 
	CONSTRAINT ck_limit_set_valid_until_is_date CHECK (date(valid_until) IS valid_until), 
	CONSTRAINT ck_limit_set_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_limit_set_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_limit_set_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT ck_limit_set_state_known CHECK (state IN ('draft', 'in_force', 'retired'))
);
INSERT INTO "limit_set" VALUES(1,'First limits','in_force','2020-01-01',NULL,'planner','','','2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL,'{}',NULL);
CREATE TABLE machine (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	code TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	model TEXT NOT NULL, 
	serial TEXT DEFAULT '' NOT NULL, 
	in_service_on DATE, 
	state TEXT NOT NULL, 
	criticality INTEGER DEFAULT 3 NOT NULL, 
	cost_per_down_hour DOUBLE, 
	machine_uuid BLOB NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, area TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_machine PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_machine_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_machine_in_service_on_is_date CHECK (date(in_service_on) IS in_service_on), 
	CONSTRAINT ck_machine_criticality_is_integer CHECK (typeof(criticality) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_cost_per_down_hour_is_real CHECK (typeof(cost_per_down_hour) IN ('real', 'null')), 
	CONSTRAINT ck_machine_machine_uuid_is_key CHECK (length(machine_uuid) = 16), 
	CONSTRAINT ck_machine_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_machine_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_machine_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT uq_machine_site_id_code UNIQUE (site_id, code), 
	CONSTRAINT ck_machine_state_known CHECK (state IN ('working', 'standby', 'down', 'sold')), 
	CONSTRAINT ck_machine_criticality_range CHECK (criticality BETWEEN 1 AND 5)
);
INSERT INTO "machine" VALUES(1,X'019CA9450A0072B59489B2285BBF49E7','EX-01','excavator','A','',NULL,'working',3,NULL,X'019CA9450A0072B59489B2285BBF49E7','2026-03-01T12:00:00.000000+00:00','Kim',1,NULL,NULL,'');
CREATE TABLE machine_state_history (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	state TEXT NOT NULL, 
	since DATE NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_machine_state_history PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_machine_state_history_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_state_history_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_machine_state_history_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_machine_state_history_since_is_date CHECK (date(since) IS since), 
	CONSTRAINT ck_machine_state_history_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_machine_state_history_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id), 
	CONSTRAINT ck_machine_state_history_state_known CHECK (state IN ('working', 'standby', 'down', 'sold'))
);
CREATE TABLE machine_transfer (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	to_site_id INTEGER NOT NULL, 
	to_machine_id BLOB NOT NULL, 
	moved_on DATE NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_machine_transfer PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_machine_transfer_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_transfer_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_machine_transfer_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_machine_transfer_to_site_id_is_integer CHECK (typeof(to_site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_transfer_to_machine_id_is_key CHECK (length(to_machine_id) = 16), 
	CONSTRAINT ck_machine_transfer_moved_on_is_date CHECK (date(moved_on) IS moved_on), 
	CONSTRAINT ck_machine_transfer_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_machine_transfer_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id), 
	CONSTRAINT fk_machine_transfer_to_site_id FOREIGN KEY(to_site_id) REFERENCES site (site_id), 
	CONSTRAINT ck_machine_transfer_to_another_site CHECK (to_site_id <> site_id)
);
CREATE TABLE machine_usage (
	site_id INTEGER NOT NULL, 
	machine_id BLOB NOT NULL, 
	hours_now DOUBLE NOT NULL, 
	as_of DATE NOT NULL, 
	hours_per_day DOUBLE NOT NULL, 
	hours_per_day_spread DOUBLE NOT NULL, 
	readings INTEGER DEFAULT 0 NOT NULL, 
	CONSTRAINT pk_machine_usage PRIMARY KEY (site_id, machine_id), 
	CONSTRAINT ck_machine_usage_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_machine_usage_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_machine_usage_hours_now_is_real CHECK (typeof(hours_now) IN ('real', 'null')), 
	CONSTRAINT ck_machine_usage_as_of_is_date CHECK (date(as_of) IS as_of), 
	CONSTRAINT ck_machine_usage_hours_per_day_is_real CHECK (typeof(hours_per_day) IN ('real', 'null')), 
	CONSTRAINT ck_machine_usage_hours_per_day_spread_is_real CHECK (typeof(hours_per_day_spread) IN ('real', 'null')), 
	CONSTRAINT ck_machine_usage_readings_is_integer CHECK (typeof(readings) IN ('integer', 'null')), 
	CONSTRAINT fk_machine_usage_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id)
);
CREATE TABLE meter (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	kind TEXT NOT NULL, 
	fitted_on DATE NOT NULL, 
	removed_on DATE, 
	start_value DOUBLE NOT NULL, 
	end_value DOUBLE, 
	hours_before DOUBLE NOT NULL, 
	rolls_over_at DOUBLE, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_meter PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_meter_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_meter_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_meter_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_meter_fitted_on_is_date CHECK (date(fitted_on) IS fitted_on), 
	CONSTRAINT ck_meter_removed_on_is_date CHECK (date(removed_on) IS removed_on), 
	CONSTRAINT ck_meter_start_value_is_real CHECK (typeof(start_value) IN ('real', 'null')), 
	CONSTRAINT ck_meter_end_value_is_real CHECK (typeof(end_value) IN ('real', 'null')), 
	CONSTRAINT ck_meter_hours_before_is_real CHECK (typeof(hours_before) IN ('real', 'null')), 
	CONSTRAINT ck_meter_rolls_over_at_is_real CHECK (typeof(rolls_over_at) IN ('real', 'null')), 
	CONSTRAINT ck_meter_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_meter_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_meter_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_meter_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id), 
	CONSTRAINT ck_meter_kind_known CHECK (kind IN ('h', 'km'))
);
INSERT INTO "meter" VALUES(1,X'019CA9450A00731BA24297324D1F9BB7',X'019CA9450A0072B59489B2285BBF49E7','h','2024-01-01',NULL,0.0,NULL,0.0,NULL,'2026-03-01T12:00:00.000000+00:00','Kim',1,NULL,NULL);
CREATE TABLE meter_reading (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	meter_id BLOB, 
	read_on DATE NOT NULL, 
	value DOUBLE NOT NULL, 
	true_hours DOUBLE NOT NULL, 
	source TEXT NOT NULL, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_meter_reading PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_meter_reading_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_meter_reading_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_meter_reading_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_meter_reading_meter_id_is_key CHECK (length(meter_id) = 16), 
	CONSTRAINT ck_meter_reading_read_on_is_date CHECK (date(read_on) IS read_on), 
	CONSTRAINT ck_meter_reading_value_is_real CHECK (typeof(value) IN ('real', 'null')), 
	CONSTRAINT ck_meter_reading_true_hours_is_real CHECK (typeof(true_hours) IN ('real', 'null')), 
	CONSTRAINT ck_meter_reading_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_meter_reading_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id), 
	CONSTRAINT fk_meter_reading_site_id_meter_id FOREIGN KEY(site_id, meter_id) REFERENCES meter (site_id, id), 
	CONSTRAINT ck_meter_reading_source_known CHECK (source IN ('sampler', 'telemetry', 'fuel_slip', 'estimate', 'desk'))
);
INSERT INTO "meter_reading" VALUES(1,X'019CA97BF8807DA4A2A25665C7278B22',X'019CA9450A0072B59489B2285BBF49E7',X'019CA9450A00731BA24297324D1F9BB7','2025-01-01',250.0,250.0,'desk',NULL,'2026-03-01T13:00:00.000000+00:00','Kim');
CREATE TABLE past_row (
	site_id INTEGER NOT NULL, 
	intake_id BLOB NOT NULL, 
	row_number INTEGER NOT NULL, 
	machine_printed TEXT DEFAULT '' NOT NULL, 
	box_printed TEXT DEFAULT '' NOT NULL, 
	sampled_on DATE, 
	meter_printed DOUBLE, 
	sheet TEXT NOT NULL, 
	candidates TEXT DEFAULT '[]' NOT NULL, 
	settled_at TEXT, 
	settled_by TEXT, 
	outcome TEXT DEFAULT '' NOT NULL, 
	sample_id BLOB, 
	CONSTRAINT pk_past_row PRIMARY KEY (site_id, intake_id, row_number), 
	CONSTRAINT ck_past_row_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_past_row_intake_id_is_key CHECK (length(intake_id) = 16), 
	CONSTRAINT ck_past_row_row_number_is_integer CHECK (typeof(row_number) IN ('integer', 'null')), 
	CONSTRAINT ck_past_row_sampled_on_is_date CHECK (date(sampled_on) IS sampled_on), 
	CONSTRAINT ck_past_row_meter_printed_is_real CHECK (typeof(meter_printed) IN ('real', 'null')), 
	CONSTRAINT ck_past_row_settled_at_is_moment CHECK (typeof(settled_at) IN ('text', 'null')), 
	CONSTRAINT ck_past_row_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT fk_past_row_site_id_intake_id FOREIGN KEY(site_id, intake_id) REFERENCES intake (site_id, id), 
	CONSTRAINT fk_past_row_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id)
);
CREATE TABLE reading (
	site_id INTEGER NOT NULL, 
	sheet_id BLOB NOT NULL, 
	analyte_number INTEGER NOT NULL, 
	sign INTEGER NOT NULL, 
	value DOUBLE, 
	printed TEXT NOT NULL, 
	printed_unit TEXT NOT NULL, 
	decimals INTEGER, 
	detection_limit DOUBLE, 
	CONSTRAINT pk_reading PRIMARY KEY (site_id, sheet_id, analyte_number), 
	CONSTRAINT ck_reading_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_reading_sheet_id_is_key CHECK (length(sheet_id) = 16), 
	CONSTRAINT ck_reading_analyte_number_is_integer CHECK (typeof(analyte_number) IN ('integer', 'null')), 
	CONSTRAINT ck_reading_sign_is_integer CHECK (typeof(sign) IN ('integer', 'null')), 
	CONSTRAINT ck_reading_value_is_real CHECK (typeof(value) IN ('real', 'null')), 
	CONSTRAINT ck_reading_decimals_is_integer CHECK (typeof(decimals) IN ('integer', 'null')), 
	CONSTRAINT ck_reading_detection_limit_is_real CHECK (typeof(detection_limit) IN ('real', 'null')), 
	CONSTRAINT fk_reading_site_id_sheet_id FOREIGN KEY(site_id, sheet_id) REFERENCES result_sheet (site_id, id), 
	CONSTRAINT fk_reading_analyte_number FOREIGN KEY(analyte_number) REFERENCES analyte (number), 
	CONSTRAINT ck_reading_sign_range CHECK (sign BETWEEN 0 AND 6), 
	CONSTRAINT ck_reading_value_fits_sign CHECK ((value IS NULL) = (sign >= 5))
)
 WITHOUT ROWID

;
INSERT INTO "reading" VALUES(1,X'019CA9450A0070A2ABA89D95183A30E4',1,0,11.0,'11','ppm',0,NULL);
INSERT INTO "reading" VALUES(1,X'019CA9450A0070A2ABA89D95183A30E4',2,0,3.0,'3','ppm',0,NULL);
INSERT INTO "reading" VALUES(1,X'019CA9450A0072C3BA32BE9C6407BDA8',1,0,12.0,'12','ppm',0,NULL);
INSERT INTO "reading" VALUES(1,X'019CA9450A0072C3BA32BE9C6407BDA8',2,0,3.0,'3','ppm',0,NULL);
INSERT INTO "reading" VALUES(1,X'019CA9450A00784B814617A8250AA652',1,0,10.0,'10','ppm',0,NULL);
INSERT INTO "reading" VALUES(1,X'019CA9450A00784B814617A8250AA652',2,0,3.0,'3','ppm',0,NULL);
CREATE TABLE record_change (
	site_id INTEGER NOT NULL, 
	place INTEGER NOT NULL, 
	record_kind TEXT NOT NULL, 
	record_key TEXT NOT NULL, 
	undoes INTEGER, 
	CONSTRAINT pk_record_change PRIMARY KEY (site_id, place), 
	CONSTRAINT ck_record_change_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_record_change_place_is_integer CHECK (typeof(place) IN ('integer', 'null')), 
	CONSTRAINT ck_record_change_undoes_is_integer CHECK (typeof(undoes) IN ('integer', 'null'))
);
CREATE TABLE remark (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	owner_kind TEXT NOT NULL, 
	owner_id BLOB NOT NULL, 
	words TEXT NOT NULL, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	CONSTRAINT pk_remark PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_remark_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_remark_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_remark_owner_id_is_key CHECK (length(owner_id) = 16), 
	CONSTRAINT ck_remark_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_remark_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT ck_remark_owner_kind_known CHECK (owner_kind IN ('machine', 'compartment', 'sampling_point', 'sample', 'sheet', 'fluid_batch', 'fluid_tank', 'fluid_sample'))
);
CREATE TABLE result_sheet (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	sample_id BLOB NOT NULL, 
	laboratory_code TEXT NOT NULL, 
	report_number TEXT NOT NULL, 
	issue INTEGER NOT NULL, 
	received_on DATE, 
	tested_on DATE, 
	issued_on DATE, 
	remark TEXT DEFAULT '' NOT NULL, 
	sampled_on_printed DATE, 
	meter_printed DOUBLE, 
	intake_id BLOB, 
	is_current BOOLEAN DEFAULT true NOT NULL, 
	superseded_by BLOB, 
	voided_reason TEXT, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, rejected_reason TEXT
	DEFAULT '' NOT NULL, 
	CONSTRAINT pk_result_sheet PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_result_sheet_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_result_sheet_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_result_sheet_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_result_sheet_issue_is_integer CHECK (typeof(issue) IN ('integer', 'null')), 
	CONSTRAINT ck_result_sheet_received_on_is_date CHECK (date(received_on) IS received_on), 
	CONSTRAINT ck_result_sheet_tested_on_is_date CHECK (date(tested_on) IS tested_on), 
	CONSTRAINT ck_result_sheet_issued_on_is_date CHECK (date(issued_on) IS issued_on), 
	CONSTRAINT ck_result_sheet_sampled_on_printed_is_date CHECK (date(sampled_on_printed) IS sampled_on_printed), 
	CONSTRAINT ck_result_sheet_meter_printed_is_real CHECK (typeof(meter_printed) IN ('real', 'null')), 
	CONSTRAINT ck_result_sheet_intake_id_is_key CHECK (length(intake_id) = 16), 
	CONSTRAINT ck_result_sheet_is_current_is_boolean CHECK (is_current IN (0, 1)), 
	CONSTRAINT ck_result_sheet_superseded_by_is_key CHECK (length(superseded_by) = 16), 
	CONSTRAINT ck_result_sheet_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT fk_result_sheet_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT fk_result_sheet_site_id_intake_id FOREIGN KEY(site_id, intake_id) REFERENCES intake (site_id, id), 
	CONSTRAINT fk_result_sheet_site_id_superseded_by FOREIGN KEY(site_id, superseded_by) REFERENCES result_sheet (site_id, id) DEFERRABLE INITIALLY DEFERRED, 
	CONSTRAINT fk_result_sheet_laboratory_code FOREIGN KEY(laboratory_code) REFERENCES laboratory (code), 
	CONSTRAINT ck_result_sheet_current_not_voided CHECK (NOT is_current OR voided_reason IS NULL), 
	CONSTRAINT ck_result_sheet_current_not_superseded CHECK (NOT is_current OR superseded_by IS NULL)
);
INSERT INTO "result_sheet" VALUES(1,X'019CA9450A00784B814617A8250AA652',X'019CA9450A007AC7B1A220AEC3E81FE2','own','R-26K-0000-K',1,'2026-02-01',NULL,NULL,'',NULL,NULL,NULL,1,NULL,NULL,'2026-03-01T12:00:00.000000+00:00','Kim','');
INSERT INTO "result_sheet" VALUES(1,X'019CA9450A0070A2ABA89D95183A30E4',X'019CA9450A00756F88720DB3D1D3DDCC','own','R-26K-0001-I',1,'2026-02-01',NULL,NULL,'',NULL,NULL,NULL,1,NULL,NULL,'2026-03-01T12:00:00.000000+00:00','Kim','');
INSERT INTO "result_sheet" VALUES(1,X'019CA9450A0072C3BA32BE9C6407BDA8',X'019CA9450A007D819A784BBD3FDACFA9','own','R-26K-0002-G',1,'2026-02-01',NULL,NULL,'',NULL,NULL,NULL,1,NULL,NULL,'2026-03-01T12:00:00.000000+00:00','Kim','');
CREATE TABLE sample (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	bottle_code TEXT DEFAULT '' NOT NULL, 
	reason TEXT NOT NULL, 
	state TEXT NOT NULL, 
	taken_on DATE, 
	meter_value DOUBLE, 
	true_hours DOUBLE, 
	fluid_hours DOUBLE, 
	fill_number INTEGER DEFAULT 0 NOT NULL, 
	draw_method TEXT DEFAULT 'unknown' NOT NULL, 
	trust INTEGER DEFAULT 0 NOT NULL, 
	trust_reason TEXT DEFAULT '' NOT NULL, 
	taken_by TEXT DEFAULT '' NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	duplicate_of BLOB, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, test_list_code TEXT
	CONSTRAINT fk_sample_test_list_code REFERENCES test_list (code), origin TEXT
	DEFAULT 'plan' NOT NULL
	CONSTRAINT ck_sample_origin_known CHECK (origin IN ('plan', 'walk_up', 'spare_label', 'past')), 
	CONSTRAINT pk_sample PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_sample_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_sample_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_sample_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_sample_taken_on_is_date CHECK (date(taken_on) IS taken_on), 
	CONSTRAINT ck_sample_meter_value_is_real CHECK (typeof(meter_value) IN ('real', 'null')), 
	CONSTRAINT ck_sample_true_hours_is_real CHECK (typeof(true_hours) IN ('real', 'null')), 
	CONSTRAINT ck_sample_fluid_hours_is_real CHECK (typeof(fluid_hours) IN ('real', 'null')), 
	CONSTRAINT ck_sample_fill_number_is_integer CHECK (typeof(fill_number) IN ('integer', 'null')), 
	CONSTRAINT ck_sample_trust_is_integer CHECK (typeof(trust) IN ('integer', 'null')), 
	CONSTRAINT ck_sample_duplicate_of_is_key CHECK (length(duplicate_of) = 16), 
	CONSTRAINT ck_sample_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_sample_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_sample_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_sample_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_sample_site_id_duplicate_of FOREIGN KEY(site_id, duplicate_of) REFERENCES sample (site_id, id) DEFERRABLE INITIALLY DEFERRED, 
	CONSTRAINT ck_sample_reason_known CHECK (reason IN ('routine', 'resample', 'post_change', 'special', 'duplicate', 'reference', 'storage')), 
	CONSTRAINT ck_sample_state_known CHECK (state IN ('planned', 'issued', 'taken', 'shipped', 'received', 'reported', 'not_taken', 'lost', 'void')), 
	CONSTRAINT ck_sample_draw_method_known CHECK (draw_method IN ('valve_probe', 'vacuum_tube', 'drain_stream', 'unknown')), 
	CONSTRAINT ck_sample_trust_range CHECK (trust BETWEEN 0 AND 2)
);
INSERT INTO "sample" VALUES(1,X'019CA9450A007AC7B1A220AEC3E81FE2',X'019CA9450A0072C78C25F83ED20CB13E','26K-0000-K','routine','reported','2025-01-01',NULL,0.0,0.0,0,'unknown',0,'','','',NULL,'2026-03-01T12:00:00.000000+00:00','Kim',2,'2026-03-01T12:00:00.000000+00:00','Kim',NULL,'plan');
INSERT INTO "sample" VALUES(1,X'019CA9450A00756F88720DB3D1D3DDCC',X'019CA9450A0072C78C25F83ED20CB13E','26K-0001-I','routine','reported','2025-01-31',NULL,250.0,250.0,0,'unknown',0,'','','',NULL,'2026-03-01T12:00:00.000000+00:00','Kim',2,'2026-03-01T12:00:00.000000+00:00','Kim',NULL,'plan');
INSERT INTO "sample" VALUES(1,X'019CA9450A007D819A784BBD3FDACFA9',X'019CA9450A0072C78C25F83ED20CB13E','26K-0002-G','routine','reported','2025-03-02',NULL,500.0,500.0,0,'unknown',0,'','','',NULL,'2026-03-01T12:00:00.000000+00:00','Kim',2,'2026-03-01T12:00:00.000000+00:00','Kim',NULL,'plan');
CREATE TABLE sample_taking (
	site_id INTEGER NOT NULL, 
	sample_id BLOB NOT NULL, 
	visit_id BLOB, 
	sampling_point_id BLOB, 
	taken_at TEXT DEFAULT '' NOT NULL, 
	method TEXT NOT NULL, 
	run_state TEXT DEFAULT '' NOT NULL, 
	flushed BOOLEAN, 
	warm BOOLEAN, 
	mixed BOOLEAN, 
	fill_level TEXT DEFAULT 'unknown' NOT NULL, 
	cap_marked BOOLEAN, 
	litres_added DOUBLE, 
	fluid_changed BOOLEAN, 
	filter_changed BOOLEAN, 
	meter_unreadable BOOLEAN DEFAULT false NOT NULL, 
	taken_by TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_sample_taking PRIMARY KEY (site_id, sample_id), 
	CONSTRAINT ck_sample_taking_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_sample_taking_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_sample_taking_visit_id_is_key CHECK (length(visit_id) = 16), 
	CONSTRAINT ck_sample_taking_sampling_point_id_is_key CHECK (length(sampling_point_id) = 16), 
	CONSTRAINT ck_sample_taking_flushed_is_boolean CHECK (flushed IN (0, 1)), 
	CONSTRAINT ck_sample_taking_warm_is_boolean CHECK (warm IN (0, 1)), 
	CONSTRAINT ck_sample_taking_mixed_is_boolean CHECK (mixed IN (0, 1)), 
	CONSTRAINT ck_sample_taking_cap_marked_is_boolean CHECK (cap_marked IN (0, 1)), 
	CONSTRAINT ck_sample_taking_litres_added_is_real CHECK (typeof(litres_added) IN ('real', 'null')), 
	CONSTRAINT ck_sample_taking_fluid_changed_is_boolean CHECK (fluid_changed IN (0, 1)), 
	CONSTRAINT ck_sample_taking_filter_changed_is_boolean CHECK (filter_changed IN (0, 1)), 
	CONSTRAINT ck_sample_taking_meter_unreadable_is_boolean CHECK (meter_unreadable IN (0, 1)), 
	CONSTRAINT ck_sample_taking_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_sample_taking_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_sample_taking_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_sample_taking_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT fk_sample_taking_site_id_visit_id FOREIGN KEY(site_id, visit_id) REFERENCES visit (site_id, id), 
	CONSTRAINT fk_sample_taking_site_id_sampling_point_id FOREIGN KEY(site_id, sampling_point_id) REFERENCES sampling_point (site_id, id), 
	CONSTRAINT ck_sample_taking_method_known CHECK (method IN ('valve_probe', 'vacuum_tube', 'drain_stream', 'unknown')), 
	CONSTRAINT ck_sample_taking_fill_level_known CHECK (fill_level IN ('below_line', 'above_line', 'above_neck', 'unknown')), 
	CONSTRAINT ck_sample_taking_litres_added_not_negative CHECK (litres_added >= 0)
);
CREATE TABLE sampling_point (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	kind TEXT NOT NULL, 
	location TEXT NOT NULL, 
	marking TEXT DEFAULT '' NOT NULL, 
	run_state TEXT NOT NULL, 
	flush_ml DOUBLE NOT NULL, 
	tube_mm DOUBLE, 
	hazards TEXT DEFAULT '' NOT NULL, 
	retired BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_sampling_point PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_sampling_point_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_sampling_point_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_sampling_point_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_sampling_point_flush_ml_is_real CHECK (typeof(flush_ml) IN ('real', 'null')), 
	CONSTRAINT ck_sampling_point_tube_mm_is_real CHECK (typeof(tube_mm) IN ('real', 'null')), 
	CONSTRAINT ck_sampling_point_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT ck_sampling_point_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_sampling_point_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_sampling_point_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_sampling_point_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT ck_sampling_point_run_state_known CHECK (run_state IN ('running_idle', 'shut_down'))
);
INSERT INTO "sampling_point" VALUES(1,X'019CA97BF8807C8E8DB4016742A7D5F8',X'019CA9450A0072C78C25F83ED20CB13E','tube','dipstick','','shut_down',50.0,NULL,'',0,'2026-03-01T13:00:00.000000+00:00','Kim',1,NULL,NULL);
CREATE TABLE saved_layout (
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	laboratory_code TEXT, 
	document TEXT NOT NULL, 
	retired BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_saved_layout PRIMARY KEY (code), 
	CONSTRAINT ck_saved_layout_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT ck_saved_layout_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_saved_layout_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_saved_layout_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_saved_layout_laboratory_code FOREIGN KEY(laboratory_code) REFERENCES laboratory (code)
);
CREATE TABLE service_date (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	planned_on DATE NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	dropped BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_service_date PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_service_date_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_service_date_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_service_date_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_service_date_planned_on_is_date CHECK (date(planned_on) IS planned_on), 
	CONSTRAINT ck_service_date_dropped_is_boolean CHECK (dropped IN (0, 1)), 
	CONSTRAINT ck_service_date_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_service_date_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_service_date_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_service_date_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id)
);
INSERT INTO "service_date" VALUES(1,X'019CA9450A0073000000000000000002',X'019CA9450A0072B59489B2285BBF49E7','2026-12-01','',0,'2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
CREATE TABLE shipment (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	laboratory_code TEXT NOT NULL, 
	carrier TEXT DEFAULT '' NOT NULL, 
	sent_on DATE NOT NULL, 
	received_on DATE, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, tracking TEXT DEFAULT '' NOT NULL, manifest_count INTEGER
	CONSTRAINT ck_shipment_manifest_count_is_integer CHECK (typeof(manifest_count) IN ('integer', 'null')), received_count INTEGER
	CONSTRAINT ck_shipment_received_count_is_integer CHECK (typeof(received_count) IN ('integer', 'null')), note TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_shipment PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_shipment_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_shipment_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_shipment_sent_on_is_date CHECK (date(sent_on) IS sent_on), 
	CONSTRAINT ck_shipment_received_on_is_date CHECK (date(received_on) IS received_on), 
	CONSTRAINT ck_shipment_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_shipment_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_shipment_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_shipment_site_id FOREIGN KEY(site_id) REFERENCES site (site_id), 
	CONSTRAINT fk_shipment_laboratory_code FOREIGN KEY(laboratory_code) REFERENCES laboratory (code)
);
CREATE TABLE shipment_bottle (
	site_id INTEGER NOT NULL, 
	shipment_id BLOB NOT NULL, 
	bottle_code TEXT NOT NULL, 
	CONSTRAINT pk_shipment_bottle PRIMARY KEY (site_id, shipment_id, bottle_code), 
	CONSTRAINT ck_shipment_bottle_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_shipment_bottle_shipment_id_is_key CHECK (length(shipment_id) = 16), 
	CONSTRAINT fk_shipment_bottle_site_id_shipment_id FOREIGN KEY(site_id, shipment_id) REFERENCES shipment (site_id, id), 
	CONSTRAINT fk_shipment_bottle_site_id_bottle_code FOREIGN KEY(site_id, bottle_code) REFERENCES bottle (site_id, code)
);
CREATE TABLE site (
	site_id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	time_zone TEXT NOT NULL, 
	dust_shares TEXT DEFAULT '{}' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_site PRIMARY KEY (site_id), 
	CONSTRAINT ck_site_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_site_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_site_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_site_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT uq_site_name UNIQUE (name)
);
INSERT INTO "site" VALUES(1,'North pit','UTC','{}','2026-03-01T12:00:00.000000+00:00','Kim',1,NULL,NULL);
CREATE TABLE special_interval (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	sample_id BLOB, 
	reason TEXT NOT NULL, 
	interval_hours DOUBLE, 
	interval_days INTEGER, 
	valid_from DATE NOT NULL, 
	ended_on DATE, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_special_interval PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_special_interval_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_special_interval_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_special_interval_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_special_interval_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_special_interval_interval_hours_is_real CHECK (typeof(interval_hours) IN ('real', 'null')), 
	CONSTRAINT ck_special_interval_interval_days_is_integer CHECK (typeof(interval_days) IN ('integer', 'null')), 
	CONSTRAINT ck_special_interval_valid_from_is_date CHECK (date(valid_from) IS valid_from), 
	CONSTRAINT ck_special_interval_ended_on_is_date CHECK (date(ended_on) IS ended_on), 
	CONSTRAINT ck_special_interval_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_special_interval_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_special_interval_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_special_interval_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_special_interval_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT ck_special_interval_reason_known CHECK (reason IN ('after_act', 'after_urgent', 'component_fit', 'before_change', 'return_from_storage', 'laboratory_asks', 'resample', 'other')), 
	CONSTRAINT ck_special_interval_interval_hours_positive CHECK (interval_hours > 0), 
	CONSTRAINT ck_special_interval_interval_days_positive CHECK (interval_days > 0)
);
INSERT INTO "special_interval" VALUES(1,X'019CA9450A0073000000000000000005',X'019CA9450A0072C78C25F83ED20CB13E',NULL,'laboratory_asks',100.0,30,'2026-10-20',NULL,'','2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
ANALYZE "sqlite_master";
INSERT INTO "sqlite_stat1" VALUES('sample_taking','sqlite_autoindex_sample_taking_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('due_note','ix_due_note_site_id_compartment_id_due_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('due_note','sqlite_autoindex_due_note_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('special_interval','ix_special_interval_site_id_compartment_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('special_interval','sqlite_autoindex_special_interval_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('visit_box','ix_visit_box_site_id_sample_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('visit_box','ix_visit_box_site_id_compartment_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('visit_box','sqlite_autoindex_visit_box_2','1000000 100000 30 30 1');
INSERT INTO "sqlite_stat1" VALUES('visit_box','sqlite_autoindex_visit_box_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('crew','sqlite_autoindex_crew_2','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('crew','sqlite_autoindex_crew_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('event_question','sqlite_autoindex_event_question_2','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('event_question','sqlite_autoindex_event_question_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('answered_warning','ix_answered_warning_site_id_draft_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('answered_warning','ix_answered_warning_site_id_sheet_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('answered_warning','sqlite_autoindex_answered_warning_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('forecast','ix_forecast_site_id_compartment_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('forecast','sqlite_autoindex_forecast_2','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('forecast','sqlite_autoindex_forecast_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('interval_rule','sqlite_autoindex_interval_rule_1','1000000 30 1');
INSERT INTO "sqlite_stat1" VALUES('saved_layout','sqlite_autoindex_saved_layout_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('test_list_kind','sqlite_autoindex_test_list_kind_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('test_list','sqlite_autoindex_test_list_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('shipment_bottle','sqlite_autoindex_shipment_bottle_1','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('alembic_version','sqlite_autoindex_alembic_version_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('custody_step','ix_custody_step_site_id_step_at','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('custody_step','ix_custody_step_site_id_bottle_code','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('custody_step','sqlite_autoindex_custody_step_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('machine_state_history','ix_machine_state_history_site_id_machine_id_since','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('machine_state_history','sqlite_autoindex_machine_state_history_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('test_list_row','sqlite_autoindex_test_list_row_2','1000000 30 1');
INSERT INTO "sqlite_stat1" VALUES('test_list_row','sqlite_autoindex_test_list_row_1','1000000 30 1');
INSERT INTO "sqlite_stat1" VALUES('remark','ix_remark_site_id_owner_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('remark','sqlite_autoindex_remark_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('audit_trail','sqlite_autoindex_audit_trail_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('analyte','sqlite_autoindex_analyte_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_reference','ix_fluid_reference_fluid_code_valid_from','1000000 30 30');
INSERT INTO "sqlite_stat1" VALUES('sample','ix_sample_site_id_duplicate_of','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('sample','ix_sample_site_id_state','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('sample','ix_sample_site_id_compartment_id_taken_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('sample','ix_sample_site_id_bottle_code','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('sample','sqlite_autoindex_sample_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('key_draft','ix_key_draft_site_id_bottle_code_laboratory_code','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('key_draft','sqlite_autoindex_key_draft_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('attachment','ix_attachment_site_id_owner_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('attachment','sqlite_autoindex_attachment_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_batch','sqlite_autoindex_fluid_batch_2','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_batch','sqlite_autoindex_fluid_batch_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('assessment','ix_assessment_site_id_superseded_by','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('assessment','ix_assessment_site_id_sample_id','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('assessment','sqlite_autoindex_assessment_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('service_date','ix_service_date_site_id_machine_id_planned_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('service_date','sqlite_autoindex_service_date_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('action','ix_action_site_id_compartment_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('action','sqlite_autoindex_action_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('reading','reading','25000000 2500000 30 1');
INSERT INTO "sqlite_stat1" VALUES('site','sqlite_autoindex_site_1','10 1');
INSERT INTO "sqlite_stat1" VALUES('component_fit','ix_component_fit_site_id_serial','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('component_fit','ix_component_fit_site_id_compartment_id_fitted_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('component_fit','sqlite_autoindex_component_fit_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_sample','ix_fluid_sample_site_id_tank_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('fluid_sample','ix_fluid_sample_site_id_batch_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('fluid_sample','ix_fluid_sample_site_id_bottle_code','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_sample','sqlite_autoindex_fluid_sample_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('verdict_block','sqlite_autoindex_verdict_block_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('compartment_event','ix_compartment_event_site_id_superseded_by','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('compartment_event','ix_compartment_event_site_id_compartment_id_happened_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('compartment_event','sqlite_autoindex_compartment_event_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_reading','fluid_reading','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_tank','sqlite_autoindex_fluid_tank_2','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_tank','sqlite_autoindex_fluid_tank_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('desk_user','sqlite_autoindex_desk_user_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('machine','sqlite_autoindex_machine_2','3000 300 1');
INSERT INTO "sqlite_stat1" VALUES('machine','sqlite_autoindex_machine_1','3000 300 1');
INSERT INTO "sqlite_stat1" VALUES('current_condition','sqlite_autoindex_current_condition_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('machine_transfer','ix_machine_transfer_site_id_machine_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('machine_transfer','sqlite_autoindex_machine_transfer_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('machine_usage','sqlite_autoindex_machine_usage_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('visit','ix_visit_site_id_planned_on','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('visit','ix_visit_site_id_machine_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('visit','sqlite_autoindex_visit_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('finding','ix_finding_site_id_action_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('finding','sqlite_autoindex_finding_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid','sqlite_autoindex_fluid_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('intake','ix_intake_site_id_sha256','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('intake','sqlite_autoindex_intake_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_sheet','ix_fluid_sheet_site_id_superseded_by','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('fluid_sheet','ix_fluid_sheet_site_id_intake_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('fluid_sheet','ix_fluid_sheet_site_id_fluid_sample_id','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('fluid_sheet','sqlite_autoindex_fluid_sheet_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('sampling_point','ix_sampling_point_site_id_compartment_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('sampling_point','sqlite_autoindex_sampling_point_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('held_row','sqlite_autoindex_held_row_1','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('shipment','sqlite_autoindex_shipment_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('history_block','sqlite_autoindex_history_block_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('record_change','ix_record_change_site_id_record_kind_record_key','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('record_change','sqlite_autoindex_record_change_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('store_fact','sqlite_autoindex_store_fact_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('compartment','sqlite_autoindex_compartment_2','30000 3000 30 30 1');
INSERT INTO "sqlite_stat1" VALUES('compartment','sqlite_autoindex_compartment_1','30000 3000 1');
INSERT INTO "sqlite_stat1" VALUES('bottle','ix_bottle_site_id_sample_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('bottle','sqlite_autoindex_bottle_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('limit_row','sqlite_autoindex_limit_row_1','1000000 30 1');
INSERT INTO "sqlite_stat1" VALUES('meter_reading','ix_meter_reading_site_id_machine_id_read_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('meter_reading','sqlite_autoindex_meter_reading_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('meter','ix_meter_site_id_machine_id_fitted_on','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('meter','sqlite_autoindex_meter_1','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('laboratory','sqlite_autoindex_laboratory_1','1000000 1');
INSERT INTO "sqlite_stat1" VALUES('past_row','ix_past_row_site_id_sample_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('past_row','sqlite_autoindex_past_row_1','1000000 100000 30 1');
INSERT INTO "sqlite_stat1" VALUES('result_sheet','ix_result_sheet_site_id_sample_id','1000000 100000 1');
INSERT INTO "sqlite_stat1" VALUES('result_sheet','ix_result_sheet_site_id_superseded_by','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('result_sheet','ix_result_sheet_site_id_intake_id','1000000 100000 30');
INSERT INTO "sqlite_stat1" VALUES('result_sheet','ix_result_sheet_all_of_sample','1000000 100000 30 30');
INSERT INTO "sqlite_stat1" VALUES('result_sheet','sqlite_autoindex_result_sheet_1','1000000 100000 1');
CREATE TABLE store_fact (
	"key" TEXT NOT NULL, 
	value TEXT NOT NULL, 
	CONSTRAINT pk_store_fact PRIMARY KEY ("key")
);
INSERT INTO "store_fact" VALUES('created_at','2026-03-01T12:00:00+00:00');
INSERT INTO "store_fact" VALUES('application','fluiddesk');
INSERT INTO "store_fact" VALUES('schema','3');
CREATE TABLE test_list (
	code TEXT NOT NULL, 
	name TEXT NOT NULL, 
	note TEXT DEFAULT '' NOT NULL, 
	retired BOOLEAN DEFAULT false NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_test_list PRIMARY KEY (code), 
	CONSTRAINT ck_test_list_retired_is_boolean CHECK (retired IN (0, 1)), 
	CONSTRAINT ck_test_list_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_test_list_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_test_list_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null'))
);
INSERT INTO "test_list" VALUES('engine_usual','Usual engine tests','',0,'2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
CREATE TABLE test_list_kind (
	compartment_kind TEXT NOT NULL, 
	test_list_code TEXT NOT NULL, 
	CONSTRAINT pk_test_list_kind PRIMARY KEY (compartment_kind), 
	CONSTRAINT fk_test_list_kind_test_list_code FOREIGN KEY(test_list_code) REFERENCES test_list (code)
);
INSERT INTO "test_list_kind" VALUES('engine','engine_usual');
CREATE TABLE test_list_row (
	test_list_code TEXT NOT NULL, 
	place INTEGER NOT NULL, 
	analyte TEXT NOT NULL, 
	CONSTRAINT pk_test_list_row PRIMARY KEY (test_list_code, place), 
	CONSTRAINT ck_test_list_row_place_is_integer CHECK (typeof(place) IN ('integer', 'null')), 
	CONSTRAINT fk_test_list_row_test_list_code FOREIGN KEY(test_list_code) REFERENCES test_list (code), 
	CONSTRAINT uq_test_list_row_test_list_code_analyte UNIQUE (test_list_code, analyte)
);
INSERT INTO "test_list_row" VALUES('engine_usual',0,'iron');
CREATE TABLE verdict_block (
	site_id INTEGER NOT NULL, 
	compartment_id BLOB NOT NULL, 
	block BLOB NOT NULL, 
	CONSTRAINT pk_verdict_block PRIMARY KEY (site_id, compartment_id), 
	CONSTRAINT ck_verdict_block_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_verdict_block_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT fk_verdict_block_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id)
);
CREATE TABLE visit (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	machine_id BLOB NOT NULL, 
	planned_on DATE NOT NULL, 
	state TEXT NOT NULL, 
	crew_id BLOB, 
	minutes DOUBLE, 
	done_on DATE, 
	note TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_visit PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_visit_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_visit_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_visit_machine_id_is_key CHECK (length(machine_id) = 16), 
	CONSTRAINT ck_visit_planned_on_is_date CHECK (date(planned_on) IS planned_on), 
	CONSTRAINT ck_visit_crew_id_is_key CHECK (length(crew_id) = 16), 
	CONSTRAINT ck_visit_minutes_is_real CHECK (typeof(minutes) IN ('real', 'null')), 
	CONSTRAINT ck_visit_done_on_is_date CHECK (date(done_on) IS done_on), 
	CONSTRAINT ck_visit_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_visit_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_visit_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_visit_site_id_machine_id FOREIGN KEY(site_id, machine_id) REFERENCES machine (site_id, id), 
	CONSTRAINT fk_visit_site_id_crew_id FOREIGN KEY(site_id, crew_id) REFERENCES crew (site_id, id), 
	CONSTRAINT ck_visit_state_known CHECK (state IN ('planned', 'issued', 'done', 'dropped'))
);
INSERT INTO "visit" VALUES(1,X'019CA9450A0073000000000000000003',X'019CA9450A0072B59489B2285BBF49E7','2026-12-01','planned',X'019CA9450A0073000000000000000001',25.0,NULL,'','2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
CREATE TABLE visit_box (
	site_id INTEGER NOT NULL, 
	id BLOB NOT NULL, 
	visit_id BLOB NOT NULL, 
	compartment_id BLOB NOT NULL, 
	sample_id BLOB, 
	place INTEGER NOT NULL, 
	reason TEXT NOT NULL, 
	due_on DATE, 
	due_hours DOUBLE, 
	outcome TEXT DEFAULT 'open' NOT NULL, 
	why_not TEXT DEFAULT '' NOT NULL, 
	created_at TEXT NOT NULL, 
	created_by TEXT NOT NULL, 
	version INTEGER DEFAULT 1 NOT NULL, 
	changed_at TEXT, 
	changed_by TEXT, 
	CONSTRAINT pk_visit_box PRIMARY KEY (site_id, id), 
	CONSTRAINT ck_visit_box_site_id_is_integer CHECK (typeof(site_id) IN ('integer', 'null')), 
	CONSTRAINT ck_visit_box_id_is_key CHECK (length(id) = 16), 
	CONSTRAINT ck_visit_box_visit_id_is_key CHECK (length(visit_id) = 16), 
	CONSTRAINT ck_visit_box_compartment_id_is_key CHECK (length(compartment_id) = 16), 
	CONSTRAINT ck_visit_box_sample_id_is_key CHECK (length(sample_id) = 16), 
	CONSTRAINT ck_visit_box_place_is_integer CHECK (typeof(place) IN ('integer', 'null')), 
	CONSTRAINT ck_visit_box_due_on_is_date CHECK (date(due_on) IS due_on), 
	CONSTRAINT ck_visit_box_due_hours_is_real CHECK (typeof(due_hours) IN ('real', 'null')), 
	CONSTRAINT ck_visit_box_created_at_is_moment CHECK (typeof(created_at) IN ('text', 'null')), 
	CONSTRAINT ck_visit_box_version_is_integer CHECK (typeof(version) IN ('integer', 'null')), 
	CONSTRAINT ck_visit_box_changed_at_is_moment CHECK (typeof(changed_at) IN ('text', 'null')), 
	CONSTRAINT fk_visit_box_site_id_visit_id FOREIGN KEY(site_id, visit_id) REFERENCES visit (site_id, id), 
	CONSTRAINT fk_visit_box_site_id_compartment_id FOREIGN KEY(site_id, compartment_id) REFERENCES compartment (site_id, id), 
	CONSTRAINT fk_visit_box_site_id_sample_id FOREIGN KEY(site_id, sample_id) REFERENCES sample (site_id, id), 
	CONSTRAINT ck_visit_box_reason_known CHECK (reason IN ('routine', 'resample', 'post_change', 'special', 'duplicate', 'reference', 'storage')), 
	CONSTRAINT ck_visit_box_outcome_known CHECK (outcome IN ('open', 'taken', 'not_taken', 'moved')), 
	CONSTRAINT uq_visit_box_site_id_visit_id_compartment_id_reason UNIQUE (site_id, visit_id, compartment_id, reason)
);
INSERT INTO "visit_box" VALUES(1,X'019CA9450A0073000000000000000004',X'019CA9450A0073000000000000000003',X'019CA9450A0072C78C25F83ED20CB13E',NULL,1,'routine','2026-12-02',NULL,'open','','2026-11-01T08:00:00.000000+00:00','planner',1,NULL,NULL);
CREATE INDEX ix_fluid_reference_fluid_code_valid_from ON fluid_reference (fluid_code, valid_from);
CREATE INDEX ix_machine_state_history_site_id_machine_id_since ON machine_state_history (site_id, machine_id, since);
CREATE INDEX ix_meter_site_id_machine_id_fitted_on ON meter (site_id, machine_id, fitted_on);
CREATE INDEX ix_meter_reading_site_id_machine_id_read_on ON meter_reading (site_id, machine_id, read_on);
CREATE INDEX ix_component_fit_site_id_compartment_id_fitted_on ON component_fit (site_id, compartment_id, fitted_on);
CREATE INDEX ix_sampling_point_site_id_compartment_id ON sampling_point (site_id, compartment_id);
CREATE INDEX ix_compartment_event_site_id_compartment_id_happened_on ON compartment_event (site_id, compartment_id, happened_on);
CREATE INDEX ix_compartment_event_site_id_superseded_by ON compartment_event (site_id, superseded_by);
CREATE UNIQUE INDEX ix_sample_site_id_bottle_code ON sample (site_id, bottle_code) WHERE bottle_code <> '';
CREATE INDEX ix_sample_site_id_compartment_id_taken_on ON sample (site_id, compartment_id, taken_on);
CREATE INDEX ix_sample_site_id_state ON sample (site_id, state);
CREATE INDEX ix_sample_site_id_duplicate_of ON sample (site_id, duplicate_of);
CREATE INDEX ix_bottle_site_id_sample_id ON bottle (site_id, sample_id);
CREATE UNIQUE INDEX ix_intake_site_id_sha256 ON intake (site_id, sha256) WHERE undone_at IS NULL;
CREATE INDEX ix_result_sheet_all_of_sample ON result_sheet (site_id, sample_id, issue);
CREATE INDEX ix_result_sheet_site_id_intake_id ON result_sheet (site_id, intake_id);
CREATE INDEX ix_result_sheet_site_id_superseded_by ON result_sheet (site_id, superseded_by);
CREATE UNIQUE INDEX ix_result_sheet_site_id_sample_id ON result_sheet (site_id, sample_id) WHERE is_current;
CREATE UNIQUE INDEX ix_assessment_site_id_sample_id ON assessment (site_id, sample_id) WHERE superseded_by IS NULL;
CREATE INDEX ix_assessment_site_id_superseded_by ON assessment (site_id, superseded_by);
CREATE INDEX ix_action_site_id_compartment_id ON action (site_id, compartment_id);
CREATE INDEX ix_finding_site_id_action_id ON finding (site_id, action_id);
CREATE INDEX ix_record_change_site_id_record_kind_record_key ON record_change (site_id, record_kind, record_key);
CREATE INDEX ix_component_fit_site_id_serial ON component_fit (site_id, serial);
CREATE INDEX ix_machine_transfer_site_id_machine_id ON machine_transfer (site_id, machine_id);
CREATE INDEX ix_past_row_site_id_sample_id ON past_row (site_id, sample_id);
CREATE UNIQUE INDEX ix_fluid_sample_site_id_bottle_code ON fluid_sample (site_id, bottle_code) WHERE bottle_code <> '';
CREATE INDEX ix_fluid_sample_site_id_batch_id ON fluid_sample (site_id, batch_id);
CREATE INDEX ix_fluid_sample_site_id_tank_id ON fluid_sample (site_id, tank_id);
CREATE UNIQUE INDEX ix_fluid_sheet_site_id_fluid_sample_id ON fluid_sheet (site_id, fluid_sample_id) WHERE is_current;
CREATE INDEX ix_fluid_sheet_site_id_intake_id ON fluid_sheet (site_id, intake_id);
CREATE INDEX ix_fluid_sheet_site_id_superseded_by ON fluid_sheet (site_id, superseded_by);
CREATE INDEX ix_attachment_site_id_owner_id ON attachment (site_id, owner_id);
CREATE INDEX ix_remark_site_id_owner_id ON remark (site_id, owner_id);
CREATE TRIGGER audit_trail_no_update BEFORE UPDATE ON audit_trail BEGIN SELECT RAISE(ABORT, 'the audit trail is append only'); END;
CREATE TRIGGER audit_trail_no_delete BEFORE DELETE ON audit_trail BEGIN SELECT RAISE(ABORT, 'the audit trail is append only'); END;
CREATE INDEX ix_forecast_site_id_compartment_id ON forecast (site_id, compartment_id);
CREATE UNIQUE INDEX ix_key_draft_site_id_bottle_code_laboratory_code ON key_draft (site_id, bottle_code, laboratory_code) WHERE state IN ('open', 'parked');
CREATE INDEX ix_answered_warning_site_id_sheet_id ON answered_warning (site_id, sheet_id);
CREATE INDEX ix_answered_warning_site_id_draft_id ON answered_warning (site_id, draft_id);
CREATE INDEX ix_service_date_site_id_machine_id_planned_on ON service_date (site_id, machine_id, planned_on);
CREATE INDEX ix_visit_site_id_machine_id ON visit (site_id, machine_id);
CREATE INDEX ix_visit_site_id_planned_on ON visit (site_id, planned_on);
CREATE INDEX ix_visit_box_site_id_compartment_id ON visit_box (site_id, compartment_id);
CREATE INDEX ix_visit_box_site_id_sample_id ON visit_box (site_id, sample_id);
CREATE INDEX ix_special_interval_site_id_compartment_id ON special_interval (site_id, compartment_id);
CREATE INDEX ix_due_note_site_id_compartment_id_due_on ON due_note (site_id, compartment_id, due_on);
CREATE INDEX ix_custody_step_site_id_bottle_code ON custody_step (site_id, bottle_code);
CREATE INDEX ix_custody_step_site_id_step_at ON custody_step (site_id, step, at);
COMMIT;
