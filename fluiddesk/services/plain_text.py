"""Texts as they are compared: without case, accents and marks, since people type them otherwise."""

import unicodedata


def plain_words(text: str) -> str:
    """A text as it is searched: no accents, no case, words of letters and digits alone.

    >>> plain_words("Final drive, L\N{LATIN SMALL LETTER I WITH GRAVE}NKS (re-sample)")
    'final drive links resample'
    """
    spread = unicodedata.normalize("NFKD", text).casefold().split()
    words = ("".join(filter(str.isalnum, word)) for word in spread)
    return " ".join(word for word in words if word)


def plain_code(text: str) -> str:
    """A number or code as it is searched: without spaces and marks.

    >>> plain_code(" 26K-0042-Z ")
    '26k0042z'
    """
    return plain_words(text).replace(" ", "")
