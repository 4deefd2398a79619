"""Answers one search from the index alone; safe on the screen's thread."""

from fluiddesk.services.search.facts import HitKind, SearchAnswer, SearchHit
from fluiddesk.services.search.index import SearchIndex
from fluiddesk.services.search.lanes import Lane, query_words

USUAL_LIMIT = 50


def find(index: SearchIndex, typed: str, *, limit: int = USUAL_LIMIT) -> SearchAnswer:
    """Every record that holds all the words typed, in any part of a word, best first.

    Letter case, accents, spaces and marks inside codes do not matter: "ex 1" finds EX-01.

    Args:
        index: what to search.
        typed: words, a number, a bottle code, a serial or a part of one.
        limit: so many hits at most.
    """
    words = query_words(typed)
    if not words:
        return SearchAnswer(hits=(), is_cut=False, sentence="Type a number, code or word.")
    ranked = [
        (rank, place, row, lane)
        for place, lane in enumerate(index.lanes)
        for rank, row in lane.matches(words, limit=limit + 1)
    ]
    ranked.sort(key=lambda one: one[:3])
    hits = tuple(_hit(index, lane, row) for _, _, row, lane in ranked[:limit])
    is_cut = len(ranked) > limit
    return SearchAnswer(hits=hits, is_cut=is_cut, sentence=_sentence(typed, len(hits), is_cut))


def _hit(index: SearchIndex, lane: Lane, row: int) -> SearchHit:
    at = int(lane.place[row])
    place = index.places[at] if at >= 0 else None
    return SearchHit(
        kind=HitKind(lane.kind),
        found=lane.written(row),
        place=place.words if place else "",
        machine_id=place.machine if place else None,
        compartment_id=place.compartment if place else None,
        sample_id=lane.sample(row),
        store=place.store if place else None,
    )


def _sentence(typed: str, count: int, is_cut: bool) -> str:  # noqa: FBT001
    if not count:
        return f'Nothing is called "{typed.strip()}".'
    if is_cut:
        return f"The first {count}; type more to narrow it down."
    return "1 found." if count == 1 else f"{count} found."
