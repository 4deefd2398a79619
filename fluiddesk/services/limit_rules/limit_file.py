"""Limit sets out to files and back in, as drafts."""

from dataclasses import replace
from datetime import date, datetime

from fluiddesk.domain.limits.limit_set import set_in_force
from fluiddesk.services.limit_rules.check import known_names, problems_of
from fluiddesk.services.limit_rules.facts import Imported
from fluiddesk.services.limit_rules.file_reading import limit_set_from_text
from fluiddesk.services.limit_rules.file_writing import limit_file_text
from fluiddesk.services.limit_rules.versions import add_draft
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk


def export_set(place: Workplace, number: int) -> str:
    """A limit set as the text of a limit file.

    Raises:
        NotFoundError: when there is none of this number.
    """
    with place.store.reading() as desk:
        limit_set, names = desk.limits.one(number), _box_names(desk, place)
    return limit_file_text(limit_set, names)


def _box_names(desk: Desk, place: Workplace) -> dict[str, str]:
    return {
        row[1].hex(): f"{row[2]}, {row[3]}, {place.catalogue.box_name(row[6], row[7])}"
        for row in desk.boxes.rows()
    }


def import_set(
    place: Workplace, text: str, *, file: str, today: date, moment: datetime
) -> Imported:
    """Take a limit file in as a new draft, based on the set in force.

    Args:
        place: where to work; the desk user becomes the draft's author.
        text: the file's content.
        file: what messages call the file.
        today: the day whose set in force the draft is compared with.
        moment: now.

    Raises:
        RulesRefusedError: naming every problem with line and row, value and remedy; nothing is
            taken in then.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        known = known_names(desk, place)
        read = limit_set_from_text(text, file=file, known=known, today=today)
        held = set_in_force(desk.limits.limit_sets(), today)
        based_on = held.number if held else None
        draft = add_draft(desk, place, replace(read, based_on=based_on))
        problems = problems_of(draft.limit_set, known, today=today, base=held)
    return Imported(
        number=draft.number,
        name=draft.limit_set.name,
        limits=len(read.limits),
        intervals=len(read.intervals),
        problems=problems,
    )
