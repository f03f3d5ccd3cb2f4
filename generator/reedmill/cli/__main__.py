"""``python -m reedmill.cli`` is the ``reedmill`` command."""

from reedmill.cli.commands import main

main()
