"""The command line.  It only wires: every command has a Python twin that does the work."""

from reedmill.cli.commands import cli, main
from reedmill.cli.pack import clean_command, pack_command

cli.add_command(pack_command)
cli.add_command(clean_command)

__all__ = ["cli", "main"]
