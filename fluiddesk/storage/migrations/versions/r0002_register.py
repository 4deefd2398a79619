"""The register: test lists, laboratories in full, transfers, papers, samples of no compartment.

Expands only: new tables, and new columns with a default, so that every row there keeps its meaning.
"""

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

revision = "r0002"
down_revision = "r0001"
branch_labels = None
depends_on = None

_REASONS = "routine resample post_change special duplicate reference storage"
_STATES = "planned issued taken shipped received reported not_taken lost void"
_OWNERS = "machine compartment sampling_point sample sheet fluid_batch fluid_tank fluid_sample"


def upgrade() -> None:
    """Add tables and columns, in the order in which they refer to each other."""
    _catalogue_tables()
    _fleet_tables()
    _outside_tables()
    _paper_tables()


def downgrade() -> None:
    """Refuse: the way back is the backup made before the upgrade."""
    raise NotImplementedError("the way back is the copy made before the upgrade")


def _catalogue_tables() -> None:
    _add("fluid", "retired", "BOOL", default="false")
    _add("laboratory", "site_name", "TEXT", default="''")
    _add("laboratory", "layout", "TEXT", default="''")
    _add("laboratory", "methods", "TEXT", default="'{}'")
    _add("laboratory", "lane_days", "INT", rule=("lane_days_range", "lane_days BETWEEN 0 AND 365"))
    _add(
        "laboratory",
        "turnaround_days",
        "INT",
        rule=("turnaround_days_range", "turnaround_days BETWEEN 0 AND 365"),
    )
    _add("laboratory", "retired", "BOOL", default="false")
    _add_edited("laboratory")
    make(
        "test_list",
        "code TEXT, name TEXT, note TEXT='', retired BOOL=false",
        key="code",
        stamps=EDITED,
    )
    make(
        "test_list_row",
        "test_list_code TEXT, place INT, analyte TEXT",
        catalogue("test_list_code", "test_list.code"),
        unique("test_list_code", "analyte"),
        key="test_list_code, place",
    )
    make(
        "test_list_kind",
        "compartment_kind TEXT, test_list_code TEXT",
        catalogue("test_list_code", "test_list.code"),
        key="compartment_kind",
    )
    make(
        "record_change",
        "site_id INT, place INT, record_kind TEXT, record_key TEXT, undoes INT?",
        key="site_id, place",
    )
    index("record_change", "site_id, record_kind, record_key")


def _fleet_tables() -> None:
    _add("compartment", "test_list_code", "TEXT", target="test_list (code)")
    _add("sample", "test_list_code", "TEXT", target="test_list (code)")
    _add(
        "sample",
        "origin",
        "TEXT",
        default="'plan'",
        rule=("origin_known", "origin IN ('plan', 'walk_up', 'spare_label', 'past')"),
    )
    _add("result_sheet", "rejected_reason", "TEXT", default="''")
    _add_edited("fluid_batch")
    index("component_fit", "site_id, serial")
    make(
        "machine_transfer",
        "site_id INT, id KEY, machine_id KEY, to_site_id INT, to_machine_id KEY, moved_on DATE, "
        "note TEXT=''",
        parent("machine_id", "machine"),
        catalogue("to_site_id", "site.site_id"),
        check("to_another_site", "to_site_id <> site_id"),
        stamps=MADE,
    )
    index("machine_transfer", "site_id, machine_id")
    make(
        "fluid_tank",
        "site_id INT, id KEY, code TEXT, fluid_code TEXT, capacity_l REAL?, location TEXT='', "
        "retired BOOL=false",
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        unique("site_id", "code"),
        check("capacity_positive", "capacity_l > 0"),
        stamps=EDITED,
    )


def _outside_tables() -> None:
    make(
        "past_row",
        "site_id INT, intake_id KEY, row_number INT, machine_printed TEXT='', "
        "box_printed TEXT='', sampled_on DATE?, meter_printed REAL?, sheet TEXT, "
        "candidates TEXT='[]', settled_at MOMENT?, settled_by TEXT?, outcome TEXT='', "
        "sample_id KEY?",
        parent("intake_id", "intake"),
        parent("sample_id", "sample"),
        key="site_id, intake_id, row_number",
    )
    index("past_row", "site_id, sample_id")
    make(
        "fluid_sample",
        "site_id INT, id KEY, bottle_code TEXT='', kind TEXT, fluid_code TEXT, batch_id KEY?, "
        "tank_id KEY?, container TEXT='', reason TEXT, state TEXT, taken_on DATE?, "
        "taken_by TEXT='', note TEXT='', duplicate_of KEY?, test_list_code TEXT?",
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        catalogue("test_list_code", "test_list.code"),
        parent("batch_id", "fluid_batch"),
        parent("tank_id", "fluid_tank"),
        parent("duplicate_of", "fluid_sample", is_deferred=True),
        one_of("kind", "drum tank new_fluid check"),
        one_of("reason", _REASONS),
        one_of("state", _STATES),
        stamps=EDITED,
    )
    index("fluid_sample", "site_id, bottle_code", where="bottle_code <> ''")
    index("fluid_sample", "site_id, batch_id")
    index("fluid_sample", "site_id, tank_id")
    make(
        "fluid_sheet",
        "site_id INT, id KEY, fluid_sample_id KEY, laboratory_code TEXT, report_number TEXT, "
        "issue INT, received_on DATE?, tested_on DATE?, issued_on DATE?, remark TEXT='', "
        "rejected_reason TEXT='', intake_id KEY?, is_current BOOL=true, superseded_by KEY?, "
        "voided_reason TEXT?",
        parent("fluid_sample_id", "fluid_sample"),
        parent("intake_id", "intake"),
        parent("superseded_by", "fluid_sheet", is_deferred=True),
        catalogue("laboratory_code", "laboratory.code"),
        check("current_not_voided", "NOT is_current OR voided_reason IS NULL"),
        check("current_not_superseded", "NOT is_current OR superseded_by IS NULL"),
        stamps=MADE,
    )
    index("fluid_sheet", "site_id, fluid_sample_id", where="is_current")
    index("fluid_sheet", "site_id, intake_id")
    index("fluid_sheet", "site_id, superseded_by")
    make(
        "fluid_reading",
        "site_id INT, sheet_id KEY, analyte_number INT, sign INT, value REAL?, printed TEXT, "
        "printed_unit TEXT, decimals INT?, detection_limit REAL?",
        parent("sheet_id", "fluid_sheet"),
        catalogue("analyte_number", "analyte.number"),
        between("sign", 0, 6),
        check("value_fits_sign", "(value IS NULL) = (sign >= 5)"),
        key="site_id, sheet_id, analyte_number",
        has_rowid=False,
    )


def _paper_tables() -> None:
    make(
        "attachment",
        "site_id INT, id KEY, owner_kind TEXT, owner_id KEY, file_name TEXT, sha256 TEXT, "
        "bytes INT, media_type TEXT, note TEXT='', voided_reason TEXT?",
        catalogue("site_id", "site.site_id"),
        check("sha256_length", "length(sha256) = 64"),
        one_of("owner_kind", _OWNERS),
        stamps=MADE,
    )
    index("attachment", "site_id, owner_id")
    make(
        "remark",
        "site_id INT, id KEY, owner_kind TEXT, owner_id KEY, words TEXT, voided_reason TEXT?",
        catalogue("site_id", "site.site_id"),
        one_of("owner_kind", _OWNERS),
        stamps=MADE,
    )
    index("remark", "site_id, owner_id")


def _add_edited(table: str) -> None:
    """Make the rows of a table count their versions."""
    _add(table, "version", "INT", default="1")
    _add(table, "changed_at", "MOMENT")
    _add(table, "changed_by", "TEXT")


def _add(
    table: str,
    column: str,
    word: str,
    *,
    default: str = "",
    rule: tuple[str, str] | None = None,
    target: str = "",
) -> None:
    """Add one column: with a default it is never empty, without one it may be.

    Both databases take this spelling, and SQLite then leaves the table where it is: rebuilding it,
    as for any other change, would copy all its rows.
    """
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    types = {
        "INT": ("INTEGER", "integer", f"typeof({column}) IN ('integer', 'null')"),
        "BOOL": ("BOOLEAN", "boolean", f"{column} IN (0, 1)"),
        "TEXT": ("TEXT", "", ""),
        "MOMENT": ("TEXT", "moment", f"typeof({column}) IN ('text', 'null')"),
    }
    kind, rule_word, type_rule = types[word]
    if word == "MOMENT" and not is_sqlite:
        kind = "TIMESTAMP WITH TIME ZONE"
    lines = [f"ALTER TABLE {table} ADD COLUMN {column} {kind}"]
    lines += [f"DEFAULT {default} NOT NULL"] if default else []
    if target:
        lines.append(f"CONSTRAINT fk_{table}_{column} REFERENCES {target}")
    checks = [(f"{column}_is_{rule_word}", type_rule)] if is_sqlite and type_rule else []
    checks += [rule] if rule else []
    lines += [f"CONSTRAINT ck_{table}_{name} CHECK ({text})" for name, text in checks]
    # Each rule on a line of its own: SQLite keeps the text, and rules are read back by line.
    op.execute("\n\t".join(lines) + "\n")
