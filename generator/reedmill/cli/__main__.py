"""``python -m reedmill.cli`` is the ``reedmill`` command."""

from reedmill.cli import main

main()
