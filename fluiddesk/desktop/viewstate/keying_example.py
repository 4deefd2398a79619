"""A half-keyed report with one slip, for pictures; nothing of it is kept."""

from fluiddesk.services.keyed_results.facts import Draft, HeadField, OpenReport

_LEFT_EMPTY = 0.6


def example_draft(report: OpenReport) -> Draft:
    """Expected values in the first fields; the decimal point of the largest of them slips."""
    filled = report.cells[: round(_LEFT_EMPTY * len(report.cells))]
    cells = {one.key: one.expected.text for one in filled if one.expected}
    numbers = {key: float(text) for key, text in cells.items() if _is_number(text)}
    if numbers:
        largest = max(numbers, key=lambda key: numbers[key])
        cells[largest] = f"{numbers[largest] / 10:.1f}"
    taken = report.taken_on.isoformat() if report.taken_on else ""
    heads = {
        HeadField.REPORT_NUMBER.value: "A26-9001",
        HeadField.ISSUE.value: str(report.newest_issue + 1),
        HeadField.SAMPLED_ON.value: taken,
        HeadField.METER.value: "" if report.meter is None else f"{report.meter:.0f}",
    }
    return Draft(bottle_code=report.bottle_code, layout=report.layout, heads=heads, cells=cells)


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()
