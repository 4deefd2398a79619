"""Layouts: what their files may say, how one is chosen, and how its columns are bound."""

from pathlib import Path

import pytest

from fluiddesk.assets import resource
from fluiddesk.domain.errors import OperatorError
from fluiddesk.intake.columns import bind_columns
from fluiddesk.intake.files import Row, open_lab_file
from fluiddesk.intake.layout_files import layout_from_text, load_layouts
from fluiddesk.intake.layouts import LabLayout, LayoutError, choose_layout
from fluiddesk.intake.problems import LabFileError, ProblemSeverity
from tests.intake.bench import LAB_FILES, analytes, bench_layout, read

SMALL = """
name = "small"
laboratory = "Somebody"
{top}
[columns]
bottle = ["Bottle", "Probe"]
[[results]]
headers = "Fe"
analyte = "iron"
unit = "mg/kg"
{end}
"""


def small(*, top: str = "", end: str = "") -> LabLayout:
    return layout_from_text(SMALL.format(top=top, end=end), origin="small.toml")


def row(*names: str, number: int = 1) -> Row:
    return Row("made.csv", "", number, names)


def bound(layout: LabLayout, *names: str, units: Row | None = None):
    return bind_columns(layout, row(*names), units=units, analytes=analytes())


@pytest.mark.parametrize(
    ("top", "end", "said"),
    [
        ("colour = 1", "", "unknown key colour"),
        ("[file]\nformat = 'x'", "", r"\[file\] has an unknown key format"),
        ("[file]\nkind = 'pdf'", "", "csv, xlsx or any"),
        ("[file]\ncode_page = 'cp9999'", "", "is not a code page"),
        ("[values]\ndecimal_mark = ';'", "", "decimal mark must be"),
        ("[values]\ndecimal_mark = ','\nthousands_mark = ','", "", "decimal mark must be"),
        ("[values]\nabsent = [1]", "", "is not a list of texts"),
        ("ignored = 7", "", "not iterable"),
        ("file = 7", "", "is not a layout"),
        ("= 7", "", "is not a layout"),
        ("", "[[results]]\nheaders = 'Cu'", "the key 'analyte' is missing"),
        ("", "[[results]]\nheaders = 'Cu'\nanalyte = 'copper'\nunit = 'stone'", "stone"),
        ("", "[[results]]\nheaders='I'\nsplit='iso4406'\nanalytes=['a']\nunit='code'", "three"),
        ("", "[[results]]\nheaders='I'\nsplit='nas'\nanalytes=['a']\nunit='code'", "three"),
        ("", "[[results]]\nheaders='I'\nanalyte='iron'\nunit='mg/kg'\nwhy=1", "unknown key why"),
    ],
)
def test_that_a_layout_file_that_says_nonsense_is_named_with_the_place(top, end, said):
    with pytest.raises(LayoutError, match=f"small.toml is not a layout: .*{said}|{said}"):
        small(top=top, end=end)


def test_that_a_layout_must_name_the_bottle():
    with pytest.raises(LayoutError, match="name no bottle"):
        layout_from_text('name = "x"\nlaboratory = "y"', origin="x.toml")


def test_that_headings_match_whatever_their_case_spaces_and_forms():
    assert small().fits(["  PROBE ", "fe"]) == 1.0
    assert bench_layout().fits(["Bottle", "VISC 40\N{DEGREE CELSIUS}"]) == 1.0


@pytest.mark.parametrize(
    "header",
    [[], ["", " "], ["Fe", "Cu"], ["Bottle", "Cu"], ["Bottle", "Fe", "a", "b", "c"]],
)
def test_that_a_layout_does_not_fit_without_bottle_results_and_half_the_headings(header):
    assert small().fits(header) == 0.0


def test_that_the_layout_is_chosen_only_when_exactly_one_fits():
    table = open_lab_file(LAB_FILES / "sound.csv")
    assert choose_layout([small(), bench_layout()], table).name == "bench"
    with pytest.raises(LabFileError, match=r"several layouts fit \(bench, bench\)"):
        choose_layout([bench_layout(), bench_layout()], table)
    with pytest.raises(LabFileError, match="Known are none"):
        choose_layout([], table)


def test_that_a_layout_for_workbooks_is_not_tried_on_text(tmp_path):
    path = tmp_path / "made.csv"
    path.write_text("Bottle;Fe\n26K-0042-Z;12\n", encoding="utf-8")
    with pytest.raises(LabFileError, match="no layout fits"):
        choose_layout([small(top="[file]\nkind = 'xlsx'")], open_lab_file(path))


def test_that_the_row_of_headings_can_be_fixed(tmp_path):
    path = tmp_path / "made.csv"
    path.write_text("Bottle;Fe\nBottle;Fe\n26K-0042-Z;12\n", encoding="utf-8")
    layout = small(top="[rows]\nheader = 2")
    assert [sheet.row for sheet in read(path, layouts=[layout]).accepted] == [3]


def test_that_two_files_of_one_name_are_refused(tmp_path):
    for name in ("a.toml", "b.toml"):
        (tmp_path / name).write_text(SMALL.format(top="", end=""), encoding="utf-8")
    with pytest.raises(LayoutError, match='describe a layout "small"'):
        load_layouts(tmp_path)


def test_that_every_bundled_layout_binds_to_the_catalogue():
    layouts = {layout.name: layout for layout in load_layouts(resource("lab_layouts"))}
    assert set(layouts) == {"lab_a", "lab_b", "plain"}
    for layout in layouts.values():
        names = [names[0] for names in layout.roles.values()]
        names += [column.headers[0] for column in layout.results]
        columns = bound(layout, *names)
        assert columns.problems == ()
        assert len(columns.results) == len(layout.results)


def test_that_the_plain_layout_takes_its_unit_from_the_heading():
    (plain,) = (
        layout for layout in load_layouts(resource("lab_layouts")) if layout.name == "plain"
    )
    columns = bound(plain, "bottle", "Iron [mg/kg]", "water [% mass]", "ph []", "colour [RAL]", "x")
    assert [result.columns[0].analyte.code for result in columns.results] == ["iron", "water", "ph"]
    assert columns.results[1].columns[0].to_canonical(0.05) == 500
    assert [problem.column for problem in columns.problems] == ["colour [RAL]", "x"]
    with pytest.raises(LayoutError, match=r'column "iron .h.", analyte iron: h is a unit of'):
        bound(plain, "bottle", "iron [h]")


def test_that_a_layout_naming_no_known_analyte_is_refused():
    end = "[[results]]\nheaders = 'X'\nanalyte = 'unobtainium'\nunit = 'mg/kg'"
    with pytest.raises(LayoutError, match='no analyte "unobtainium"'):
        bound(small(end=end), "Bottle", "X")


def test_that_a_share_by_volume_needs_densities_to_become_one_by_mass():
    # 0.10 % by volume of water (0.998 kg/L) in oil of 0.870 kg/L: 1147 mg/kg by the density ratio.
    end = "[[results]]\nheaders = 'W'\nanalyte = 'water'\nunit = '% vol'\n"
    with pytest.raises(LayoutError, match="share by volume"):
        bound(small(end=end), "Bottle", "W")
    dense = small(end=end + "part_density = 0.998\nfluid_density = 0.870")
    (result,) = bound(dense, "Bottle", "W").results
    assert result.columns[0].to_canonical(0.10) == pytest.approx(1147, abs=0.5)


def test_that_a_row_of_units_that_says_another_unit_keeps_the_column_out():
    layout = small(top="[rows]\nunits_below_header = true")
    good = bound(layout, "Bottle", "Fe", units=row("", "ppm", number=2))
    assert (len(good.results), good.problems) == (1, ())
    for printed in ("%", "furlong", ""):
        other = bound(layout, "Bottle", "Fe", units=row("", printed, number=2))
        (problem,) = other.problems
        assert other.results == ()
        assert problem.severity is ProblemSeverity.REFUSED
        assert problem.text().startswith(f'Row 2, column "Fe": "{printed}" is not the unit')


def test_that_ignored_and_empty_headings_are_passed_over():
    columns = bound(small(top="ignored = 'Customer'"), "Bottle", "", "customer", "Fe", "", "")
    assert columns.problems == ()
    assert columns.width == 4


def test_that_two_columns_for_the_bottle_are_refused():
    with pytest.raises(LabFileError, match=r'Columns 1 ."Bottle".'):
        bound(small(), "Bottle", "Probe", "Fe")


def test_that_a_file_only_one_code_page_can_read_is_told_when_no_layout_can():
    with pytest.raises(OperatorError, match="cannot be read as cp1252"):
        choose_layout([bench_layout()], open_lab_file(LAB_FILES / "not_in_code_page.csv"))
    latin = small(top="[file]\ncode_page = 'latin-1'")
    with pytest.raises(LabFileError, match="no layout fits"):
        choose_layout([bench_layout(), latin], open_lab_file(LAB_FILES / "not_in_code_page.csv"))


def test_that_every_laboratory_file_of_the_tests_has_its_note():
    notes = (LAB_FILES / "README.md").read_text(encoding="utf-8")
    files = [path.name for path in Path(LAB_FILES).iterdir() if path.name != "README.md"]
    assert [name for name in files if f"`{name}`" not in notes] == []
