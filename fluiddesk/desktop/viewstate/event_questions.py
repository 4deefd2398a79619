"""The question on a fluid change nobody recorded, in words."""

from datetime import date

from fluiddesk.services.event_questions import EventQuestion


def question_words(question: EventQuestion, *, more: int) -> str:
    """The question, and how many wait behind it."""
    return f"{question.told} ({more} more)" if more > 0 else question.told


def halfway(question: EventQuestion) -> date:
    """The day offered: the middle between the two samples."""
    return date.fromordinal((question.since.toordinal() + question.until.toordinal()) // 2)


def read_day(text: str) -> date | None:
    """A day as typed; ``None`` where it is none.

    >>> read_day(" 2026-05-12 "), read_day("12 May")
    (datetime.date(2026, 5, 12), None)
    """
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        return None
