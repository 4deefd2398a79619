"""What the person at the desk can put right."""


class OperatorError(Exception):
    """A fault with a remedy: the text names the value, the place and what to do next.

    Anything that is not an ``OperatorError`` is the program's own fault and is shown as such.
    """

    exit_code = 65
    """The exit code of the command line (65: bad data, after sysexits)."""


class UsageError(OperatorError):
    """The command or the choice does not make sense as given."""

    exit_code = 64


class NotFoundError(OperatorError):
    """What was asked for is not there: a file, a machine, a database."""

    exit_code = 66


class UnavailableError(OperatorError):
    """Something the program needs cannot be reached: a server, a screen, a library."""

    exit_code = 69


class CannotWriteError(OperatorError):
    """A file or folder cannot be written."""

    exit_code = 73


class NoPermissionError(OperatorError):
    """The person may not read what is there."""

    exit_code = 77


class BusyError(OperatorError):
    """Somebody else is using it right now; trying again may succeed."""

    exit_code = 75


class CancelledError(OperatorError):
    """The person stopped the work; nothing was changed."""

    exit_code = 75


class StaleEditError(OperatorError):
    """The record was changed by somebody else since it was read."""

    exit_code = 75


class WrongVersionError(OperatorError):
    """The database belongs to another version of the program."""

    exit_code = 78
