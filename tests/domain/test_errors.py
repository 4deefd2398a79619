import pytest

from fluiddesk.domain import errors


@pytest.mark.parametrize(
    ("fault", "code"),
    [
        # The codes of BSD's sysexits.
        (errors.UsageError, 64),
        (errors.OperatorError, 65),
        (errors.NotFoundError, 66),
        (errors.UnavailableError, 69),
        (errors.CannotWriteError, 73),
        (errors.BusyError, 75),
        (errors.StaleEditError, 75),
        (errors.WrongVersionError, 78),
    ],
)
def test_that_a_fault_with_a_remedy_ends_a_command_with_its_code(fault, code):
    assert issubclass(fault, errors.OperatorError)
    assert fault("told").exit_code == code
