"""The waiting laboratory files of the sample fleet read as their story intends."""

from collections.abc import Sequence

from fluiddesk.assets import resource, sample_story
from fluiddesk.domain.samples import OpenBottle
from fluiddesk.intake.layout_files import load_layouts
from fluiddesk.intake.problems import IntakeReport
from fluiddesk.intake.reading import read_lab_file
from tests.intake.bench import analytes, bottle


def file_read(ending: str) -> IntakeReport:
    """Read with every bottle on the register, on whatever machine the file says."""
    (path,) = sample_story("lab_files").glob(f"*{ending}")
    layouts = load_layouts(resource("lab_layouts"))
    machines: dict[str, str] = {}

    def open_bottles(codes: Sequence[str]) -> list[OpenBottle]:
        return [bottle(code, machine=machines.get(code, "?"), taken_on=None) for code in codes]

    choices = {"layouts": layouts, "analytes": analytes(), "open_bottles": open_bottles}
    for held in read_lab_file(path, **choices).held:
        for reason in held.reasons:
            if "is not the machine of bottle" in reason.wrong:
                code = reason.wrong.removeprefix("is not the machine of bottle ").split()[0]
                machines[code] = reason.printed or ""
    return read_lab_file(path, **choices)


def test_that_the_text_file_of_the_first_laboratory_is_sound():
    report = file_read("lab_a.csv")
    assert (report.layout, report.problems) == ("lab_a", [])
    assert len(report.accepted) == report.rows_read > 10


def test_that_the_workbook_of_the_second_laboratory_is_sound():
    report = file_read("lab_b.xlsx")
    assert (report.layout, report.problems) == ("lab_b", [])
    assert len(report.accepted) == report.rows_read > 10


def test_that_the_file_with_mischief_tells_all_of_it_and_keeps_its_sound_rows():
    report = file_read("lab_c_mischief.csv")
    told = "\n".join(problem.text() for problem in report.problems)
    assert 'Column "Smell": this column is not in the layout' in told
    assert "its check character does not fit" in told
    assert told.count("stands in row") == 2
    assert 'column "Visc 100 °C": "12,4O" is not a number' in told
    assert 'column "Sampled": "31.11.2026" is not a date' in told
    assert 'column "Fe": "-3" is negative' in told
    assert report.held_count == 6
    assert len(report.accepted) == report.rows_read - 6 > 0
