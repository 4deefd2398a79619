"""What was done at the machine, keyed from the visit sheet."""
