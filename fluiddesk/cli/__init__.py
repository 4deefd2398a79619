"""The `fluiddesk` command: answers on stdout, problems on stderr, the outcome as exit code."""
