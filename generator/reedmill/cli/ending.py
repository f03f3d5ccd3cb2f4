"""The end of a command that failed: its message and its exit code.

Click's own mistakes (an option it does not know, a word too many) quote the command line,
and an error nobody foresaw quotes whatever it was about: both go through the one door.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from reedmill.cli.saying import DETAILS, show_details, warn

if TYPE_CHECKING:
    from reedmill.base.errors import ReedmillError


def say_error(error: ReedmillError) -> int:
    """Print one of our own errors; return its exit code."""
    from reedmill.cli.command_remedies import COMMAND_LINE

    warn(*error.worded(COMMAND_LINE).lines)
    return error.exit_code


def say_usage(error: click.ClickException) -> int:
    """Print what click says about the words of a command; return its exit code."""
    ctx = getattr(error, "ctx", None)
    message = error.format_message()
    if isinstance(error, getattr(click.exceptions, "NoArgsIsHelpError", ())):
        warn(*message.split("\n"))  # the whole help, which is ours
        return error.exit_code
    if ctx is not None:
        warn(*ctx.get_usage().split("\n"), f"Try '{ctx.command_path} --help' for help.", "")
    warn(f"Error: {message}{_example(error)}")
    return error.exit_code


def _example(error: click.ClickException) -> str:
    """Return the first example from the help of a command that lacks an argument."""
    command = error.ctx.command if isinstance(error, click.MissingParameter) and error.ctx else None
    found = re.search(r"^ *(reedmill .*)$", (command and command.help) or "", re.MULTILINE)
    return f" Write for example: {found[1]}" if found else ""


def say_unforeseen(error: Exception) -> int:
    """Print a sentence about an unforeseen error and how to see more; return 1."""
    warn(_unforeseen(error))
    show_details(error)
    return 1


def _unforeseen(error: Exception) -> str:
    from reedmill.base.errors import reason_of

    match error:
        case MemoryError():
            return "This machine does not have enough memory for that."
        case OSError(filename=str() | bytes() as name):
            shown = name if isinstance(name, str) else repr(name)
            return f"{shown}: cannot be read or written ({reason_of(error)})."
        case _:
            return (
                f"Reedmill failed ({type(error).__name__}: {error}). That is a mistake in "
                f"Reedmill, not in your files. Give the command again with {DETAILS}=1 before "
                "it to see where, and please report what it shows."
            )
