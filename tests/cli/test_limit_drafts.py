"""`limits` from draft to in force: sets, check, export, import, compare, activate, discard."""

from pathlib import Path

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet, the_catalogue

STARTER = len(the_catalogue().starter_limits)


def test_that_a_set_goes_out_to_a_file_and_comes_back_as_a_draft(
    run: Run, fleet: Fleet, tmp_path: Path
):
    file = tmp_path / "mine.toml"
    out = run("limits", "export", "--out", file, "--database", fleet.address)
    assert out.code == Exit.OK
    assert f"Limit set 1 is written to {file}" in out.err
    taken = run("limits", "import", file, "--database", fleet.address, "--format", "json")
    assert taken.code == Exit.OK
    assert (taken.json["set"], taken.json["limits"]) == (2, STARTER)
    same = run("limits", "compare", 1, 2, "--database", fleet.address, "--format", "json")
    assert (same.code, same.json) == (Exit.OK, [])
    sets = run("limits", "sets", "--database", fleet.address, "--format", "json").json
    assert [(one["number"], one["state"], one["holds_today"]) for one in sets] == [
        (2, "Draft", False), (1, "In force", True),
    ]  # fmt: skip


def test_that_an_edited_file_shows_its_change_and_takes_force(
    run: Run, fleet: Fleet, tmp_path: Path
):
    file = tmp_path / "mine.toml"
    run("limits", "export", "--out", file, "--database", fleet.address)
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("watch = 60.0", "watch = 50.0", 1), encoding="utf-8")
    run("limits", "import", file, "--database", fleet.address)
    told = run("limits", "compare", 1, 2, "--database", fleet.address)
    assert "-> 50 / " in told.out
    asked = ("limits", "activate", 2, "--note", "a trial", "--database", fleet.address)
    done = run(*asked, "--from", "2026-04-01", "--format", "json")
    assert done.code == Exit.OK, done.err
    assert (done.json["valid_from"], done.json["retired"]) == ("2026-04-01", [1])
    assert "Limit set 2 is in force from 2026-04-01" in done.err
    again = run(*asked)
    assert again.code == Exit.BAD_DATA
    assert "Limit set 2 is in force and is not edited any more" in again.err


def test_that_a_bad_file_is_refused_with_each_problem_on_a_line(
    run: Run, fleet: Fleet, tmp_path: Path
):
    file = tmp_path / "bad.toml"
    file.write_text("format = 1\n[limit_set]\nname = 3\n[[limit]]\nx = 1\n", encoding="utf-8")
    told = run("limits", "import", file, "--database", fleet.address)
    assert told.code == Exit.BAD_DATA
    assert told.err.count("bad.toml: ") == len(told.err.splitlines())
    assert 'row 1, [[limit]] (line 4): "x" is no key of this table' in told.err
    assert run("limits", "sets", "--database", fleet.address, "--format", "json").json[1:] == []


def test_that_a_file_that_cannot_be_read_or_written_is_told(run: Run, fleet: Fleet, tmp_path: Path):
    missing = run("limits", "import", tmp_path / "no.toml", "--database", fleet.address)
    assert (missing.code, "There is no file" in missing.err) == (Exit.NO_INPUT, True)
    (tmp_path / "x.toml").write_bytes(b'format = 1\nname = "\xff"')
    odd = run("limits", "import", tmp_path / "x.toml", "--database", fleet.address)
    assert (odd.code, "byte 20 is no UTF-8" in odd.err) == (Exit.BAD_DATA, True)
    folder = run("limits", "export", "--out", tmp_path, "--database", fleet.address)
    assert folder.code == Exit.CANNOT_CREATE


def test_that_a_draft_is_made_checked_and_put_away(run: Run, fleet: Fleet):
    made = run("limits", "draft", "Second year", "--database", fleet.address, "--format", "json")
    assert made.json == [{"set": 2, "name": "Second year", "based_on": 1}]
    gone = run("limits", "discard", 2, "--database", fleet.address)
    assert (gone.code, "put away" in gone.err) == (Exit.OK, True)
    sets = run("limits", "sets", "--database", fleet.address, "--format", "json").json
    assert sets[0]["state"] == "Discarded"
    assert run("limits", "discard", 9, "--database", fleet.address).code == Exit.NO_INPUT


def test_that_limits_check_needs_attention_where_something_is_wrong(
    run: Run, fleet: Fleet, tmp_path: Path
):
    told = run("limits", "check", "--database", fleet.address, "--format", "json")
    is_open = any(not one["accepted"] for one in told.json)
    assert told.code == (Exit.ATTENTION if is_open else Exit.OK)
    assert 'Limit set 1 "Starter limits":' in told.err
    file = tmp_path / "sound.toml"
    file.write_text(
        'format = 1\n[limit_set]\nname = "Sound"\n[[limit]]\nanalyte = "iron"\nkind = "level"\n'
        'direction = "up"\nact = 90\nsource = "x"\nset_by = "Kim"\n',
        encoding="utf-8",
    )
    run("limits", "import", file, "--database", fleet.address)
    sound = run("limits", "check", 2, "--database", fleet.address, "--format", "json")
    assert (sound.code, sound.json) == (Exit.OK, [])
    shown = run("limits", "show", "--set", 2, "--database", fleet.address, "--format", "json")
    assert [line["act"] for line in shown.json] == [90.0]


def test_that_what_if_tells_counts_moves_and_budget(run: Run, fleet: Fleet, tmp_path: Path):
    file = tmp_path / "mine.toml"
    run("limits", "export", "--out", file, "--database", fleet.address)
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("watch = 60.0", "watch = 6.0", 1), encoding="utf-8")
    run("limits", "import", file, "--database", fleet.address)
    told = run("limits", "what-if", 2, "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK, told.err
    answer = told.json
    assert sum(answer["before"].values()) == sum(answer["after"].values()) == len(fleet.boxes())
    assert set(answer["before"]) == {"No verdict", "Normal", "Watch", "Act", "Urgent"}
    assert len(answer["months"]) == 13
    assert set(answer["budget_after"]) == {
        "healthy", "flagged", "measured", "low", "high", "computed", "per_month",
    }  # fmt: skip
    assert "would move" in told.err
    table = run("limits", "what-if", 2, "--database", fleet.address, "--format", "csv")
    assert table.out.splitlines()[0] == "site,machine,compartment,sampled_on,before,after,why"
    assert len(table.out.splitlines()) == 1 + len(answer["moves"])
    assert run("limits", "what-if", 9, "--database", fleet.address).code == Exit.NO_INPUT


def test_that_derive_shows_own_figures_beside_the_present_limits(run: Run, fleet: Fleet):
    asked = ("limits", "derive", "--kind", "engine", "--analyte", "iron", "--rounds", 20)
    told = run(*asked, "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK, told.err
    [row] = told.json
    assert (row["present_watch"], row["present_act"]) == (60.0, 100.0)
    assert row["watch"] is None
    assert row["why"].startswith("Not enough: ")
    assert [bound["percent"] for bound in row["bounds"]] == [98.0, 99.5, 99.9]
    run("limits", "draft", "Own", "--database", fleet.address)
    taken = run(*asked, "--into", 2, "--database", fleet.address)
    assert (taken.code, "0 rows taken into draft 2" in taken.err) == (Exit.OK, True)
    unknown = run("limits", "derive", "--analyte", "gold", "--database", fleet.address)
    assert (unknown.code, "gold" in unknown.err) == (Exit.BAD_DATA, True)


def test_that_limits_holds_names_the_limit_and_what_it_overrode(
    run: Run, fleet: Fleet, tmp_path: Path
):
    [box, *_] = fleet.boxes("engine")
    file = tmp_path / "mine.toml"
    run("limits", "export", "--out", file, "--database", fleet.address)
    with file.open("a", encoding="utf-8") as grown:
        grown.write(
            f'\n[[limit]]\ncompartment = "{box.compartment_id.hex()}"\nanalyte = "iron"\n'
            'kind = "level"\ndirection = "up"\nact = 95\nsource = "x"\nset_by = "Kim"\n'
            '\n[[interval]]\ncompartment_kind = "engine"\ninterval_hours = 300\nsource = "x"\n'
            'set_by = "Kim"\n'
        )
    run("limits", "import", file, "--database", fleet.address)
    done = run(
        "limits", "activate", 2, "--from", "2026-06-01", "--note", "x", "--database", fleet.address
    )
    assert done.code == Exit.OK, done.err
    asked = ("limits", "holds", box.machine, "engine", "--database", fleet.address)
    told = run(*asked, "--format", "json")
    assert told.code == Exit.OK, told.err
    [iron] = [one for one in told.json if (one["analyte"], one["kind"]) == ("iron", "level")]
    assert (iron["act"], iron["watch"], iron["since"]) == (95.0, None, "2026-06-01")
    assert iron["overrode"] == ["engine: 60 / 100 / 150"]
    assert "Interval: 300 h, window 10 %, rolling, by Kim." in told.err
    before = run(*asked, "--on", "2026-05-31", "--format", "json").json
    [iron] = [one for one in before if (one["analyte"], one["kind"]) == ("iron", "level")]
    assert (iron["act"], iron["overrode"]) == (100.0, [])
    assert run(*asked, "--on", "yesterday").code == Exit.USAGE


def test_that_the_shipped_set_passes_its_own_check_and_tells_what_is_accepted(
    run: Run, fleet: Fleet
):
    told = run("limits", "check", "1", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert told.err.strip() == (
        'Limit set 1 "Starter limits": 0 problems, 6 more accepted with a reason.'
    )
    assert all("ASTM D5185" in one["accepted"] for one in told.json)
    assert len(told.json) == 6


def test_that_groups_are_listed_with_what_they_lack_and_all_is_not_narrowed(run: Run, fleet: Fleet):
    asked = ("limits", "derive", "--database", fleet.address, "--format", "json")
    told = run(*asked, "--groups")
    assert told.code == Exit.OK
    assert told.json
    assert all(one["ready"] or "of at least" in one["why"] for one in told.json)
    every = run(*asked, "--all", "--rounds", "0")
    assert every.json == run(*asked, "--rounds", "0").json
    refused = run(*asked, "--all", "--kind", "engine")
    assert refused.code != Exit.OK
    assert "Leave one of them out" in refused.err


def test_that_the_set_in_force_holds_from_an_earlier_day_by_a_copy(run: Run, fleet: Fleet):
    known = ("--database", fleet.address, "--format", "json")
    assert run("limits", "draft", "Same again", *known).code == Exit.OK
    today = run("limits", "activate", "2", "--note", "trial", *known)
    assert today.json["changed"] == 0
    assert "nobody moves until new ones come" in today.err
    done = run(
        "limits", "hold-earlier", "2", "--from", "2026-05-01", "--note", "New laboratory", *known
    )
    assert done.code == Exit.OK
    assert (done.json["set"], done.json["valid_from"]) == (3, "2026-05-01")
    refused = run("limits", "hold-earlier", "2", "--from", "2026-04-01", "--note", "x", *known)
    assert "Only a set in force" in refused.err
