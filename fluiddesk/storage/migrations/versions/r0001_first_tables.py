"""The first tables: fleet, sampling, results, limits, judgement, derived tables, audit trail."""

from alembic import op

from fluiddesk.storage.migrations.table_maker import (
    EDITED,
    MADE,
    between,
    catalogue,
    check,
    index,
    make,
    one_of,
    parent,
    unique,
)

revision = "r0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make every table, in the order in which they refer to each other."""
    _catalogue_tables()
    _fleet_tables()
    _sampling_tables()
    _result_tables()
    _judgement_tables()
    _derived_tables()
    _guard_audit_trail()


def downgrade() -> None:
    """Refuse: the way back is the backup made before the upgrade."""
    raise NotImplementedError("there is nothing before the first tables")


def _catalogue_tables() -> None:
    make("analyte", "number INT, code TEXT, unit TEXT", unique("code"), key="number")
    make(
        "fluid",
        "code TEXT, name TEXT, fluid_class TEXT, viscosity_grade TEXT, density_kg_per_l REAL",
        check("density_positive", "density_kg_per_l > 0"),
        key="code",
        stamps=EDITED,
    )
    make(
        "fluid_reference",
        "number INT, fluid_code TEXT, valid_from DATE, source TEXT, reference_values TEXT='{}'",
        catalogue("fluid_code", "fluid.code"),
        key="number",
        stamps=MADE,
    )
    index("fluid_reference", "fluid_code, valid_from")
    make("laboratory", "code TEXT, name TEXT", key="code", stamps=MADE)
    make(
        "limit_set",
        "number INT, name TEXT, state TEXT, valid_from DATE, valid_until DATE?, author TEXT, "
        "note TEXT='', program TEXT=''",
        one_of("state", "draft in_force retired"),
        key="number",
        stamps=EDITED,
    )
    make(
        "limit_row",
        "limit_set_number INT, place INT, machine_kind TEXT='', model TEXT='', "
        "compartment_kind TEXT='', compartment TEXT='', fluid_class TEXT='', analyte TEXT, "
        "kind TEXT, direction TEXT, watch REAL?, act REAL?, urgent REAL?, source TEXT, "
        "set_by TEXT, boundary TEXT, group_name TEXT='', act_needs INT=1, urgent_needs INT=1, "
        "note TEXT='', is_off BOOL=false",
        catalogue("limit_set_number", "limit_set.number"),
        one_of(
            "kind", "level change change_percent rate_per_100h left_right_ratio companion_ratio"
        ),
        one_of("direction", "up down"),
        one_of("boundary", "at beyond"),
        key="limit_set_number, place",
    )
    make(
        "desk_user",
        "name TEXT, role TEXT, is_active BOOL=true",
        one_of("role", "clerk planner manager reader"),
        key="name",
        stamps=EDITED,
    )
    make("store_fact", "key TEXT, value TEXT", key="key")


def _fleet_tables() -> None:
    make(
        "site",
        "site_id INT, name TEXT, time_zone TEXT, dust_shares TEXT='{}'",
        unique("name"),
        key="site_id",
        stamps=EDITED,
    )
    make(
        "machine",
        "site_id INT, id KEY, code TEXT, kind TEXT, model TEXT, serial TEXT='', "
        "in_service_on DATE?, state TEXT, criticality INT=3, cost_per_down_hour REAL?, "
        "machine_uuid KEY",
        catalogue("site_id", "site.site_id"),
        unique("site_id", "code"),
        one_of("state", "working standby down sold"),
        between("criticality", 1, 5),
        stamps=EDITED,
    )
    make(
        "machine_state_history",
        "site_id INT, id KEY, machine_id KEY, state TEXT, since DATE, note TEXT=''",
        parent("machine_id", "machine"),
        one_of("state", "working standby down sold"),
        stamps=MADE,
    )
    index("machine_state_history", "site_id, machine_id, since")
    make(
        "meter",
        "site_id INT, id KEY, machine_id KEY, kind TEXT, fitted_on DATE, removed_on DATE?, "
        "start_value REAL, end_value REAL?, hours_before REAL, rolls_over_at REAL?",
        parent("machine_id", "machine"),
        one_of("kind", "h km"),
        stamps=EDITED,
    )
    index("meter", "site_id, machine_id, fitted_on")
    make(
        "meter_reading",
        "site_id INT, id KEY, machine_id KEY, meter_id KEY?, read_on DATE, value REAL, "
        "true_hours REAL, source TEXT, voided_reason TEXT?",
        parent("machine_id", "machine"),
        parent("meter_id", "meter"),
        one_of("source", "sampler telemetry fuel_slip estimate desk"),
        stamps=MADE,
    )
    index("meter_reading", "site_id, machine_id, read_on")
    make(
        "compartment",
        "site_id INT, id KEY, machine_id KEY, kind TEXT, position TEXT='', fluid_code TEXT, "
        "capacity_l REAL, residue_share REAL, filter_micron REAL?, interval_hours REAL?, "
        "interval_days INT?, criticality INT=3, retired BOOL=false",
        parent("machine_id", "machine"),
        catalogue("fluid_code", "fluid.code"),
        unique("site_id", "machine_id", "kind", "position"),
        check("capacity_positive", "capacity_l > 0"),
        between("residue_share", 0, 1),
        between("criticality", 1, 5),
        stamps=EDITED,
    )
    make(
        "component_fit",
        "site_id INT, id KEY, compartment_id KEY, serial TEXT, fitted_on DATE, "
        "fitted_at_hours REAL?, hours_before REAL, condition TEXT, removed_on DATE?, "
        "removed_at_hours REAL?, reason TEXT=''",
        parent("compartment_id", "compartment"),
        one_of("condition", "new overhauled used"),
        stamps=MADE,
    )
    index("component_fit", "site_id, compartment_id, fitted_on")
    make(
        "sampling_point",
        "site_id INT, id KEY, compartment_id KEY, kind TEXT, location TEXT, marking TEXT='', "
        "run_state TEXT, flush_ml REAL, tube_mm REAL?, hazards TEXT='', retired BOOL=false",
        parent("compartment_id", "compartment"),
        one_of("run_state", "running_idle shut_down"),
        stamps=EDITED,
    )
    index("sampling_point", "site_id, compartment_id")
    make(
        "fluid_batch",
        "site_id INT, id KEY, fluid_code TEXT, batch TEXT, delivered_on DATE, "
        "reference_number INT?",
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        catalogue("reference_number", "fluid_reference.number"),
        unique("site_id", "fluid_code", "batch"),
        stamps=MADE,
    )
    make(
        "compartment_event",
        "site_id INT, id KEY, compartment_id KEY, kind TEXT, happened_on DATE, "
        "true_hours REAL?, litres REAL?, fluid_code TEXT?, certainty TEXT, source TEXT, "
        "superseded_by KEY?, note TEXT=''",
        parent("compartment_id", "compartment"),
        parent("superseded_by", "compartment_event", is_deferred=True),
        catalogue("fluid_code", "fluid.code"),
        one_of("kind", "fluid_change top_up filter_change component_fit repair stand_down"),
        one_of("certainty", "recorded inferred denied"),
        stamps=MADE,
    )
    index("compartment_event", "site_id, compartment_id, happened_on")
    index("compartment_event", "site_id, superseded_by")


def _sampling_tables() -> None:
    make(
        "sample",
        "site_id INT, id KEY, compartment_id KEY, bottle_code TEXT='', reason TEXT, "
        "state TEXT, taken_on DATE?, meter_value REAL?, true_hours REAL?, fluid_hours REAL?, "
        "fill_number INT=0, draw_method TEXT='unknown', trust INT=0, trust_reason TEXT='', "
        "taken_by TEXT='', note TEXT='', duplicate_of KEY?",
        parent("compartment_id", "compartment"),
        parent("duplicate_of", "sample", is_deferred=True),
        one_of("reason", "routine resample post_change special duplicate reference storage"),
        one_of("state", "planned issued taken shipped received reported not_taken lost void"),
        one_of("draw_method", "valve_probe vacuum_tube drain_stream unknown"),
        between("trust", 0, 2),
        stamps=EDITED,
    )
    index("sample", "site_id, bottle_code", where="bottle_code <> ''")
    index("sample", "site_id, compartment_id, taken_on")
    index("sample", "site_id, state")
    index("sample", "site_id, duplicate_of")
    make(
        "bottle",
        "site_id INT, code TEXT, lot TEXT='', sample_id KEY?, issued_on DATE?",
        catalogue("site_id", "site.site_id"),
        parent("sample_id", "sample"),
        key="site_id, code",
        stamps=MADE,
    )
    index("bottle", "site_id, sample_id")
    make(
        "shipment",
        "site_id INT, id KEY, laboratory_code TEXT, carrier TEXT='', sent_on DATE, "
        "received_on DATE?",
        catalogue("site_id", "site.site_id"),
        catalogue("laboratory_code", "laboratory.code"),
        stamps=EDITED,
    )
    make(
        "shipment_bottle",
        "site_id INT, shipment_id KEY, bottle_code TEXT",
        parent("shipment_id", "shipment"),
        parent("bottle_code", "bottle", "code"),
        key="site_id, shipment_id, bottle_code",
    )


def _result_tables() -> None:
    make(
        "intake",
        "site_id INT, id KEY, file_name TEXT, sha256 TEXT, layout TEXT, taken_in_at MOMENT, "
        "taken_in_by TEXT, counts TEXT='{}', undone_at MOMENT?, undone_by TEXT?, "
        "undone_reason TEXT?",
        catalogue("site_id", "site.site_id"),
        check("sha256_length", "length(sha256) = 64"),
    )
    index("intake", "site_id, sha256", where="undone_at IS NULL")
    make(
        "held_row",
        "site_id INT, intake_id KEY, row_number INT, cells TEXT, reason TEXT, "
        "settled_at MOMENT?, settled_by TEXT?, outcome TEXT=''",
        parent("intake_id", "intake"),
        key="site_id, intake_id, row_number",
    )
    make(
        "result_sheet",
        "site_id INT, id KEY, sample_id KEY, laboratory_code TEXT, report_number TEXT, "
        "issue INT, received_on DATE?, tested_on DATE?, issued_on DATE?, remark TEXT='', "
        "sampled_on_printed DATE?, meter_printed REAL?, intake_id KEY?, is_current BOOL=true, "
        "superseded_by KEY?, voided_reason TEXT?",
        parent("sample_id", "sample"),
        parent("intake_id", "intake"),
        parent("superseded_by", "result_sheet", is_deferred=True),
        catalogue("laboratory_code", "laboratory.code"),
        check("current_not_voided", "NOT is_current OR voided_reason IS NULL"),
        check("current_not_superseded", "NOT is_current OR superseded_by IS NULL"),
        stamps=MADE,
    )
    index("result_sheet", "site_id, sample_id, issue", name="ix_result_sheet_all_of_sample")
    index("result_sheet", "site_id, intake_id")
    index("result_sheet", "site_id, superseded_by")
    index("result_sheet", "site_id, sample_id", where="is_current")
    make(
        "reading",
        "site_id INT, sheet_id KEY, analyte_number INT, sign INT, value REAL?, printed TEXT, "
        "printed_unit TEXT, decimals INT?, detection_limit REAL?",
        parent("sheet_id", "result_sheet"),
        catalogue("analyte_number", "analyte.number"),
        between("sign", 0, 6),
        check("value_fits_sign", "(value IS NULL) = (sign >= 5)"),
        key="site_id, sheet_id, analyte_number",
        has_rowid=False,
    )


def _judgement_tables() -> None:
    make(
        "assessment",
        "site_id INT, id KEY, sample_id KEY, made_at MOMENT, limit_set_number INT?, "
        "program_version TEXT, severity INT, trust INT, reasons TEXT='{}', "
        "inputs_digest TEXT, superseded_by KEY?",
        parent("sample_id", "sample"),
        parent("superseded_by", "assessment", is_deferred=True),
        catalogue("limit_set_number", "limit_set.number"),
        between("severity", -1, 3),
        between("trust", 0, 2),
    )
    index("assessment", "site_id, sample_id", where="superseded_by IS NULL")
    # Without it each new row would search the whole table for rows that await it.
    index("assessment", "site_id, superseded_by")
    make(
        "action",
        "site_id INT, id KEY, compartment_id KEY, sample_id KEY?, assessment_id KEY?, "
        "kind TEXT, owner TEXT='', due_on DATE?, due_hours REAL?, status TEXT, "
        "done_at MOMENT?, note TEXT=''",
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        parent("assessment_id", "assessment"),
        one_of("status", "proposed open done dropped"),
        stamps=EDITED,
    )
    index("action", "site_id, compartment_id")
    make(
        "finding",
        "site_id INT, id KEY, action_id KEY, result TEXT, part TEXT='', note TEXT='', "
        "cost REAL?, found_on DATE",
        parent("action_id", "action"),
        one_of(
            "result",
            "fault_confirmed wear_but_serviceable nothing_found sampling_error "
            "laboratory_error keying_error wrong_fluid could_not_look",
        ),
        stamps=MADE,
    )
    index("finding", "site_id, action_id")
    make(
        "audit_trail",
        "site_id INT, place INT, at MOMENT, who TEXT, what TEXT, old TEXT?, new TEXT?, "
        "previous_hash TEXT, hash TEXT",
        key="site_id, place",
    )


def _derived_tables() -> None:
    make(
        "history_block",
        "site_id INT, compartment_id KEY, block BLOB",
        parent("compartment_id", "compartment"),
        key="site_id, compartment_id",
    )
    make(
        "current_condition",
        "site_id INT, compartment_id KEY, sample_id KEY?, severity INT, trust INT, "
        "taken_on DATE?, true_hours REAL?, fluid_hours REAL?, direction INT=0, "
        "previous_severity INT?, reasons TEXT='{}', headline TEXT='', assessed_at MOMENT?, "
        "first_seen_on DATE?",
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        between("severity", -1, 3),
        between("previous_severity", -1, 3),
        between("trust", 0, 2),
        between("direction", -1, 1),
        key="site_id, compartment_id",
    )
    make(
        "machine_usage",
        "site_id INT, machine_id KEY, hours_now REAL, as_of DATE, hours_per_day REAL, "
        "hours_per_day_spread REAL, readings INT=0",
        parent("machine_id", "machine"),
        key="site_id, machine_id",
    )


def _guard_audit_trail() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for change in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER audit_trail_no_{change.lower()} BEFORE {change} ON audit_trail "
                "BEGIN SELECT RAISE(ABORT, 'the audit trail is append only'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'the audit trail is append only'; END $$"
    )
    for change in ("UPDATE", "DELETE", "TRUNCATE"):
        op.execute(
            f"CREATE TRIGGER audit_trail_no_{change.lower()} BEFORE {change} ON audit_trail "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
