"""Intervals as they held, planned fluid changes, and visit sheets that are half keyed.

Expands: new tables and new columns that may be empty.
"""

from alembic import op

from fluiddesk.storage.migrations.table_maker import EDITED, MADE, index, make, parent

revision = "r0004"
down_revision = "r0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the two columns of a box, then the tables that hang on boxes and visits."""
    _add_positive("change_interval_hours", "real")
    _add_positive("change_interval_days", "integer")
    make(
        "interval_change",
        "site_id INT, id KEY, compartment_id KEY, valid_from DATE, old_hours REAL?, "
        "old_days INT?, new_hours REAL?, new_days INT?, why TEXT='', approved_by TEXT=''",
        parent("compartment_id", "compartment"),
        stamps=MADE,
    )
    index("interval_change", "site_id, compartment_id, valid_from")
    make(
        "taking_draft",
        "site_id INT, visit_id KEY, cells TEXT='{}', dropped BOOL=false",
        parent("visit_id", "visit"),
        key="site_id, visit_id",
        stamps=EDITED,
    )


def downgrade() -> None:
    """Refuse: the way back is the backup made before the upgrade."""
    raise NotImplementedError("the way back is the copy made before the upgrade")


def _add_positive(column: str, word: str) -> None:
    """Add a column to the boxes that may be empty and is else a number above 0."""
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    real = "DOUBLE" if is_sqlite else "DOUBLE PRECISION"
    rules = [f"CONSTRAINT ck_compartment_{column}_positive CHECK ({column} > 0)"]
    if is_sqlite:
        name = f"ck_compartment_{column}_is_{word}"
        rules.append(f"CONSTRAINT {name} CHECK (typeof({column}) IN ('{word}', 'null'))")
    elif word == "real":
        rules.append(f"CONSTRAINT ck_compartment_{column}_is_number CHECK ({column} <> 'NaN')")
    kind, listed = real if word == "real" else "INTEGER", "\n\t".join(rules)
    op.execute(f"ALTER TABLE compartment ADD COLUMN {column} {kind}\n\t{listed}\n")
