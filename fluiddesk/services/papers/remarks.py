"""What people write about a machine, box, sample or sheet."""

from datetime import datetime

from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.papers.facts import OwnerKind, PaperOwner, RemarkFacts
from fluiddesk.services.workplace import Workplace

LONGEST = 2_000


def add_remark(place: Workplace, owner: PaperOwner, words: str, *, moment: datetime) -> RemarkFacts:
    """Write a remark on a record.

    Raises:
        NotFoundError: when there is no such record.
        OperatorError: when nothing, or too much, is written.
    """
    told = words.strip()
    if not told:
        raise OperatorError("The remark is empty. Write what others should know.")
    if len(told) > LONGEST:
        raise OperatorError(
            f"The remark has {len(told)} letters; at most {LONGEST} are kept. Shorten it, or "
            "attach a paper."
        )
    with place.store.transaction(who=place.who, moment=moment) as desk:
        key = desk.papers.add_remark(kind=owner.kind, owner=owner.id, words=told)
    return RemarkFacts(id=key, owner=owner, words=told, made_at=moment, made_by=place.who)


def remarks_of(place: Workplace, owner: PaperOwner) -> tuple[RemarkFacts, ...]:
    """The remarks on a record, oldest first."""
    with place.store.reading() as desk:
        return tuple(
            RemarkFacts(
                id=one.id,
                owner=PaperOwner(OwnerKind(one.owner_kind), one.owner),
                words=one.words,
                made_at=one.created_at,
                made_by=one.created_by,
            )
            for one in desk.papers.remarks([owner.id])
        )


def withdraw_remark(place: Workplace, remark: bytes, *, reason: str, moment: datetime) -> None:
    """Take a remark back; it is kept with the reason.

    Raises:
        NotFoundError: when it was withdrawn already.
        OperatorError: when no reason is given.
    """
    if not reason.strip():
        raise OperatorError("A remark is taken back for a reason. Write why.")
    with place.store.transaction(who=place.who, moment=moment) as desk:
        desk.papers.withdraw("remark", remark, reason=reason.strip())
