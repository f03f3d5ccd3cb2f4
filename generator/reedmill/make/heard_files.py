"""Files of a heard take: the drill's sheet with marks, and a picture of the pitch."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.choosing import chosen_word
from reedmill.base.writing import Parts
from reedmill.make.made_files import (
    FileName,
    PlacedFile,
    RequestedFile,
    check_free,
    place,
    tentative,
)
from reedmill.make.naming import page_words, take_file_name

if TYPE_CHECKING:
    from reedmill.score.footprints import Footprints
    from reedmill.score.score import Score
    from reedmill.sheet.look import Look

SHEET, PICTURE = "sheet", "picture"
HEARD_FILES = (SHEET, PICTURE)
"""What can be made of a take."""

_WORDS = {SHEET: "heard in", PICTURE: "picture of"}


def heard_kinds(text: str) -> tuple[str, ...]:
    """Parse the kinds in *text*, with commas between; ``InputError`` for an unknown one.

    >>> heard_kinds("picture, sheet")
    ('sheet', 'picture')
    """
    asked = {chosen_word("kind of file", word.strip(), HEARD_FILES) for word in text.split(",")}
    return tuple(kind for kind in HEARD_FILES if kind in asked)


def make_heard(
    score: Score,
    prints: Footprints,
    take: Path,
    kinds: Sequence[str],
    out: Path,
    look: Look,
    *,
    replace: bool = False,
) -> list[tuple[str, PlacedFile]]:
    """Write the *kinds* of file that show *prints*, heard in *take*, into the folder *out*.

    Returns each file with its kind.  A picture has a file for each page, as PNG and as SVG.
    ``InputError`` for a file in the way unless it may be replaced; ``RenderError`` when
    LilyPond cannot draw.
    """
    for kind in kinds:
        first = ".pdf" if kind == SHEET else ".svg"
        check_free(out, [RequestedFile(_name(score, take, kind, look), first)], replace=replace)
    drawn = [(kind, *each) for kind in kinds for each in _drawn(score, prints, take, kind, look)]
    with Parts() as parts:
        for _, wanted, content in drawn:
            parts.write(tentative(out, wanted), content)
        placed = place(parts, out, [wanted for _, wanted, _ in drawn], replace=replace)
    return [(kind, each) for (kind, _, _), each in zip(drawn, placed, strict=True)]


def _drawn(
    score: Score, prints: Footprints, take: Path, kind: str, look: Look
) -> list[tuple[RequestedFile, bytes]]:
    from reedmill.sheet.engrave import Engraver

    name = _name(score, take, kind, look)
    if kind == SHEET:
        with Engraver() as engraver:
            from reedmill.sheet.page import pages

            engraver.feed(pages([score], look, heard=[prints]))
            return [(RequestedFile(name, ".pdf"), engraver.sheets(1)[0])]
    from reedmill.sheet.heard_picture import picture

    source, found = picture(score, prints, look), list[tuple[RequestedFile, bytes]]()
    for ending in ("png", "svg"):
        with Engraver(png=ending == "png", svg=ending == "svg") as engraver:
            engraver.feed(source)
            [drawings] = engraver.pictures(1, ending)
        for number, drawing in enumerate(drawings, start=1):
            page = f"-page{number}" if len(drawings) > 1 else ""
            found.append((RequestedFile(name, f"{page}.{ending}"), drawing))
    return found


def _name(score: Score, take: Path, kind: str, look: Look) -> FileName:
    words = (*page_words(look), f"{_WORDS[kind]} {take.stem}")
    return take_file_name(score, words, take)
