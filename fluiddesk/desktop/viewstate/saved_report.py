"""What saving a keyed report came to, in words."""

from typing import Final

from fluiddesk.services.keyed_results.facts import SavedReport

_MOST_TOLD: Final = 6


def saved_caption(saved: SavedReport) -> str:
    """What was saved, above the verdict."""
    if saved.revised:
        return f"Bottle {saved.bottle_code}: revision saved"
    return f"Bottle {saved.bottle_code}: saved"


def revised_words(saved: SavedReport) -> str:
    """What a revision says otherwise than the issue before."""
    told = [f"{one.name} {one.before} to {one.after}" for one in saved.revised[:_MOST_TOLD]]
    if not told:
        return ""
    more = len(saved.revised) - len(told)
    tail = f" and {more} more" if more > 0 else ""
    return f"Changed by the revision: {', '.join(told)}{tail}."
