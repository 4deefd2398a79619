from datetime import date
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from fluiddesk.domain.sampling.compliance import Compliance, Share
from fluiddesk.printing.compliance_report import write_compliance
from fluiddesk.services.interval_compliance.facts import ComplianceLine, ComplianceTable, GroupBy
from fluiddesk.services.interval_compliance.workbook import HEADINGS, write_compliance_workbook
from tests.printing.makers_papers import PRINTED, page_texts

pytestmark = pytest.mark.usefixtures("qapp")

FORTY = Compliance(
    due=40,
    excused=3,
    early=0,
    on_time=28,
    late=5,
    missed=4,
    still_open=0,
    usable=31,
    mean_lateness_percent=14.0,
    early_samples=Share(count=2, of=35),
)
"""The forty due events of the worked example (own arithmetic: 75.7, 89.2 and 83.8 %)."""


def table(groups: int) -> ComplianceTable:
    return ComplianceTable(
        first_day=date(2026, 1, 1),
        last_day=date(2026, 6, 30),
        by=GroupBy.SITE,
        lines=tuple(ComplianceLine(group=f"Site {one}", measures=FORTY) for one in range(groups)),
        total=FORTY,
    )


def test_that_the_report_tells_the_period_the_shares_and_what_they_mean(tmp_path: Path) -> None:
    assert write_compliance(table(3), tmp_path / "c.pdf", printed_on=PRINTED) == 1
    [text] = page_texts(tmp_path / "c.pdf")
    words = " ".join(text.split())
    for part in ("2026-01-01 to 2026-06-30", "76 %", "89 %", "84 %", "Site 2", "not bottles"):
        assert part in words


def test_that_many_groups_go_on_over_the_page_and_none_is_lost(tmp_path: Path) -> None:
    pages = write_compliance(table(120), tmp_path / "c.pdf", printed_on=PRINTED)
    texts = page_texts(tmp_path / "c.pdf")
    assert pages == len(texts) > 1
    # Readers of PDF put blanks where they see fit: the row is looked for without any.
    told = "".join("".join(texts).split())
    assert all(f"Site{one}40376%" in told for one in range(120))


def test_that_the_workbook_holds_figures_and_no_formulas(tmp_path: Path) -> None:
    odd = ComplianceLine(group='=HYPERLINK("x")', measures=FORTY)
    shown = table(1)
    made = ComplianceTable(
        first_day=shown.first_day,
        last_day=shown.last_day,
        by=shown.by,
        lines=(*shown.lines, odd),
        total=shown.total,
    )
    write_compliance_workbook(made, tmp_path / "c.xlsx")
    rows = CalamineWorkbook.from_path(str(tmp_path / "c.xlsx")).get_sheet_by_index(0).to_python()
    assert tuple(rows[2]) == HEADINGS
    assert rows[3][:4] == ["All", 40, 3, 28]
    assert rows[3][9] == pytest.approx(75.7, abs=0.05)
    assert rows[5][0] == '=HYPERLINK("x")'
