"""The entry point of ``python -m reedmill.cli``, which is the ``reedmill`` command."""

from reedmill.cli import main

main()
