"""The command ``reedmill`` and all that can follow it.

Nothing but click is imported at the top, so that help is there at once.
"""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

import click

from reedmill.cli.backing import backing_command
from reedmill.cli.checking import check_command, format_command
from reedmill.cli.completing import answer_shell, completion_script, shell_asks
from reedmill.cli.ending import say_unforeseen
from reedmill.cli.making import make_command
from reedmill.cli.options import Commands
from reedmill.cli.pack import clean_command, pack_command
from reedmill.cli.saying import open_door, say_block
from reedmill.cli.showing import (
    drills_command,
    expand_command,
    notes_command,
    roles_command,
    soundfont_command,
)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="reedmill", message="%(prog)s %(version)s")
def cli() -> None:
    """Practice material for the ten-hole diatonic harmonica, from a short pattern.

    \b
    A first sheet:    reedmill make "Home from every rung" --harp G
    What is there:    reedmill drills
    Your own drill:   write mine.drill, then  reedmill check mine.drill
                      and  reedmill make mine.drill --harp A,C --drone
    """


@cli.command("completion", short_help="Print the completion script of a shell.")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell.

    \b
    bash:  reedmill completion bash >> ~/.bashrc
    zsh:   reedmill completion zsh >> ~/.zshrc
    fish:  reedmill completion fish > ~/.config/fish/completions/reedmill.fish
    """
    script = completion_script(cli, shell)
    if script is None:
        raise click.UsageError(f'no completion for the shell "{shell}"')
    say_block(script)


for command in (
    make_command,
    backing_command,
    pack_command,
    clean_command,
    notes_command,
    roles_command,
    expand_command,
    check_command,
    format_command,
    drills_command,
    soundfont_command,
):
    cli.add_command(command)


def main() -> None:
    """The ``reedmill`` command."""
    import gc
    import os

    # A short run makes little garbage: looking for it costs a tenth of the imports.
    gc.set_threshold(100_000)
    # Our sums need no matrix threads, and starting them costs numpy half its import.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    open_door()
    try:
        if asked := shell_asks():
            raise SystemExit(answer_shell(cli, asked))
        cli(prog_name="reedmill")
    except Exception as error:
        raise SystemExit(say_unforeseen(error)) from None
