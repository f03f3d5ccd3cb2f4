"""The command line, which only wires: every command has a Python twin that does the work.

Nothing is imported at the top, so that a signal is heeded before anything takes time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import click

    from reedmill.cli.commands import cli

__all__ = ["cli", "main"]


def __getattr__(name: str) -> click.Group:
    if name != "cli":
        raise AttributeError(name)
    from reedmill.cli.commands import cli

    return cli


def main() -> None:
    """Run the ``reedmill`` command; after a signal, end tidily with the shells' exit code."""
    from reedmill.base.stopping import Stopped, heed, say_so, stop_heeding

    code: object = 0
    try:
        heed()
        try:
            _run()
        except SystemExit as ended:
            code = ended.code
        stop_heeding()
    except Stopped:
        pass
    stopped = stop_heeding()
    if stopped:
        say_so()
    _freeze()
    raise SystemExit(stopped or code)


def _freeze() -> None:
    """Let Python end without collecting garbage that is about to go anyway: saves 0.1 s."""
    import gc

    gc.freeze()


def _run() -> None:
    import gc
    import os
    import sys
    from types import ModuleType

    # A short run makes little garbage: looking for it costs a tenth of the imports.
    gc.set_threshold(1_000_000)
    # Our sums need no matrix threads, and starting them costs numpy half its import.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Nor is its manual read here: to write it into all functions takes a fifth of the import.
    for manual in ("numpy._core._add_newdocs", "numpy._core._add_newdocs_scalars"):
        sys.modules.setdefault(manual, ModuleType(manual))
    from reedmill.base.light_classes import lighten_dataclasses

    lighten_dataclasses()
    from reedmill.cli.commands import cli
    from reedmill.cli.completing import answer_shell, shell_asks
    from reedmill.cli.ending import say_unforeseen
    from reedmill.cli.saying import help_width, open_door

    open_door()
    try:
        if asked := shell_asks():
            raise SystemExit(answer_shell(cli, asked))
        cli(prog_name="reedmill", terminal_width=help_width())
    except Exception as error:
        raise SystemExit(say_unforeseen(error)) from None
