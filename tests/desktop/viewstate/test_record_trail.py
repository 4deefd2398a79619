"""Papers, remarks and changes of a record as lines, without a window."""

from datetime import UTC, datetime

from fluiddesk.desktop.viewstate.record_trail import change_words, owner_of, trail_lines
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.papers.facts import OwnerKind, PaperFacts, PaperOwner, RemarkFacts
from fluiddesk.services.register.facts import ChangeFacts
from tests.desktop.makers_register import make_machine, make_register

OWNER = PaperOwner(OwnerKind.MACHINE, b"m")


def change(**told: object) -> ChangeFacts:
    given = {"old": {"model": "A", "serial": ""}, "new": {"model": "B", "serial": ""}} | told
    return ChangeFacts(
        site=SiteId(1), place=1, at="2026-06-29 08:00 UTC", who="Ana", what="machine", **given
    )


def test_that_the_newest_line_stands_first() -> None:
    paper = PaperFacts(
        id=b"p",
        owner=OWNER,
        file_name="photo.png",
        media_type="image/png",
        size_bytes=12_000,
        sha256="0" * 64,
        added_at=datetime(2026, 6, 30, 8, tzinfo=UTC),
        added_by="Kim",
        note="",
    )
    remark = RemarkFacts(
        id=b"r",
        owner=OWNER,
        words="Leaks.",
        made_at=datetime(2026, 6, 28, 8, tzinfo=UTC),
        made_by="Kim",
    )
    lines = trail_lines([paper], [remark], [change()])
    assert [(one.at, one.what, one.words) for one in lines] == [
        ("2026-06-30 08:00", "paper", "photo.png, 12 kB"),
        ("2026-06-29 08:00", "change", "model: A to B"),
        ("2026-06-28 08:00", "remark", "Leaks."),
    ]
    assert lines[0].paper == b"p"


def test_that_a_change_names_only_what_differs() -> None:
    assert change_words(change()) == "model: A to B"
    assert change_words(change(new={"model": "", "serial": "S1"})) == (
        "model: A to empty; serial: empty to S1"
    )
    assert change_words(change(old=None)) == "added"


def test_that_papers_belong_to_machines_boxes_and_points_alone() -> None:
    assert owner_of(make_machine(1)) == PaperOwner(OwnerKind.MACHINE, bytes(make_machine(1).id))
    assert owner_of(make_register(1).fluids[0]) is None
