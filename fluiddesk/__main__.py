"""`python -m fluiddesk`: makes the environment ready, then hands over to the command line."""

import sys

from fluiddesk import bootstrap


def main() -> int:
    """Start the program and give its exit code."""
    bootstrap.ensure("run")
    from fluiddesk.cli.main import main as run

    return run()


if __name__ == "__main__":
    sys.exit(main())
