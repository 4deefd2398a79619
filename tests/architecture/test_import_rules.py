"""A contract that cannot fail guards nothing: each one is given an import it forbids."""

import os
import pkgutil
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[2]
SETTINGS = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))
CONTRACTS = {c["id"]: c["name"] for c in SETTINGS["tool"]["importlinter"]["contracts"]}
LINT = "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()"

# Contract, then the lines that break it: file of the package -> what is added at its end.
BREACHES = [
    ("layers", {"domain/__init__.py": "import fluiddesk.services"}),
    ("layers", {"simulation/__init__.py": "import fluiddesk.storage"}),
    ("layers", {"newcomer.py": ""}),
    ("domain-order", {"domain/fluids/__init__.py": "import fluiddesk.domain.limits"}),
    ("domain-order", {"domain/newcomer.py": ""}),
    ("domain-pure", {"domain/limits/__init__.py": "import pandas"}),
    ("domain-pure", {"domain/trends/__init__.py": "import csv"}),
    ("qt-only-in-desktop", {"services/__init__.py": "import PySide6.QtCore"}),
    ("viewstate-plain", {"desktop/viewstate/__init__.py": "import PySide6.QtCore"}),
    ("sql-only-in-storage", {"services/__init__.py": "import sqlalchemy"}),
    ("pandas-at-the-edges", {"cli/__init__.py": "import pandas"}),
    ("one-home-per-library", {"desktop/widgets/__init__.py": "import pyqtgraph"}),
    ("faces-ask-services", {"cli/__init__.py": "import fluiddesk.storage"}),
    ("tables-private", {"services/__init__.py": "import fluiddesk.storage.tables"}),
    ("storage-front-door", {"services/__init__.py": "import fluiddesk.storage.engine"}),
    ("migrations-frozen", {"storage/migrations/versions/r9999.py": "import fluiddesk.domain"}),
    ("desktop-order", {"desktop/viewstate/__init__.py": "import fluiddesk.desktop.models"}),
    (
        "screens-independent",
        {
            "desktop/screens/one_page.py": "import fluiddesk.desktop.screens.other_page",
            "desktop/screens/other_page.py": "",
        },
    ),
    (
        "no-cycles",
        {
            "services/one_case.py": "import fluiddesk.services.other_case",
            "services/other_case.py": "import fluiddesk.services.one_case",
        },
    ),
]


# Contracts that list parts of the package one by one -> the parts that are rightly not listed.
OWNERS = {
    "qt-only-in-desktop": {"desktop", "charts", "printing", "cli", "__main__", "bootstrap"},
    "sql-only-in-storage": {"storage", "bootstrap"},
    # The domain may not know data frames by a contract of its own.
    "pandas-at-the-edges": {"intake", "services", "domain", "__main__", "bootstrap"},
}


def copy_package(folder: Path) -> Path:
    """Copy the package and its contracts to where they may be broken."""
    package = folder / "fluiddesk"
    shutil.copytree(
        CHECKOUT / "fluiddesk", package, ignore=shutil.ignore_patterns("__pycache__", "_data")
    )
    shutil.copy(CHECKOUT / "pyproject.toml", folder)
    return package


def lint(folder: Path, *contracts: str) -> subprocess.CompletedProcess[str]:
    """Check the contracts on the copy, in an interpreter that sees the copy first."""
    limits = [word for contract in contracts for word in ("--contract", contract)]
    return subprocess.run(
        [sys.executable, "-c", LINT, "--no-cache", "--no-logo", *limits],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "COLUMNS": "200", "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_that_every_contract_is_kept_by_the_package_as_it_stands(tmp_path: Path) -> None:
    copy_package(tmp_path)
    done = lint(tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(CONTRACTS)} kept, 0 broken" in done.stdout


def test_that_every_contract_is_tried_with_a_breach() -> None:
    assert {contract for contract, _ in BREACHES} == set(CONTRACTS)


@pytest.mark.parametrize("contract", OWNERS)
def test_that_no_part_of_the_package_escapes_a_contract_by_not_being_listed(contract: str) -> None:
    parts = {part.name for part in pkgutil.iter_modules([str(CHECKOUT / "fluiddesk")])}
    listed = next(
        c["source_modules"]
        for c in SETTINGS["tool"]["importlinter"]["contracts"]
        if c["id"] == contract
    )
    missing = parts - OWNERS[contract] - {name.removeprefix("fluiddesk.") for name in listed}
    assert missing == set()


@pytest.mark.parametrize(
    ("contract", "lines"), BREACHES, ids=[f"{c}-{'-'.join(lines)}" for c, lines in BREACHES]
)
def test_that_a_forbidden_import_is_reported_by_the_contract_meant_for_it(
    contract: str, lines: dict[str, str], tmp_path: Path
) -> None:
    package = copy_package(tmp_path)
    for name, line in lines.items():
        path = package / name
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        path.write_text(f"{before}\n{line}\n", encoding="utf-8")
    done = lint(tmp_path, contract)
    assert done.returncode == 1, done.stdout + done.stderr
    assert f"{CONTRACTS[contract]} BROKEN" in done.stdout, done.stdout + done.stderr
