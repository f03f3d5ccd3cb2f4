"""The command ``reedmill`` and its subcommands.

Nothing but click is imported at the top, so that help is there at once.
"""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

import click

from reedmill.cli.accompanying import backing_command
from reedmill.cli.checking import check_command, format_command
from reedmill.cli.choosing_harps import keys_command
from reedmill.cli.classing import class_command
from reedmill.cli.completing import completion_script
from reedmill.cli.dictating import dictate_command
from reedmill.cli.hearing import hear_command
from reedmill.cli.keeping import record_command
from reedmill.cli.making import make_command
from reedmill.cli.next_practice import next_command
from reedmill.cli.options import Commands, Lenient, OneOf
from reedmill.cli.pack import clean_command, pack_command
from reedmill.cli.placing_command import place_command
from reedmill.cli.progressing import progress_command
from reedmill.cli.saying import WIDEST, say_block
from reedmill.cli.showing import (
    drills_command,
    expand_command,
    notes_command,
    roles_command,
    soundfont_command,
)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": WIDEST},
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


@cli.command("completion", cls=Lenient, short_help="Print the completion script of a shell.")
@click.argument("shell", type=OneOf("shell", "bash", "zsh", "fish"))
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
    hear_command,
    record_command,
    progress_command,
    next_command,
    place_command,
    class_command,
    backing_command,
    dictate_command,
    pack_command,
    clean_command,
    keys_command,
    notes_command,
    roles_command,
    expand_command,
    check_command,
    format_command,
    drills_command,
    soundfont_command,
):
    cli.add_command(command)
