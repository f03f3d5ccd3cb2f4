"""Shell completion: the script a shell needs, and the answers to its questions.

A shell reads one candidate a line, or a few lines to a candidate, so a line feed in a name or
in what was typed so far would be a candidate of its own.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from reedmill.cli.saying import say_block

if TYPE_CHECKING:
    import click
    from click.shell_completion import CompletionItem

VARIABLE = "_REEDMILL_COMPLETE"  # the shell's script sets it, as click has it


def completion_script(commands: click.Command, shell: str) -> str | None:
    """Return the completion script for *shell*; ``None`` when click does not know it."""
    from click.shell_completion import get_completion_class

    kind = get_completion_class(shell)
    return kind(commands, {}, "reedmill", VARIABLE).source() if kind else None


def answer_shell(commands: click.Command, asked: str) -> int:
    """Print the completions the shell asked for in ``VARIABLE``; return the exit code."""
    from click.shell_completion import get_completion_class

    shell, _, wanted = asked.partition("_")
    kind = get_completion_class(shell)
    if kind is None or wanted not in ("source", "complete"):
        return 1
    asking = kind(commands, {}, "reedmill", VARIABLE)
    if wanted == "source":
        say_block(asking.source())
        return 0
    for item in asking.get_completions(*asking.get_completion_args()):
        say_block(asking.format_completion(_on_one_line(item)))
    return 0


def shell_asks() -> str:
    """Return the completion request of the shell; an empty string when there is none."""
    return os.environ.get(VARIABLE, "")


def _on_one_line(item: CompletionItem) -> CompletionItem:
    from click.shell_completion import CompletionItem

    from reedmill.base.text import printable

    told = printable(item.help) if item.help else None
    return CompletionItem(printable(str(item.value)), item.type, told)
