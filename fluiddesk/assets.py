"""Finds the files that the program reads but does not compute.

In a checkout they lie beside the package, in an installed copy inside it. What they mean is the
business of whoever reads them.
"""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_INSTALLED = _PACKAGE / "_data"


def resource(*parts: str) -> Path:
    """Give the path of a file or folder of `resources`, by the names that lead to it.

    The path is given whether or not anything lies there, so that a caller can list a folder.

    >>> resource("lock-run.txt").is_file()
    True
    """
    return _home("resources").joinpath(*parts)


def sample_story(*parts: str) -> Path:
    """Give the path of a file or folder of the sample fleet's story.

    >>> sample_story("story.toml").name
    'story.toml'
    """
    return _home("sample_db").joinpath(*parts)


def _home(folder: str) -> Path:
    """Prefer the installed copy, which a checkout never has."""
    installed = _INSTALLED / folder
    return installed if installed.is_dir() else _PACKAGE.parent / folder
