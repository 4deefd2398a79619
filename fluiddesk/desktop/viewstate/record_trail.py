"""What belongs to a record beside its fields: papers, remarks, and who changed what and when."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from fluiddesk.desktop.viewstate.record_values import text_of
from fluiddesk.desktop.viewstate.register_words import Record, key_of
from fluiddesk.domain.identity import SiteId
from fluiddesk.services.papers.facts import OwnerKind, PaperFacts, PaperOwner, RemarkFacts
from fluiddesk.services.register.facts import ChangeFacts
from fluiddesk.services.workplace import Workplace

_OWNERS: Mapping[str, OwnerKind] = {
    "machine": OwnerKind.MACHINE,
    "compartment": OwnerKind.COMPARTMENT,
    "point": OwnerKind.SAMPLING_POINT,
    "tank": OwnerKind.FLUID_TANK,
    "batch": OwnerKind.FLUID_BATCH,
}
_MINUTE = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailLine:
    """One line: when (UTC), who, what kind of line, and its words; ``paper`` can be opened."""

    at: str
    who: str
    what: str
    words: str
    paper: bytes | None = None
    is_picture: bool = False


def owner_of(record: Record) -> PaperOwner | None:
    """The owner that papers and remarks of a record are kept under; ``None`` for other kinds."""
    kind, key = key_of(record)
    owner = _OWNERS.get(kind)
    return PaperOwner(owner, key) if owner is not None and isinstance(key, bytes) else None


def trail_lines(
    papers: Iterable[PaperFacts], remarks: Iterable[RemarkFacts], changes: Iterable[ChangeFacts]
) -> tuple[TrailLine, ...]:
    """Everything about a record, newest first."""
    lines = [
        TrailLine(
            at=_minute(one.added_at.isoformat()),
            who=one.added_by,
            what="paper",
            words=f"{one.file_name}, {one.size_bytes / 1000:.0f} kB  {one.note}".strip(),
            paper=one.id,
            is_picture=one.media_type.startswith("image/"),
        )
        for one in papers
    ]
    lines += [
        TrailLine(at=_minute(one.made_at.isoformat()), who=one.made_by, what="remark",
                  words=one.words)
        for one in remarks
    ]  # fmt: skip
    lines += [
        TrailLine(at=_minute(one.at), who=one.who, what="change", words=change_words(one))
        for one in changes
    ]
    return tuple(sorted(lines, key=lambda one: one.at, reverse=True))


def change_words(change: ChangeFacts) -> str:
    """A change as words: "capacity l: 38 to 40"."""
    if change.old is None:
        return "added"
    new = change.new or {}
    return "; ".join(
        f"{key.replace('_', ' ')}: {text_of(old) or 'empty'} to {text_of(new.get(key)) or 'empty'}"
        for key, old in change.old.items()
        if new.get(key) != old
    )


def _minute(at: str) -> str:
    return at[:_MINUTE].replace("T", " ")


def read_trail(place: Workplace, record: Record) -> tuple[TrailLine, ...]:
    """Read everything about a record."""
    from fluiddesk.services.papers.attach import papers_of
    from fluiddesk.services.papers.remarks import remarks_of
    from fluiddesk.services.register.history import changes_of

    owner = owner_of(record)
    kind, key = key_of(record)
    changes = changes_of(place, kind, key, site=getattr(record, "site", SiteId(0)))
    if owner is None:
        return trail_lines((), (), changes)
    return trail_lines(papers_of(place, owner), remarks_of(place, owner), changes)


def attach_paper(place: Workplace, record: Record, path: Path, *, moment: datetime) -> None:
    """Keep a copy of a PDF or picture with a record.

    Raises:
        OperatorError: when the file cannot be taken; the text says why.
    """
    from fluiddesk.services.papers.attach import attach

    owner = owner_of(record)
    if owner is not None:
        attach(place, owner, path, moment=moment)


def open_paper(place: Workplace, paper: bytes) -> Path:
    """Copy a paper out, to be opened by another program.

    Raises:
        OperatorError: when its file is missing or was changed.
    """
    import tempfile

    from fluiddesk.services.papers.attach import open_copy

    return open_copy(place, paper, Path(tempfile.mkdtemp(prefix="fluiddesk-paper-")))


@dataclass(frozen=True, kw_only=True)
class PaperCalls:
    """Papers and remarks of anything that keeps them. Each may raise an ``OperatorError``."""

    place: Workplace

    def trail(self, owner: PaperOwner) -> tuple[TrailLine, ...]:
        """Papers and remarks, newest first."""
        from fluiddesk.services.papers.attach import papers_of
        from fluiddesk.services.papers.remarks import remarks_of

        return trail_lines(papers_of(self.place, owner), remarks_of(self.place, owner), ())

    def attach(self, owner: PaperOwner, path: Path, *, moment: datetime) -> None:
        """Keep a copy of a PDF or picture."""
        from fluiddesk.services.papers.attach import attach

        attach(self.place, owner, path, moment=moment)

    def remark(self, owner: PaperOwner, words: str, *, moment: datetime) -> None:
        """Write a remark."""
        from fluiddesk.services.papers.remarks import add_remark

        add_remark(self.place, owner, words, moment=moment)

    def open_paper(self, paper: bytes) -> Path:
        """Copy a paper out, to be opened by another program."""
        return open_paper(self.place, paper)
