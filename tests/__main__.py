"""`python3 -m tests`: makes the environment ready, starts a PostgreSQL and runs every test.

Further words go to pytest: `python3 -m tests tests/domain -k viscosity`.
"""

import os
import sys

from fluiddesk import bootstrap


def main() -> int:
    """Run pytest and give its exit code."""
    bootstrap.ensure("test")
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from tests.running import run_tests

    return run_tests(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
