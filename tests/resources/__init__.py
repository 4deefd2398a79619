"""The files of resources/: every figure has a source, every code is known, limits are in order."""
