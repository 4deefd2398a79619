"""Words that have no place in what is handed on."""

import re
import subprocess
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
TEXT = {".py", ".toml", ".txt", ".md", ".csv", ".svg", ".json", ".ts", ".typed", ""}
SELF = Path(__file__).resolve()
# Licence texts and tables of hashes are not ours to word.
EXEMPT = ("resources/licences/LICENSE", "resources/licences/GPL", "resources/licences/LGPL")

FORBIDDEN = {
    "a working paper that is not part of the project": (
        r"\b(?:design|engineering|layout|trade|references|brief)\.md\b"
    ),
    "a path of one machine": r"(?<![\w.])/(?:work|root|home|tmp)/",
    "a host of a package registry": r"pythonhosted|pypi\.org|registry\.npm|conda\.anaconda",
    "a mark for work left undone": r"\b(?:TODO|FIXME|XXX|HACK)\b",
    "who or what wrote a part": r"(?i)\bs[e]{2}d[ ]document|\bsub-?agent|\blanguage model\b",
}


def handed_on() -> list[Path]:
    """Give the text files of the project: those git knows or would take, else all of them."""
    done = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", "-z"],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode == 0 and done.stdout:
        paths = [CHECKOUT / name for name in done.stdout.split("\0") if name]
    else:
        tops = ("fluiddesk", "tests", "resources", "sample_db", ".ci")
        paths = [path for top in tops for path in (CHECKOUT / top).rglob("*")]
        paths += CHECKOUT.glob("*.*")
    texts = [p for p in paths if p.is_file() and p.suffix in TEXT and "__pycache__" not in p.parts]
    assert len(texts) > 30
    return [p for p in texts if p != SELF and not _is_exempt(p)]


def lines_of(path: Path) -> list[str]:
    """Give a file's lines; some files of the tests are damaged on purpose."""
    return path.read_text(encoding="utf-8", errors="replace").splitlines()


def _is_exempt(path: Path) -> bool:
    return path.relative_to(CHECKOUT).as_posix().startswith(EXEMPT)


@pytest.mark.parametrize("what", FORBIDDEN)
def test_that_no_text_of_the_project_holds(what: str) -> None:
    pattern = re.compile(FORBIDDEN[what])
    found = [
        f"{path.relative_to(CHECKOUT)}:{number}: {match.group()}"
        for path in handed_on()
        for number, line in enumerate(lines_of(path), start=1)
        for match in pattern.finditer(line)
    ]
    assert found == []


@pytest.mark.parametrize(
    ("what", "example"),
    [
        ("a working paper that is not part of the project", "as layout.md says"),
        ("who or what wrote a part", "by a sub-agent"),
        ("who or what wrote a part", "the s" + "eed document says"),
        ("a path of one machine", "open('/tmp/x')"),
        ("a host of a package registry", "files.pythonhosted.org"),
        ("a mark for work left undone", "# TODO later"),
    ],
)
def test_that_a_forbidden_word_would_be_seen(what: str, example: str) -> None:
    assert re.search(FORBIDDEN[what], example)
