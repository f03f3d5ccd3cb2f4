"""Options of commands that also make a page of a record book; only click is imported at the top."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.saying import say

if TYPE_CHECKING:
    from reedmill.make.made_files import PlacedFile

_KIND = "page"
_OUT = "output"

to_page_option = click.option(
    "--to", metavar="KIND",
    help="Also make a file: page (all of it, drawn, for a browser and for paper).",
)  # fmt: skip
page_out_option = click.option(
    "--out", metavar="PLACE",
    help="With --to: the folder for the file, or its own name if that ends in .html.  "
    "[default with --to: output]",
)  # fmt: skip


def page_place(to: str | None, out: str | None) -> str | None:
    """Return the file or folder for the page that is asked for; ``None`` where none is."""
    from reedmill.base.choosing import chosen_word
    from reedmill.base.errors import InputError

    if to is not None:
        chosen_word("kind of file", to, (_KIND,))
        return out or _OUT
    if out is not None:
        raise InputError(
            "--out is where the page goes, and none is asked for. Add --to page, or leave it out."
        )
    return None


def page_row(placed: PlacedFile | None) -> dict[str, object]:
    """Return what data for programs says of the page; nothing where none was made."""
    return {"files": [{"kind": _KIND, "file": str(placed.path)}]} if placed else {}


def say_page(placed: PlacedFile | None) -> None:
    """Print where the page is, after an empty line; nothing where none was made."""
    from reedmill.cli.asked import file_line

    if placed:
        say("", file_line(_KIND, (_KIND,), placed.path, placed.before))
