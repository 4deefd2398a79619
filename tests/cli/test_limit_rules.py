"""`limits show`: the fixed keys, filters, forms."""

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet, the_catalogue


def test_that_limits_show_has_the_fixed_keys(run: Run, fleet: Fleet):
    told = run("limits", "show", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert len(told.json) == len(the_catalogue().starter_limits)
    for line in told.json:
        assert {
            "scope", "analyte", "kind", "direction", "watch", "act", "urgent", "source", "set_by",
        } <= set(line)  # fmt: skip
        assert line["source"]
        assert line["set_by"]
    assert told.err.startswith('Limit set 1 "Starter limits" in force since')


def test_that_limits_are_found_by_scope_and_analyte(run: Run, fleet: Fleet):
    asked = ("limits", "show", "--database", fleet.address, "--format", "json")
    lines = run(*asked, "--scope", "engine", "--analyte", "iron").json
    assert {line["analyte"] for line in lines} == {"iron"}
    levels = [line for line in lines if (line["scope"], line["kind"]) == ("engine", "level")]
    assert [(one["watch"], one["act"], one["urgent"]) for one in levels] == [(60, 100, 150)]
    nothing = run(*asked, "--scope", "egnine")
    assert (nothing.json, nothing.code) == ([], Exit.NO_INPUT)
    assert "There are limits for: axle" in nothing.err


def test_that_a_missing_bound_is_null_in_json_and_blank_in_csv(run: Run, fleet: Fleet):
    asked = ("limits", "show", "--database", fleet.address, "--scope", "fuel tank")
    lines = run(*asked, "--format", "json").json
    missing = [place for place, line in enumerate(lines) if line["urgent"] is None]
    assert missing
    table = run(*asked, "--format", "csv").out.splitlines()
    column = table[0].split(",").index("urgent")
    assert table[1 + missing[0]].split(",")[column] == ""
