"""Limit files: lossless out and in, refused whole with every problem, documented as they are."""

import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk import assets
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import (
    COMPANION_KINDS,
    Limit,
    LimitKind,
    LimitSet,
    Scope,
)
from fluiddesk.services.limit_rules.facts import RulesRefusedError
from fluiddesk.services.limit_rules.file_fields import (
    INTERVAL_FIELDS,
    LIMIT_FIELDS,
    SET_FIELDS,
    FileField,
)
from fluiddesk.services.limit_rules.file_reading import limit_set_from_text
from fluiddesk.services.limit_rules.file_writing import limit_file_text
from fluiddesk.services.limit_rules.limit_file import export_set, import_set
from fluiddesk.services.limit_rules.row_checks import Known
from fluiddesk.services.limit_rules.versions import read_set
from tests.fleets import NOW, Fleet, differing_tables, the_catalogue
from tests.makers import make_limit, make_set

KNOWN = Known(catalogue=the_catalogue())
TODAY = date(2026, 6, 30)

words = st.text(max_size=20)
said = st.text(min_size=1, max_size=20).filter(str.strip)
finite = st.floats(allow_nan=False, allow_infinity=False)
codes = st.sampled_from(sorted(the_catalogue().analytes))
boxes = st.sampled_from(["", *the_catalogue().compartment_kinds])
scopes = st.builds(
    Scope,
    machine_kind=st.sampled_from(["", *the_catalogue().machine_kinds]),
    model=words,
    compartment_kind=boxes,
    compartment=words,
    fluid_class=st.sampled_from(["", "engine_oil"]),
)


@st.composite
def limits(draw: st.DrawFn) -> Limit:
    """Any limit that a set may hold."""
    direction = draw(st.sampled_from(["up", "down"]))
    bounds = draw(st.lists(finite, min_size=3, max_size=3, unique=True))
    watch, act, urgent = sorted(bounds, reverse=direction == "down")
    kind = draw(st.sampled_from(sorted(LimitKind)))
    companion = "iron" if kind in COMPANION_KINDS else ""
    return Limit(
        scope=draw(scopes),
        analyte="copper" if companion else draw(codes),
        kind=kind,
        direction=direction,
        watch=draw(st.sampled_from([None, watch])),
        act=act,
        urgent=draw(st.sampled_from([None, urgent])),
        source=draw(said),
        set_by=draw(said),
        boundary=draw(st.sampled_from(["at", "beyond"])),
        group=draw(st.sampled_from(["additives", "wear"])),
        act_needs=draw(st.integers(1, 5)),
        urgent_needs=draw(st.integers(1, 5)),
        note=draw(said),
        is_off=draw(st.booleans()),
        companion=companion,
        least_change=draw(st.none() | st.floats(0, 1e9)),
        off_until=draw(st.dates()),
        derivation=draw(words),
    )


intervals = st.builds(
    IntervalRule,
    scope=scopes.map(lambda scope: replace(scope, fluid_class="")),
    interval_hours=st.none() | st.floats(0.5, 1e5),
    interval_days=st.integers(1, 4000),
    source=said,
    set_by=said,
    window_share=st.floats(0.01, 0.5),
    convention=st.sampled_from(["rolling", "grid"]),
    note=words,
)


def read(text: str) -> LimitSet:
    return limit_set_from_text(text, file="mine.toml", known=KNOWN, today=TODAY)


@given(
    rows=st.lists(limits(), min_size=1, max_size=4, unique_by=lambda row: (row.scope, row.key)),
    rules=st.lists(intervals, max_size=3, unique_by=lambda rule: rule.scope),
    name=said,
    note=words,
    share=st.floats(0.5, 1.0),
)
def test_that_what_is_written_is_read_back_as_it_was(rows, rules, name, note, share):
    made = make_set(
        rows, name=name, note=note, intervals=tuple(rules), settings={"clears_at": share}
    )
    found = read(limit_file_text(made))
    assert found.limits == made.limits
    assert found.intervals == made.intervals
    assert (found.name, found.note, found.settings) == (name, note, {"clears_at": share})


def test_that_an_exported_set_is_imported_as_an_equal_draft(either_fleet: Fleet):
    text = export_set(either_fleet.place, 1)
    made = import_set(either_fleet.place, text, file="starter.toml", today=TODAY, moment=NOW)
    old, new = (read_set(either_fleet.place, number).limit_set for number in (1, made.number))
    assert (made.number, made.name, made.limits) == (2, old.name, len(old.limits))
    assert new.limits == old.limits
    assert (new.author, new.based_on) == ("Kim", 1)
    assert [problem.text for problem in made.problems if problem.stops] == []
    assert either_fleet.check() == []


def test_that_a_single_box_is_named_in_a_comment(fleet: Fleet):
    [box, *_] = fleet.boxes("engine")
    row = make_limit(scope=Scope(compartment=box.compartment_id.hex()))
    text = limit_file_text(
        make_set([row]), {box.compartment_id.hex(): "North\npit, [[limit]], Engine"}
    )
    assert "# North pit, [[limit]], Engine\ncompartment = " in text
    assert read(text).limits == (row,)


BAD = """format = 1
colour = "red"

[limit_set]
note = 5

[settings]
clears_at = 7

[[limit]]
analyte = "iron"
kind = "levle"
direction = "up"
act = "90"
source = "x"
set_by = "Kim"

[[limit]]
analyt = "iron"
kind = "level"
direction = "up"
act = true
source = "x"
set_by = "Kim"
off_until = 2026-01-01T10:00:00

[[interval]]
interval_days = 3.5
source = "x"
"""


def test_that_a_bad_file_is_refused_whole_with_every_problem(fleet: Fleet):
    before = fleet.dump()
    with pytest.raises(RulesRefusedError) as refused:
        import_set(fleet.place, BAD, file="mine.toml", today=TODAY, moment=NOW)
    told = [problem.text for problem in refused.value.problems]
    expected = [
        '[limit_set]: "colour" is no part of a limit file.',
        "[limit_set]: name is missing. Give text in quotes.",
        "[limit_set]: note reads 5. Give text in quotes.",
        "row 1, [[limit]] (line 10): kind reads 'levle'. Give one of level,",
        "row 1, [[limit]] (line 10): act reads '90'. Give a number without quotes.",
        'row 2, [[limit]] (line 18): "analyt" is no key of this table. Its keys are: machine_kind',
        "row 2, [[limit]] (line 18): analyte is missing. Give text in quotes.",
        "row 2, [[limit]] (line 18): act reads True. Give a number without quotes.",
        "row 2, [[limit]] (line 18): off_until reads datetime.datetime(2026, 1, 1, 10, 0).",
        "row 1, [[interval]] (line 27): interval_days reads 3.5. Give a whole number",
        "row 1, [[interval]] (line 27): set_by is missing.",
        "[settings]: clears_at is 7. Give a number from 0.5 to 1.",
    ]
    assert len(told) == len(expected)
    for one, begins in zip(told, expected, strict=True):
        assert one.startswith(begins)
    assert str(refused.value).count("mine.toml: ") == len(expected)
    assert differing_tables(before, fleet.dump()) == set()


def test_that_rows_that_contradict_themselves_are_refused_by_row_and_line():
    rows = [make_limit(bounds=(9, 5, 1)), make_limit("gold"), make_limit("copper"),
            make_limit("copper")]  # fmt: skip
    with pytest.raises(RulesRefusedError) as refused:
        read(limit_file_text(make_set(rows)))
    told = [(problem.place, problem.text) for problem in refused.value.problems]
    assert [place for place, _ in told] == [0, 1, 3]
    assert re.search(
        r"row 1, \[\[limit\]\] \(line \d+\): whole fleet, iron level up: Watch", told[0][1]
    )
    assert 'analyte "gold" is not in the catalogue' in told[1][1]
    assert "row 3 says the same thing" in told[2][1]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("format = 1\nname = \nx = 1", "line 2, column 8: Invalid value"),
        ("", "format is missing. This program reads format = 1"),
        ("format = 2", "format reads 2"),
        ("format = true", "format reads True"),
        ('format = 1\nlimit_set = "x"', "[limit_set]: The table is missing"),
        ('format = 1\n[limit_set]\nname = " "', "name is empty"),
        ('format = 1\nsettings = 3\n[limit_set]\nname = "x"', "[settings]: It is no table"),
        (
            'format = 1\nlimit = "x"\n[limit_set]\nname = "x"',
            "[limit]: It is no list of tables. Write [[limit]]",
        ),
        ('format = 1\n[limit_set]\nname = "x"', "The set holds no limits"),
        ('format = 1\n[limit_set]\nname = "x"\n[settings]\nspeed = 1', 'no setting "speed"'),
    ],
)
def test_that_each_fault_of_the_frame_is_told(text, told):
    with pytest.raises(RulesRefusedError, match=re.escape(told)):
        read(text)


def test_that_a_heading_inside_a_text_leads_no_line_astray():
    text = limit_file_text(make_set([make_limit(note="x"), make_limit("gold")]))
    shifted = text.replace('note = "x"', 'note = """\n[[limit]]\n"""')
    with pytest.raises(RulesRefusedError) as refused:
        read(shifted)
    assert "line" not in refused.value.problems[0].text


def documented(heading: str) -> list[tuple[str, str, str]]:
    text = Path(assets.resource("limit_files"), "README.md").read_text(encoding="utf-8")
    part = text.partition(f"## [{heading}]" if heading == "limit_set" else f"## [[{heading}]]")[2]
    rows = re.findall(r"^\| (\w+) \| ?([\w.]*) ?\| (\w+) \|", part.partition("\n## ")[0], re.M)
    return [row for row in rows if row[0] != "key"]


def told(field: FileField) -> tuple[str, str, str]:
    usual = "" if field.usual in (None, "") else str(field.usual)
    if field.kind == "yes":
        usual = usual.lower()
    is_plain = field.name == "number"
    return (field.name, "needed" if field.is_needed else "" if is_plain else usual, field.kind)


@pytest.mark.parametrize(
    ("heading", "fields"),
    [("limit_set", SET_FIELDS), ("limit", LIMIT_FIELDS), ("interval", INTERVAL_FIELDS)],
)
def test_that_the_document_lists_the_keys_as_the_program_reads_them(heading, fields):
    assert documented(heading) == [told(field) for field in fields]


def test_that_the_document_names_every_choice_and_its_example_can_be_read():
    text = Path(assets.resource("limit_files"), "README.md").read_text(encoding="utf-8")
    for field in (*LIMIT_FIELDS, *INTERVAL_FIELDS):
        if field.choices:
            assert f"one of {', '.join(field.choices)}" in text
    example = text.partition("```toml\n")[2].partition("```")[0]
    found = read(example)
    assert (len(found.limits), len(found.intervals)) == (1, 1)
