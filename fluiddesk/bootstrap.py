"""Makes the environment ready before anything else is imported.

Standard library only, and written in syntax that Python 3.6 can still read: an old interpreter
must get far enough to be told that it is too old. In an installed copy, where no pyproject.toml
lies beside the package, nothing of this happens.
"""

import contextlib
import ctypes
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import NoReturn

OLDEST_PYTHON = (3, 11)
EXIT_UNAVAILABLE = 69  # EX_UNAVAILABLE of sysexits.h, which Windows lacks
FORBID_SYSTEM_PACKAGES = "--no-system-packages"

# Shared library -> Debian package, found by adding one package at a time to a bare Debian 12.
QT_CORE = {
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libglib-2.0.so.0": "libglib2.0-0",
}
QT_X11 = {
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
}
QT_WAYLAND = {"libwayland-cursor.so.0": "libwayland-cursor0"}

COMMANDS_THAT_DRAW = ("picture", "report", "labels", "sheets", "compliance")
OPTIONS_WITH_VALUE = ("--database", "--format")
NO_SCREEN = (
    "fluiddesk opens a window, and this machine shows no screen (neither DISPLAY nor "
    "WAYLAND_DISPLAY is set); a page can be drawn all the same: "
    "python3 -m fluiddesk picture fleet --out fleet.png"
)
SIGNS_OF_NO_NETWORK = (
    "NewConnectionError",
    "NameResolutionError",
    "Failed to establish a new connection",
    "ConnectTimeoutError",
    "ReadTimeoutError",
    "ProxyError",
    "Connection refused",
)

_CHECKOUT = Path(__file__).resolve().parent.parent


def ensure(kind: str) -> None:
    """Make this process one that has what `kind` needs, or end it with a plain sentence.

    Args:
        kind: "run" for the program, "test" for its tests and checks.

    The environment lives in `.venv` of the checkout, or in the user's cache folder when the
    checkout cannot be written to. When this process is not of that environment, the same command
    starts again inside it.
    """
    refuse_old_python(sys.version_info[:2])
    if not (_CHECKOUT / "pyproject.toml").is_file():
        return
    may_install = FORBID_SYSTEM_PACKAGES not in sys.argv
    sys.argv[:] = [word for word in sys.argv if word != FORBID_SYSTEM_PACKAGES]
    if sys.platform.startswith("linux"):
        check_linux(kind, arguments=sys.argv[1:], may_install=may_install)
    venv = ready_environment(kind, may_install=may_install)
    if Path(sys.prefix).resolve() != venv.resolve():
        start_again(venv)


def ready_environment(kind: str, *, may_install: bool = True) -> Path:
    """Give the folder of an environment that is complete, made now if need be."""
    venv = venv_folder(_CHECKOUT)
    if not is_ready(venv, kind):
        with only_one_at_a_time():
            if not is_ready(venv, kind):
                make_ready(venv, kind, may_install=may_install)
    return venv


def stop(message: str) -> "NoReturn":
    """End the process with one message on stderr and the exit code for "unavailable"."""
    sys.stderr.write(message + "\n")
    sys.exit(EXIT_UNAVAILABLE)


def refuse_old_python(version: "tuple[int, ...]") -> None:
    """Stop when the interpreter is older than the program can use."""
    if tuple(version[:2]) < OLDEST_PYTHON:
        wanted, found = (".".join(str(part) for part in v[:2]) for v in (OLDEST_PYTHON, version))
        stop(
            f"fluiddesk needs Python {wanted} or newer, and this is {found}; start it with a "
            "newer python3."
        )


# --- what the system must bring -----------------------------------------------------------------


def opens_window(arguments: "list[str]") -> bool:
    """Whether these arguments of the program end in a window on a screen."""
    if any(word in ("-h", "--help", "--version") for word in arguments):
        return False
    command = command_of(arguments)
    writes_file = any(word.split("=")[0] == "--out" for word in arguments)
    return command == "" or (command == "sample" and not writes_file)


def command_of(arguments: "list[str]") -> str:
    """Give the first word that is neither an option nor an option's value; "" without one."""
    words = iter(arguments)
    for word in words:
        if word in OPTIONS_WITH_VALUE:
            next(words, None)
        elif not word.startswith("-"):
            return word
    return ""


def check_linux(kind: str, *, arguments: "list[str]", may_install: bool) -> None:
    """Look for a screen and for Qt's shared libraries, before Qt aborts over their absence."""
    window = kind == "run" and opens_window(arguments)
    platform = os.environ.get("QT_QPA_PLATFORM", "")
    on_screen = window and platform in ("", "xcb", "wayland")
    if on_screen and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        stop(NO_SCREEN)
    draws = kind == "test" or window or command_of(arguments) in COMMANDS_THAT_DRAW
    tables = []
    if draws:
        tables.append(QT_CORE)
    if on_screen:
        tables.append(QT_X11 if os.environ.get("DISPLAY") else QT_WAYLAND)
    packages = [package for table in tables for package in missing(table)]
    if packages:
        provide(packages, may_install=may_install)


def missing(table: "dict[str, str]") -> "list[str]":
    """Give the packages whose shared library the loader cannot find.

    The loader that is asked here is the one Qt will use.
    """
    packages = []
    for library, package in table.items():
        try:
            ctypes.CDLL(library)
        except OSError:
            packages.append(package)
    return packages


def provide(packages: "list[str]", *, may_install: bool) -> None:
    """Install Debian packages as root or after asking; otherwise name them and stop."""
    apt = shutil.which("apt-get")
    names = " ".join(packages)
    if apt is None:
        stop(
            f"fluiddesk needs shared libraries that this system lacks; Debian calls them: {names}. "
            "Install what your system calls them, then start again."
        )
    line = "apt-get install --yes --no-install-recommends " + names
    is_root = os.geteuid() == 0
    if not may_install or not (is_root or agrees("sudo " + line)):
        stop("fluiddesk needs system packages that are missing. Install them with:\n  sudo " + line)
    say("Installing system packages: " + names)
    sudo = [] if is_root else ["sudo"]
    command = [*sudo, apt, *line.split()[1:]]
    if run_aside(command).returncode != 0:
        run_aside([*sudo, apt, "update"])  # a fresh machine has no package lists yet
        if run_aside(command).returncode != 0:
            stop("The system packages could not be installed. Try it by hand:\n  sudo " + line)


def agrees(line: str) -> bool:
    """Show a command to the person at the terminal and ask; without a terminal, no."""
    if not (sys.stdin and sys.stdin.isatty()):
        return False
    sys.stderr.write("fluiddesk needs system packages that are missing. Run this now?\n")
    sys.stderr.write(f"  {line}\n[Y/n] ")
    sys.stderr.flush()
    return sys.stdin.readline().strip().lower() in ("", "y", "yes")


# --- the environment ----------------------------------------------------------------------------


def venv_folder(checkout: Path) -> Path:
    """Choose where the environment lives: in the checkout, or the cache of who runs it."""
    inside = checkout / ".venv"
    if os.access(str(inside if inside.is_dir() else checkout), os.W_OK):
        return inside
    if is_ready(inside, "run"):
        return inside
    mark = hashlib.sha256(str(checkout).encode()).hexdigest()[:12]
    return user_cache() / "fluiddesk" / ("venv-" + mark)


def user_cache() -> Path:
    """Give the folder where this system keeps what can be made again."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches"
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    return named if named.is_absolute() else Path.home() / ".cache"


def python_of(venv: Path) -> Path:
    """Give the interpreter of an environment, there or not."""
    if sys.platform == "win32":
        return venv / "Scripts" / "python.exe"
    return venv / "bin" / "python"


def lock_file(kind: str) -> Path:
    """Give the list of packages, with versions and hashes, for a kind of use."""
    return _CHECKOUT / "resources" / f"lock-{kind}.txt"


def stamp(venv: Path, kind: str) -> str:
    """Sum up what an environment must hold and where it stands; any change makes it stale."""
    digest = hashlib.sha256()
    digest.update(lock_file("run").read_bytes())
    if kind == "test":
        digest.update(lock_file("test").read_bytes())
    digest.update(f"{_CHECKOUT}\n{venv}\n".encode("utf-8", "surrogateescape"))
    with contextlib.suppress(OSError):
        # Names the interpreter the environment was made with.
        digest.update((venv / "pyvenv.cfg").read_bytes())
    return digest.hexdigest()


def stamp_file(venv: Path, kind: str) -> Path:
    """Give the file that says an environment is complete; it is written last of all."""
    return venv / ("ready-" + kind)


def is_ready(venv: Path, kind: str) -> bool:
    """Whether an environment is complete; one for the tests also serves the program."""
    try:
        if not python_of(venv).exists():
            return False
    except OSError:
        # Somebody else's environment, whose interpreter lies where this user may not look.
        return False
    kinds = ("run", "test") if kind == "run" else (kind,)
    for one in kinds:
        try:
            found = stamp_file(venv, one).read_text()
        except OSError:
            continue
        if found.strip() == stamp(venv, one):
            return True
    return False


def make_ready(venv: Path, kind: str, *, may_install: bool) -> None:
    """Make or complete an environment: interpreter, locked packages, path to the checkout."""
    say(f"Preparing {venv} (once; this takes from one to several minutes).")
    for one in ("run", "test"):
        with contextlib.suppress(OSError):
            stamp_file(venv, one).unlink()
    if not is_usable(venv):
        need_venv_module(may_install=may_install)
        make = [base_python(), "-m", "venv", "--clear", str(venv)]
        report_failure(run_aside(make), f"The environment {venv} could not be made.")
    (venv / ".gitignore").write_text("*\n")
    install_packages(venv, kind)
    point_to_checkout(venv)
    stamp_file(venv, kind).write_text(stamp(venv, kind) + "\n")


def is_usable(venv: Path) -> bool:
    """Whether an environment has a new enough interpreter that starts, and pip in it."""
    if not python_of(venv).exists():
        return False
    test = f"import sys, pip; sys.exit(sys.version_info[:2] < {OLDEST_PYTHON!r})"
    try:
        return run_aside([str(python_of(venv)), "-c", test]).returncode == 0
    except OSError:
        return False


def need_venv_module(*, may_install: bool) -> None:
    """Debian keeps what makes environments in a package of its own."""
    if importlib.util.find_spec("ensurepip") and importlib.util.find_spec("venv"):
        return
    provide(["python{}.{}-venv".format(*sys.version_info[:2])], may_install=may_install)


def base_python() -> str:
    """Give the interpreter behind this one, so that no environment is built upon another."""
    return getattr(sys, "_base_executable", "") or sys.executable


def install_packages(venv: Path, kind: str) -> None:
    """Install exactly the locked packages, each checked against its hash."""
    pip = [str(python_of(venv)), "-m", "pip", "--disable-pip-version-check", "--no-input"]
    wanted = ["--require-hashes", "--only-binary", ":all:", "-r", str(lock_file(kind))]
    done = run_aside([*pip, "install", "--quiet", *wanted])
    if done.returncode and any(sign in done.stdout for sign in SIGNS_OF_NO_NETWORK):
        stop(
            "No package index could be reached, so the packages fluiddesk needs could not be "
            "fetched. Connect to the network and start again; what is already there is kept."
        )
    report_failure(done, "The packages fluiddesk needs could not be installed.")


def point_to_checkout(venv: Path) -> None:
    """Let the environment find the package in the checkout, without building anything."""
    ask = "import sysconfig; print(sysconfig.get_path('purelib'))"
    done = run_aside([str(python_of(venv)), "-c", ask])
    report_failure(done, f"The environment {venv} does not answer.")
    path = Path(done.stdout.strip()) / "fluiddesk-checkout.pth"
    path.write_text(str(_CHECKOUT) + "\n", encoding="utf-8")


def start_again(venv: Path) -> None:
    """Replace this process by the same command in the environment."""
    words = [word for word in sys.orig_argv[1:] if word != FORBID_SYSTEM_PACKAGES]
    command = [str(python_of(venv)), *words]
    os.environ.pop("__PYVENV_LAUNCHER__", None)  # macOS: names the interpreter left behind
    if sys.platform == "win32":
        sys.exit(subprocess.call(command))
    sys.stdout.flush()
    sys.stderr.flush()
    os.execv(command[0], command)  # noqa: S606 - the same program goes on, no shell is wanted


@contextlib.contextmanager
def only_one_at_a_time() -> "Iterator[None]":
    """Hold a lock while the environment is made; the system frees it even after a kill.

    Commands started meanwhile share it, so that an orphaned install is waited for.
    """
    with (_CHECKOUT / "pyproject.toml").open() as handle:
        if sys.platform != "win32":
            import fcntl

            os.set_inheritable(handle.fileno(), True)  # noqa: FBT003 - its only argument
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield


# --- running others -----------------------------------------------------------------------------


def say(message: str) -> None:
    """Tell what is going on; on stderr, as stdout belongs to answers."""
    sys.stderr.write(message + "\n")
    sys.stderr.flush()


def run_aside(command: "list[str]") -> "subprocess.CompletedProcess[str]":
    """Run a command with its words kept, so that they show only when it fails."""
    return subprocess.run(
        command,
        check=False,
        close_fds=False,  # the lock of `only_one_at_a_time` goes with it
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
    )


def report_failure(done: "subprocess.CompletedProcess[str]", sentence: str) -> None:
    """Stop with a sentence and the last words of a command that failed."""
    if done.returncode:
        tail = "\n".join(done.stdout.strip().splitlines()[-15:])
        stop(sentence + "\n" + tail)
