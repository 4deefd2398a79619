"""What is loaded with a part, seen in a fresh interpreter: import statements cannot tell it all."""

import pkgutil
import subprocess
import sys
from pathlib import Path

import fluiddesk.domain

CHECKOUT = Path(__file__).resolve().parents[2]
HEAVY = {"PySide6", "shiboken6", "pyqtgraph", "pandas", "scipy"}


def loaded_by(*modules: str) -> set[str]:
    """Give the names of all modules that come with importing these."""
    script = (
        "import sys, importlib\n"
        "before = set(sys.modules)\n"
        "for name in sys.argv[1:]:\n"
        "    importlib.import_module(name)\n"
        "print('\\n'.join(set(sys.modules) - before))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *modules],
        cwd=CHECKOUT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def test_that_the_whole_domain_loads_nothing_but_the_standard_library_and_numpy() -> None:
    path = list(fluiddesk.domain.__path__)
    names = [m.name for m in pkgutil.walk_packages(path, prefix="fluiddesk.domain.")]
    loaded = loaded_by("fluiddesk.domain", *names)
    assert len(names) > 5
    ours = {name for name in loaded if name.split(".")[0] == "fluiddesk"}
    assert all(name == "fluiddesk" or name.startswith("fluiddesk.domain") for name in ours)
    others = {name.split(".")[0] for name in loaded - ours} - sys.stdlib_module_names
    assert others <= {"numpy"}


def test_that_the_command_line_loads_no_drawing_and_no_statistics_library() -> None:
    tops = {name.split(".")[0] for name in loaded_by("fluiddesk.cli.main")}
    assert "fluiddesk" in tops
    assert not tops & HEAVY


def test_that_the_bootstrap_loads_only_the_standard_library() -> None:
    tops = {name.split(".")[0] for name in loaded_by("fluiddesk.bootstrap")}
    assert tops - sys.stdlib_module_names == {"fluiddesk"}
