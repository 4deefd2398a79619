"""Severities against bands that public documents give."""

import tomllib

import pytest

from fluiddesk import assets
from fluiddesk.domain.limits.limit_set import limits_in_force
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import load_catalogue, starter_limit
from tests.domain.reference.reading import row_name, worked_examples
from tests.makers import judge_values, make_box

CATALOGUE = load_catalogue()
FILE = assets.resource("catalogue") / "limit_sets" / "published.toml"
BANDS = [
    starter_limit(table, compartment_kind=kind)
    for table in tomllib.loads(FILE.read_text(encoding="utf-8"))["limit"]
    for kind in table["compartment_kinds"]
]
KINDS = {limit.analyte: limit.scope.compartment_kind for limit in BANDS}


@pytest.mark.parametrize("row", worked_examples("severities"), ids=row_name)
def test_that_a_published_band_gives_its_severity(row):
    code = row["analyte"]
    box = make_box(compartment_kind=KINDS[code])
    held = [limit for limit in limits_in_force(BANDS, box) if limit.analyte == code]
    judged = judge_values([float(row["value"])], *held, analyte=CATALOGUE.analytes[code])
    assert Severity(int(judged.severity[0])).word == row["expected"]
