"""Limits of every kind and their versions, forecasts, keyed results, the sampling programme.

Expands: new tables and new columns with a default. The rule on the kinds of limits grows, for which
SQLite copies that one small table.
"""

import sqlalchemy as sa
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

revision = "r0003"
down_revision = "r0002"
branch_labels = None
depends_on = None

_KINDS = (
    "level change change_percent rate_per_100h left_right_ratio companion_ratio plain_ratio "
    "own_step percentile off_grade missing_test"
)
_REASONS = "routine resample post_change special duplicate reference storage"
_SPECIAL = (
    "after_act after_urgent component_fit before_change return_from_storage laboratory_asks "
    "resample other"
)
_STEPS = "issued taken handed_in shipped received reported keyed lost found void"
_LIMIT = (
    "limit_set_number INT, place INT, machine_kind TEXT='', model TEXT='', "
    "compartment_kind TEXT='', compartment TEXT='', fluid_class TEXT='', analyte TEXT, "
    "kind TEXT, direction TEXT, watch REAL?, act REAL?, urgent REAL?, source TEXT, set_by TEXT, "
    "boundary TEXT, group_name TEXT='', act_needs INT=1, urgent_needs INT=1, note TEXT='', "
    "is_off BOOL=false"
)
_LIMIT_SINCE = "companion TEXT='', least_change REAL?, off_until DATE?, derivation TEXT=''"


def upgrade() -> None:
    """Widen the limits, then add the tables in the order in which they refer to each other."""
    if op.get_bind().dialect.name == "sqlite":
        _limits_anew()
    else:
        _limits_in_place()
    _name_companions()
    _add("limit_set", "settings", "TEXT", default="'{}'")
    _add("limit_set", "based_on", "INTEGER", rule="integer")
    _rule_tables()
    _derived_tables()
    _keying_tables()
    _programme_tables()
    _custody_tables()


def downgrade() -> None:
    """Refuse: the way back is the backup made before the upgrade."""
    raise NotImplementedError("the way back is the copy made before the upgrade")


def _limits_anew() -> None:
    """SQLite cannot change a rule: the rows move to a table with the wider one."""
    names = [part.split(" ", 1)[0] for part in _LIMIT.split(", ")]
    before, after = (_table(name, names) for name in ("limit_row_before", "limit_row"))
    op.rename_table("limit_row", "limit_row_before")
    make(
        "limit_row",
        f"{_LIMIT}, {_LIMIT_SINCE}",
        catalogue("limit_set_number", "limit_set.number"),
        one_of("kind", _KINDS),
        one_of("direction", "up down"),
        one_of("boundary", "at beyond"),
        key="limit_set_number, place",
    )
    op.execute(after.insert().from_select(names, sa.select(before)))
    op.drop_table("limit_row_before")


def _name_companions() -> None:
    """The ratios stored so far were of one pair alone, and did not name its second part."""
    op.execute(
        "UPDATE limit_row SET companion = 'iron' "
        "WHERE kind = 'companion_ratio' AND analyte = 'ferrous_index' AND companion = ''"
    )


def _table(name: str, columns: list[str]) -> sa.TableClause:
    return sa.table(name, *(sa.column(one) for one in columns))


def _limits_in_place() -> None:
    listed = ", ".join(f"'{word}'" for word in _KINDS.split())
    name = "ck_limit_row_kind_known"
    op.execute(f"ALTER TABLE limit_row DROP CONSTRAINT {name}")
    op.execute(f"ALTER TABLE limit_row ADD CONSTRAINT {name} CHECK (kind IN ({listed}))")
    _add("limit_row", "companion", "TEXT", default="''")
    _add("limit_row", "least_change", "DOUBLE PRECISION", rule="number")
    _add("limit_row", "off_until", "DATE", rule="date")
    _add("limit_row", "derivation", "TEXT", default="''")


def _rule_tables() -> None:
    make(
        "interval_rule",
        "limit_set_number INT, place INT, machine_kind TEXT='', model TEXT='', "
        "compartment_kind TEXT='', compartment TEXT='', interval_hours REAL?, interval_days INT?, "
        "window_share REAL=0.1, convention TEXT='rolling', source TEXT, set_by TEXT, note TEXT=''",
        catalogue("limit_set_number", "limit_set.number"),
        one_of("convention", "rolling grid"),
        check("interval_hours_positive", "interval_hours > 0"),
        check("interval_days_positive", "interval_days > 0"),
        check("window_share_range", "window_share BETWEEN 0 AND 0.5"),
        key="limit_set_number, place",
    )


def _derived_tables() -> None:
    make(
        "verdict_block",
        "site_id INT, compartment_id KEY, block BLOB",
        parent("compartment_id", "compartment"),
        key="site_id, compartment_id",
    )
    make(
        "forecast",
        "site_id INT, id KEY, compartment_id KEY, sample_id KEY, made_at MOMENT, kind TEXT, "
        "analyte TEXT='', severity INT, bound REAL?, at_hours REAL, p10 REAL?, p50 REAL?, "
        "p90 REAL?, chance_before_due REAL?, why TEXT='', outcome TEXT='open', "
        "crossed_at_hours REAL?, marked_at MOMENT?, program_version TEXT, inputs_digest TEXT",
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        one_of("kind", "hours_left"),
        one_of("outcome", "open crossed not_crossed cut_off"),
        between("severity", -1, 3),
        check("chance_before_due_range", "chance_before_due BETWEEN 0 AND 1"),
        unique("site_id", "sample_id", "inputs_digest"),
    )
    index("forecast", "site_id, compartment_id")


def _keying_tables() -> None:
    make(
        "key_draft",
        "site_id INT, id KEY, bottle_code TEXT, sample_id KEY?, laboratory_code TEXT, "
        "report_number TEXT='', issue INT=1, state TEXT, cells TEXT='{}', second TEXT='{}', "
        "second_by TEXT='', note TEXT=''",
        catalogue("site_id", "site.site_id"),
        parent("sample_id", "sample"),
        catalogue("laboratory_code", "laboratory.code"),
        one_of("state", "open parked saved dropped"),
        stamps=EDITED,
    )
    index(
        "key_draft",
        "site_id, bottle_code, laboratory_code",
        where="state IN ('open', 'parked')",
    )
    make(
        "answered_warning",
        "site_id INT, id KEY, sheet_id KEY?, draft_id KEY?, analyte TEXT='', kind TEXT, "
        "told TEXT, answer TEXT, old_text TEXT='', new_text TEXT=''",
        catalogue("site_id", "site.site_id"),
        parent("sheet_id", "result_sheet"),
        parent("draft_id", "key_draft"),
        one_of("answer", "corrected confirmed parked"),
        stamps=MADE,
    )
    index("answered_warning", "site_id, sheet_id")
    index("answered_warning", "site_id, draft_id")
    make(
        "saved_layout",
        "code TEXT, name TEXT, laboratory_code TEXT?, document TEXT, retired BOOL=false",
        catalogue("laboratory_code", "laboratory.code"),
        key="code",
        stamps=EDITED,
    )
    make(
        "event_question",
        "site_id INT, id KEY, compartment_id KEY, sample_id KEY, told TEXT, answer TEXT='', "
        "event_id KEY?, answered_at MOMENT?, answered_by TEXT?",
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        parent("event_id", "compartment_event"),
        unique("site_id", "sample_id"),
        stamps=MADE,
    )


def _programme_tables() -> None:
    _add("machine", "area", "TEXT", default="''")
    make(
        "crew",
        "site_id INT, id KEY, name TEXT, hours_per_day REAL, retired BOOL=false",
        catalogue("site_id", "site.site_id"),
        unique("site_id", "name"),
        check("hours_per_day_range", "hours_per_day BETWEEN 0 AND 24"),
        stamps=EDITED,
    )
    make(
        "service_date",
        "site_id INT, id KEY, machine_id KEY, planned_on DATE, note TEXT='', dropped BOOL=false",
        parent("machine_id", "machine"),
        stamps=EDITED,
    )
    index("service_date", "site_id, machine_id, planned_on")
    make(
        "visit",
        "site_id INT, id KEY, machine_id KEY, planned_on DATE, state TEXT, crew_id KEY?, "
        "minutes REAL?, done_on DATE?, note TEXT=''",
        parent("machine_id", "machine"),
        parent("crew_id", "crew"),
        one_of("state", "planned issued done dropped"),
        stamps=EDITED,
    )
    index("visit", "site_id, machine_id")
    index("visit", "site_id, planned_on")
    make(
        "visit_box",
        "site_id INT, id KEY, visit_id KEY, compartment_id KEY, sample_id KEY?, place INT, "
        "reason TEXT, due_on DATE?, due_hours REAL?, outcome TEXT='open', why_not TEXT=''",
        parent("visit_id", "visit"),
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        one_of("reason", _REASONS),
        one_of("outcome", "open taken not_taken moved"),
        unique("site_id", "visit_id", "compartment_id", "reason"),
        stamps=EDITED,
    )
    index("visit_box", "site_id, compartment_id")
    index("visit_box", "site_id, sample_id")
    make(
        "special_interval",
        "site_id INT, id KEY, compartment_id KEY, sample_id KEY?, reason TEXT, "
        "interval_hours REAL?, interval_days INT?, valid_from DATE, ended_on DATE?, note TEXT=''",
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        one_of("reason", _SPECIAL),
        check("interval_hours_positive", "interval_hours > 0"),
        check("interval_days_positive", "interval_days > 0"),
        stamps=EDITED,
    )
    index("special_interval", "site_id, compartment_id")
    make(
        "due_note",
        "site_id INT, id KEY, compartment_id KEY, due_on DATE, due_hours REAL?, kind TEXT, "
        "reason TEXT, note TEXT='', voided_reason TEXT?",
        parent("compartment_id", "compartment"),
        one_of("kind", "missed excused"),
        one_of("reason", "machine_down no_access no_bottle forgotten weather sold standby other"),
        stamps=MADE,
    )
    index("due_note", "site_id, compartment_id, due_on")


def _custody_tables() -> None:
    make(
        "sample_taking",
        "site_id INT, sample_id KEY, visit_id KEY?, sampling_point_id KEY?, taken_at TEXT='', "
        "method TEXT, run_state TEXT='', flushed BOOL?, warm BOOL?, mixed BOOL?, "
        "fill_level TEXT='unknown', cap_marked BOOL?, litres_added REAL?, fluid_changed BOOL?, "
        "filter_changed BOOL?, meter_unreadable BOOL=false, taken_by TEXT, note TEXT=''",
        parent("sample_id", "sample"),
        parent("visit_id", "visit"),
        parent("sampling_point_id", "sampling_point"),
        one_of("method", "valve_probe vacuum_tube drain_stream unknown"),
        one_of("fill_level", "below_line above_line above_neck unknown"),
        check("litres_added_not_negative", "litres_added >= 0"),
        key="site_id, sample_id",
        stamps=EDITED,
    )
    make(
        "custody_step",
        "site_id INT, id KEY, bottle_code TEXT, step TEXT, at MOMENT, known_by TEXT, "
        "shipment_id KEY?, note TEXT='', voided_reason TEXT?",
        parent("bottle_code", "bottle", "code"),
        parent("shipment_id", "shipment"),
        one_of("step", _STEPS),
        one_of("known_by", "scanned typed assumed"),
        stamps=MADE,
    )
    index("custody_step", "site_id, bottle_code")
    index("custody_step", "site_id, step, at")
    _add("shipment", "tracking", "TEXT", default="''")
    _add("shipment", "manifest_count", "INTEGER", rule="integer")
    _add("shipment", "received_count", "INTEGER", rule="integer")
    _add("shipment", "note", "TEXT", default="''")


def _add(table: str, column: str, kind: str, *, default: str = "", rule: str = "") -> None:
    """Add one column: with a default it is never empty, without one it may be.

    ``rule``: the word for the check of its type, which SQLite alone needs but for numbers.
    """
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    line = f"ALTER TABLE {table} ADD COLUMN {column} {kind}"
    line += f" DEFAULT {default} NOT NULL" if default else ""
    checks = {
        "integer": f"typeof({column}) IN ('integer', 'null')" if is_sqlite else "",
        "number": "" if is_sqlite else f"{column} <> 'NaN'",
    }
    if condition := checks.get(rule, ""):
        line += f"\n\tCONSTRAINT ck_{table}_{column}_is_{rule} CHECK ({condition})\n"
    op.execute(line)
