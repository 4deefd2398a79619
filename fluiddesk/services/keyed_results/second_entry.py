"""Values that decide a verdict are entered twice, where the desk asks for it."""

import json
import tomllib
from dataclasses import replace
from datetime import datetime
from functools import cache
from typing import Final

from fluiddesk import assets
from fluiddesk.domain.errors import OperatorError, UsageError
from fluiddesk.services.keyed_results.basis import SecondEntry
from fluiddesk.services.keyed_results.drafts import keep_draft
from fluiddesk.services.keyed_results.facts import Draft, OpenReport
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk

MODES: Final = ("off", "same", "other")
_FACT: Final = "second_entry"


@cache
def deciding_analytes() -> tuple[str, ...]:
    """The analytes entered twice unless the desk chose others."""
    path = assets.resource("keyed_results") / "deciding_values.toml"
    return tuple(tomllib.loads(path.read_text(encoding="utf-8"))["analytes"])


def read_second_entry(desk: Desk) -> SecondEntry:
    """The setting as this database holds it; off where nobody set it."""
    kept = desk.facts.get(_FACT)
    if kept is None:
        return SecondEntry(analytes=deciding_analytes())
    told = json.loads(kept)
    return SecondEntry(mode=told["mode"], analytes=tuple(told["analytes"]))


def second_entry(place: Workplace) -> SecondEntry:
    """How values that decide a verdict are entered twice."""
    with place.store.reading() as desk:
        return read_second_entry(desk)


def set_second_entry(place: Workplace, setting: SecondEntry, *, moment: datetime) -> None:
    """Change how values that decide a verdict are entered twice.

    Raises:
        UsageError: for a mode or an analyte that does not exist.
    """
    if setting.mode not in MODES:
        raise UsageError(
            f'Second entry cannot be "{setting.mode}". Choose one of: {", ".join(MODES)}.'
        )
    unknown = sorted(set(setting.analytes) - set(place.catalogue.analytes))
    if unknown:
        raise UsageError(f'There is no analyte "{unknown[0]}". Choose from the catalogue.')
    told = {"mode": setting.mode, "analytes": list(setting.analytes)}
    with place.store.transaction(who=place.who, moment=moment) as desk:
        desk.facts.put(_FACT, json.dumps(told))


def enter_second(
    place: Workplace, report: OpenReport, draft: Draft, key: str, text: str, *, moment: datetime
) -> Draft:
    """Keep the second entry of one cell; a mismatch is then a warning at that cell.

    Raises:
        OperatorError: when another person must make the second entry.
        StaleEditError: when another desk saved the draft since.
    """
    if report.basis.second.mode == "other" and place.who == draft.begun_by:
        raise OperatorError(
            f"{place.who} made the first entry of bottle {draft.bottle_code}. Another person must "
            "make the second: change the name at the desk, or the setting of the second entry."
        )
    second = {**draft.second, key: text}
    return keep_draft(
        place, report, replace(draft, second=second, second_by=place.who), moment=moment
    )
