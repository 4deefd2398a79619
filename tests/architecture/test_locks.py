"""The lists of packages that are installed, each with version and hashes."""

import re
import tomllib
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
RESOURCES = CHECKOUT / "resources"
SETTINGS = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))


def locked(kind: str) -> set[tuple[str, str]]:
    """Give name and version of every package in a lock."""
    text = (RESOURCES / f"lock-{kind}.txt").read_text(encoding="utf-8")
    return set(re.findall(r"^([a-z0-9-]+)==(\S+)", text, re.MULTILINE))


def names_of(requirements: list[str]) -> set[str]:
    """Give the names in a list of requirements as a lock writes them."""
    return {re.split(r"[\[<>=; ]", line)[0].lower().replace("_", "-") for line in requirements}


@pytest.mark.parametrize("kind", ["run", "test"])
def test_that_a_lock_names_no_host(kind: str) -> None:
    assert "://" not in (RESOURCES / f"lock-{kind}.txt").read_text(encoding="utf-8")


@pytest.mark.parametrize("kind", ["run", "test"])
def test_that_every_locked_package_carries_a_hash(kind: str) -> None:
    text = (RESOURCES / f"lock-{kind}.txt").read_text(encoding="utf-8")
    entries = re.split(r"^(?=[a-z0-9])", text, flags=re.MULTILINE)[1:]
    assert len(entries) == len(locked(kind))
    assert [entry for entry in entries if "--hash=sha256:" not in entry] == []


def test_that_every_direct_dependency_is_locked() -> None:
    wanted = names_of(SETTINGS["project"]["dependencies"])
    assert wanted <= {name for name, _ in locked("run")}
    tools = names_of(SETTINGS["dependency-groups"]["test"])
    assert wanted | tools <= {name for name, _ in locked("test")}


def test_that_the_tests_run_on_the_versions_the_program_runs_on() -> None:
    assert locked("run") <= locked("test")


def test_that_qt_stays_below_the_version_that_loses_references_to_none() -> None:
    versions = {version for name, version in locked("run") if name == "pyside6-essentials"}
    assert versions
    assert all(tuple(map(int, version.split(".")))[:2] < (6, 12) for version in versions)


def test_that_the_list_of_licences_names_what_is_locked() -> None:
    listed = tomllib.loads((RESOURCES / "licences" / "libraries.toml").read_text(encoding="utf-8"))
    found = {(lib["name"], v) for lib in listed["library"] for v in lib["versions"]}
    assert found == locked("run")
    assert all(lib["licence"] for lib in listed["library"])
