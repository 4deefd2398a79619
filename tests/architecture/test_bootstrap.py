"""What happens before anything else is imported."""

import ast
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from fluiddesk import bootstrap

CHECKOUT = Path(__file__).resolve().parents[2]
BEFORE_THE_CHECK = [
    "fluiddesk/__init__.py",
    "fluiddesk/__main__.py",
    "fluiddesk/bootstrap.py",
    "tests/__init__.py",
    "tests/__main__.py",
]
NOT_THERE = {"libnowhere-to-be-found.so.7": "libnowhere7"}
Ran = list[list[str]]


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A checkout with two locks and no environment."""
    (tmp_path / "pyproject.toml").touch()
    (tmp_path / "resources").mkdir()
    for kind in ("run", "test"):
        (tmp_path / "resources" / f"lock-{kind}.txt").write_text(f"{kind} 1")
    monkeypatch.setattr(bootstrap, "_CHECKOUT", tmp_path)
    return tmp_path


@pytest.fixture
def venv(checkout: Path) -> Path:
    """An environment that holds an interpreter and nothing else."""
    folder = checkout / ".venv"
    bootstrap.python_of(folder).parent.mkdir(parents=True)
    bootstrap.python_of(folder).touch()
    (folder / "pyvenv.cfg").write_text("version = 3.11.7")
    return folder


@pytest.fixture
def commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ran:
    """The commands that would have been run, each of which succeeds and names a folder."""
    ran: Ran = []

    def run(command: list[str]) -> subprocess.CompletedProcess[str]:
        ran.append(command)
        return subprocess.CompletedProcess(command, 0, stdout=f"{tmp_path}\n")

    monkeypatch.setattr(bootstrap, "run_aside", run)
    return ran


def noted(asked: list[dict[str, str]], table: dict[str, str]) -> list[str]:
    """Write down which table was asked for, and find nothing missing."""
    asked.append(table)
    return []


def stopped(capsys: pytest.CaptureFixture[str], call: Callable[[], object]) -> str:
    """Give what is said when a call ends the program with "unavailable"."""
    with pytest.raises(SystemExit) as end:
        call()
    assert end.value.code == 69
    return capsys.readouterr().err


@pytest.mark.parametrize("name", BEFORE_THE_CHECK)
def test_that_python_3_6_can_read_what_comes_before_the_version_check(name: str) -> None:
    ast.parse((CHECKOUT / name).read_text(encoding="utf-8"), feature_version=(3, 6))


def test_that_an_old_python_is_refused_in_one_sentence(
    capsys: pytest.CaptureFixture[str],
) -> None:
    said = stopped(capsys, lambda: bootstrap.refuse_old_python((3, 10)))
    assert said.count("\n") == 1
    assert "3.11" in said
    assert "3.10" in said


def test_that_python_3_11_is_new_enough() -> None:
    bootstrap.refuse_old_python((3, 11))


@pytest.mark.parametrize(
    "arguments",
    [[], ["sample"], ["--database", "fleet.db"], ["--database", "due", "sample"]],
    ids=" ".join,
)
def test_that_these_words_open_a_window(arguments: list[str]) -> None:
    assert bootstrap.opens_window(arguments)


@pytest.mark.parametrize(
    "arguments",
    [
        ["--version"],
        ["--help"],
        ["sample", "--help"],
        ["sample", "--out", "fleet.db"],
        ["sample", "--out=fleet.db"],
        ["due"],
        ["--format", "json", "condition"],
        ["picture", "fleet", "--out", "fleet.png"],
    ],
    ids=" ".join,
)
def test_that_these_words_open_no_window(arguments: list[str]) -> None:
    assert not bootstrap.opens_window(arguments)


def test_that_without_a_screen_the_program_names_the_command_that_draws_a_page(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    said = stopped(
        capsys, lambda: bootstrap.check_linux("run", arguments=["sample"], may_install=True)
    )
    assert said.count("\n") == 1
    assert "python3 -m fluiddesk picture fleet --out fleet.png" in said


@pytest.mark.parametrize("arguments", [["due"], ["picture", "fleet"], ["sample", "--out", "x"]])
def test_that_a_command_without_a_window_needs_no_screen(
    arguments: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(bootstrap, "missing", lambda _: [])
    bootstrap.check_linux("run", arguments=arguments, may_install=False)


def test_that_drawing_off_screen_asks_for_no_library_of_a_screen(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[dict[str, str]] = []
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setattr(bootstrap, "missing", lambda table: noted(asked, table))
    bootstrap.check_linux("run", arguments=["sample"], may_install=False)
    assert asked == [bootstrap.QT_CORE]


def test_that_a_window_on_x11_asks_for_the_libraries_of_x11(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[dict[str, str]] = []
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.setenv("DISPLAY", ":7")
    monkeypatch.setattr(bootstrap, "missing", lambda table: noted(asked, table))
    bootstrap.check_linux("run", arguments=[], may_install=False)
    assert asked == [bootstrap.QT_CORE, bootstrap.QT_X11]


@pytest.mark.skipif(sys.platform != "linux", reason="asks the loader of Linux")
def test_that_a_library_the_loader_cannot_find_is_told_as_its_package() -> None:
    assert bootstrap.missing({**NOT_THERE, "libc.so.6": "libc6"}) == ["libnowhere7"]


def test_that_a_user_without_a_terminal_is_given_the_line_to_type(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], commands: Ran
) -> None:
    monkeypatch.setattr("fluiddesk.bootstrap.shutil.which", lambda _: "apt-get")
    monkeypatch.setattr("fluiddesk.bootstrap.os.geteuid", lambda: 1000, raising=False)
    monkeypatch.setattr("fluiddesk.bootstrap.sys.stdin", None)
    said = stopped(capsys, lambda: bootstrap.provide(["libgl1", "libegl1"], may_install=True))
    assert "sudo apt-get install --yes --no-install-recommends libgl1 libegl1" in said
    assert commands == []


def test_that_system_packages_can_be_forbidden_even_to_root(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], commands: Ran
) -> None:
    monkeypatch.setattr("fluiddesk.bootstrap.shutil.which", lambda _: "apt-get")
    monkeypatch.setattr("fluiddesk.bootstrap.os.geteuid", lambda: 0, raising=False)
    said = stopped(capsys, lambda: bootstrap.provide(["libgl1"], may_install=False))
    assert "libgl1" in said
    assert commands == []


def test_that_root_installs_exactly_what_is_missing_and_is_told_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], commands: Ran
) -> None:
    monkeypatch.setattr("fluiddesk.bootstrap.shutil.which", lambda _: "apt-get")
    monkeypatch.setattr("fluiddesk.bootstrap.os.geteuid", lambda: 0, raising=False)
    bootstrap.provide(["libgl1"], may_install=True)
    assert commands == [["apt-get", "install", "--yes", "--no-install-recommends", "libgl1"]]
    assert "libgl1" in capsys.readouterr().err


def test_that_another_system_is_told_the_names_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], commands: Ran
) -> None:
    monkeypatch.setattr("fluiddesk.bootstrap.shutil.which", lambda _: None)
    said = stopped(capsys, lambda: bootstrap.provide(["libgl1"], may_install=True))
    assert "libgl1" in said
    assert commands == []


def test_that_an_installed_copy_is_left_alone(
    checkout: Path, monkeypatch: pytest.MonkeyPatch, commands: Ran
) -> None:
    (checkout / "pyproject.toml").unlink()
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setattr(bootstrap, "start_again", lambda _: pytest.fail("started again"))
    bootstrap.ensure("run")
    assert commands == []
    assert not (checkout / ".venv").exists()


def test_that_an_environment_without_its_stamp_is_not_ready(venv: Path) -> None:
    assert not bootstrap.is_ready(venv, "run")


def test_that_a_finished_environment_is_ready(venv: Path, commands: Ran) -> None:
    bootstrap.make_ready(venv, "run", may_install=False)
    assert bootstrap.is_ready(venv, "run")
    assert not bootstrap.is_ready(venv, "test")
    pip = next(command for command in commands if "pip" in command)
    assert "--require-hashes" in pip
    assert pip[pip.index("--only-binary") + 1] == ":all:"


def test_that_a_finished_environment_finds_the_package_in_the_checkout(
    checkout: Path, venv: Path, commands: Ran
) -> None:
    bootstrap.make_ready(venv, "run", may_install=False)
    assert commands
    # The stand-in for the environment's interpreter names the checkout as its package folder.
    assert (checkout / "fluiddesk-checkout.pth").read_text() == f"{checkout}\n"


def test_that_an_environment_for_the_tests_also_serves_the_program(
    venv: Path, commands: Ran
) -> None:
    bootstrap.make_ready(venv, "test", may_install=False)
    assert commands
    assert bootstrap.is_ready(venv, "test")
    assert bootstrap.is_ready(venv, "run")


@pytest.mark.parametrize("kind", ["run", "test"])
def test_that_a_changed_lock_makes_the_environment_stale(
    kind: str, checkout: Path, venv: Path, commands: Ran
) -> None:
    bootstrap.make_ready(venv, kind, may_install=False)
    assert commands
    (checkout / "resources" / "lock-run.txt").write_text("run 2")
    assert not bootstrap.is_ready(venv, "run")
    assert not bootstrap.is_ready(venv, kind)


def test_that_an_environment_of_another_python_is_stale(venv: Path, commands: Ran) -> None:
    bootstrap.make_ready(venv, "run", may_install=False)
    assert commands
    (venv / "pyvenv.cfg").write_text("version = 3.13.5")
    assert not bootstrap.is_ready(venv, "run")


def test_that_a_killed_install_is_done_again(
    venv: Path, monkeypatch: pytest.MonkeyPatch, commands: Ran
) -> None:
    bootstrap.make_ready(venv, "run", may_install=False)
    assert commands

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(bootstrap, "install_packages", killed)
    with pytest.raises(KeyboardInterrupt):
        bootstrap.make_ready(venv, "run", may_install=False)
    assert not bootstrap.is_ready(venv, "run")


def test_that_an_unreachable_index_is_told_in_one_plain_sentence(
    venv: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    noise = "WARNING: Retrying ... NewConnectionError('<...>')\nERROR: no matching distribution"
    monkeypatch.setattr(
        bootstrap, "run_aside", lambda c: subprocess.CompletedProcess(c, 1, stdout=noise)
    )
    said = stopped(capsys, lambda: bootstrap.install_packages(venv, "run"))
    assert said.startswith("No package index could be reached")
    assert "Retrying" not in said


def test_that_another_failure_of_the_install_shows_its_last_words(
    venv: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        bootstrap, "run_aside", lambda c: subprocess.CompletedProcess(c, 1, stdout="disk is full")
    )
    assert "disk is full" in stopped(capsys, lambda: bootstrap.install_packages(venv, "run"))


def test_that_a_checkout_that_cannot_be_written_to_uses_the_cache_of_the_user(
    checkout: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fluiddesk.bootstrap.os.access", lambda *_: False)
    monkeypatch.setattr(bootstrap, "user_cache", lambda: Path("/somewhere/cache"))
    assert Path("/somewhere/cache/fluiddesk") in bootstrap.venv_folder(checkout).parents


def test_that_a_checkout_that_can_be_written_to_holds_its_environment(checkout: Path) -> None:
    assert bootstrap.venv_folder(checkout) == checkout / ".venv"


def test_that_a_python_without_its_venv_package_asks_for_that_package(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[list[str]] = []
    monkeypatch.setattr("fluiddesk.bootstrap.importlib.util.find_spec", lambda _: None)
    monkeypatch.setattr(bootstrap, "provide", lambda names, **_: asked.append(names))
    bootstrap.need_venv_module(may_install=True)
    assert asked == [[f"python3.{sys.version_info.minor}-venv"]]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows cannot replace a process")
def test_that_the_same_command_goes_on_in_the_environment_without_our_own_option(
    venv: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    went_on: Ran = []
    words = ["python3", "-m", "fluiddesk", "due", "--no-system-packages", "--within", "14d"]
    monkeypatch.setattr("fluiddesk.bootstrap.sys.orig_argv", words)
    monkeypatch.setattr("fluiddesk.bootstrap.os.execv", lambda _, command: went_on.append(command))
    bootstrap.start_again(venv)
    python = str(bootstrap.python_of(venv))
    assert went_on == [[python, "-m", "fluiddesk", "due", "--within", "14d"]]
