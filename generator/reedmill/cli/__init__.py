"""The command line.  It only wires: every command has a Python twin that does the work."""

from reedmill.cli.commands import cli, main

__all__ = ["cli", "main"]
