"""Covers: the first page of a book, and the picture that sound files carry.

Both show the harp as the sheets draw it, without its letters: ten holes, the blow notes
over them, the draw notes under them, and every bend filled.  The figure follows from the
layout of the reeds.
"""

from __future__ import annotations

import io
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reedmill.base.errors import InputError, RenderError, reason_of
from reedmill.harp import HOLES, Breath, Reed, ReedKind
from reedmill.harp.layouts import RICHTER, Layout
from reedmill.harp.reeds import plain_reeds
from reedmill.pack.pages.chapter import Front
from reedmill.pack.pages.lesson_pages import book_body, harp_in_words
from reedmill.pack.pages.prose import HELPERS
from reedmill.sheet.frame import preamble
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    LINE,
    PAPER,
    at,
    box,
    coloured,
    lilypond_string,
    overlay,
    resized,
    rule,
    small,
    wrapped,
)
from reedmill.sheet.wrapping import wide_letters

if TYPE_CHECKING:
    from mutagen.flac import Picture

_ROWS_OVER, _ROWS_UNDER = 3, 4  # notes a hole may have over and under its number
_ROW_SHARE = 0.62  # height of a row to the width of a hole
_HEIGHT_SHARE = _ROW_SHARE * (1 + _ROWS_OVER + _ROWS_UNDER) / len(HOLES)  # of the figure's width
_TITLE_SIZES = ((20, 15.0), (40, 12.0), (80, 8.0))  # letters up to which a title is so large
_ART_SIZES = ((18, 11.0), (40, 9.0), (80, 6.0))


@dataclass(frozen=True, slots=True)
class Paint:
    """The colours of the figure, each a name the page defines."""

    open: str  # frame of a natural note
    filled: str  # ground of a bend
    comb: str  # ground of the hole numbers
    number: str


_ON_PAPER = Paint(LINE, ACCENT, INK, PAPER)
_ON_ACCENT = Paint(PAPER, PAPER, PAPER, ACCENT)


def harp_figure(width: float, paint: Paint, layout: Layout = RICHTER) -> str:
    """Draw *layout*, *width* staff spaces wide; its lower left corner is 0, 0."""
    step = width / len(HOLES)
    row = step * _ROW_SHARE
    comb = _ROWS_UNDER * row
    layers = [
        coloured(paint.comb, box(0, comb + 0.2, width - 0.4, row - 0.4, filled=True, line=0.1))
    ]
    for n, hole in enumerate(HOLES):
        size = row * 0.62
        digits = lilypond_string(str(hole))
        number = f"\\center-align \\sans \\bold \\abs-fontsize #{size * 5:.3g} {digits}"
        layers.append(coloured(paint.number, at((n + 0.5) * step - 0.2, comb + row * 0.28, number)))
        for reed in plain_reeds(layout, hole):
            y = comb + _row_of(reed) * row + 0.2
            layers.append(_note(reed, (n * step, y), (step - 0.4, row - 0.4), paint))
    return overlay(*layers)


def _row_of(reed: Reed) -> int:
    """Return rows above (or, negative, below) the comb: further out with each semitone of bend."""
    return (reed.bend + 1) * (1 if reed.breath is Breath.BLOW else -1)


def _note(reed: Reed, corner: tuple[float, float], size: tuple[float, float], paint: Paint) -> str:
    filled = reed.kind is ReedKind.BEND
    frame = box(*corner, *size, filled=filled, line=0.14)
    return coloured(paint.filled if filled else paint.open, frame)


def cover_body(front: Front, look: Look) -> str:
    """Return the first page of a book, as the body of a LilyPond book; see ``pages.engraved``.

    Long texts are set smaller, and all of it where even that is more than a page.
    """
    width = look.width
    column = [
        f"\\vspace #{(look.height - 90) / 9:.3g}",
        small("a course for the ten-hole harp"),
        "\\vspace #1.6",
        *_words(front, width),
        "\\vspace #4",
        f"\\with-dimensions #'(0 . {width:g}) #'(0 . {width * _HEIGHT_SHARE:g}) "
        + harp_figure(width, _ON_PAPER, front.layout),
        "\\vspace #2",
        rule(width, INK),
        "\\vspace #0.6",
        _fitted(width, 16, f"\\left-column {{ {' '.join(_facts(front, width))} }}"),
    ]
    lines = "\n".join(column)
    page = f"\\override #'(baseline-skip . 3.4) \\left-column {{\n{lines}\n}}"
    markup = _fitted(width, look.height - 4, page)
    return book_body(front.title, "oddFooterMarkup = ##f", f"\\markup {markup}")


def _words(front: Front, width: float) -> list[str]:
    """Return the title and what the course is about."""
    title = coloured(INK, resized(_size(front.title, _TITLE_SIZES), wrapped(front.title, width)))
    head = _fitted(width, 26, f"\\override #'(baseline-skip . 3) \\bold {title}")
    if not front.about:
        return [head]
    about = coloured(FAINT, resized(2.5, wrapped(front.about, width * 0.85)))
    below = _fitted(width, 12, f"\\override #'(baseline-skip . 2.9) {about}")
    return [head, "\\vspace #0.4", below]


def _fitted(width: float, height: float, markup: str) -> str:
    return f"\\fitted-in #'({width:g} . {height:g}) {markup}"


def _size(title: str, sizes: Sequence[tuple[int, float]]) -> float:
    return next((size for most, size in sizes if wide_letters(title) <= most), sizes[-1][1] - 2)


def _facts(front: Front, width: float) -> list[str]:
    """Return the student, harps, number of lessons and author, as far as known."""
    harps = " ".join(
        f"\\concat {{ {harp_in_words(name)} "
        f"{lilypond_string(',' if n < len(front.harps) else '')} }}"
        for n, name in enumerate(front.harps, start=1)
    )
    wrap = f"\\override #'(baseline-skip . 3) \\override #'(line-width . {width * 0.8:g})"
    entries = [
        ("for", wrapped(front.student, width * 0.8) if front.student else ""),
        ("harps", f"{wrap} \\wordwrap {{ {harps} }}" if harps else ""),
        ("lessons", lilypond_string(str(front.lessons)) if front.lessons else ""),
        ("by", wrapped(front.author, width * 0.8) if front.author else ""),
    ]
    return [
        overlay(small(label), at(11, 0, coloured(INK, f"\\sans {resized(0.5, value)}")))
        for label, value in entries
        if value
    ]


# --- the picture of a sound file --------------------------------------------------------

ART_MM = 120
"""Edge of the square; 709 pixels at LilyPond's 150 to the inch."""
_ART_LOOK = Look()
_ART_MARGIN = 4.5
_ART_PAPER = f"""
#(set-default-paper-size '(cons (* {ART_MM} mm) (* {ART_MM} mm)))
\\paper {{
  top-margin = 0 bottom-margin = 0 left-margin = 0 right-margin = 0 indent = 0
  top-markup-spacing = #'((basic-distance . 0) (padding . 0))
  oddHeaderMarkup = ##f oddFooterMarkup = ##f evenHeaderMarkup = ##f evenFooterMarkup = ##f
}}
"""


def cover_art(title: str, label: str = "") -> bytes:
    """Draw a square PNG with *title*, a *label* such as the lesson, and a picture of the harp.

    ``RenderError`` when LilyPond cannot draw it.
    """
    from reedmill.sheet.engrave import Engraver

    with Engraver(png=True) as engraver:
        engraver.feed(art_source(title, label))
        [[page]] = engraver.pictures(1, "png")
    return page


def art_source(title: str, label: str) -> str:
    """Return the LilyPond input for ``cover_art``."""
    edge = ART_MM / _ART_LOOK.space_mm
    inner = edge - 2 * _ART_MARGIN
    size = _size(title, _ART_SIZES)
    name = f"\\bold {coloured(PAPER, resized(size, wrapped(title, inner)))}"
    words = f"\\override #'(baseline-skip . 3) {name}"
    below = coloured(PAPER, f"\\sans {resized(1, wrapped(label, inner))}") if label else "\\null"
    column = f"\\override #'(baseline-skip . 4.5) \\left-column {{ {words} \\vspace #0.4 {below} }}"
    room = edge - 3 * _ART_MARGIN - inner * _HEIGHT_SHARE
    text = f"\\general-align #Y #UP {_fitted(inner, room, column)}"
    # the ground runs over the edges; what LilyPond places is smaller, or it would not fit
    ground = at(-1, -edge - 1, f"\\filled-box #'(0 . {edge + 2:g}) #'(0 . {edge + 2:g}) #0")
    page = overlay(
        coloured(ACCENT, ground),
        at(_ART_MARGIN, -_ART_MARGIN, text),
        at(_ART_MARGIN, -edge + _ART_MARGIN, harp_figure(inner, _ON_ACCENT)),
    )
    fixed = f"\\with-dimensions #'(0 . {edge - 2:g}) #'({2 - edge:g} . 0) {page}"
    book = f'\\book {{ \\bookOutputName "sheet-0"\n\\markup {fixed}\n}}'
    return "\n".join([preamble(_ART_LOOK), HELPERS, _ART_PAPER, book])


def with_cover(audio: bytes, kind: str, png: bytes) -> bytes:
    """Return *audio* of type *kind* (``flac``, ``ogg`` or ``mp3``) with *png* as its cover.

    Its other tags are kept, an earlier cover is not.  ``InputError`` for a type that carries
    no picture, ``RenderError`` for a file that is not of its type.
    """
    from mutagen import MutagenError

    writers = {"flac": _flac_cover, "ogg": _ogg_cover, "mp3": _mp3_cover}
    if kind not in writers:
        raise InputError(f'a sound file of type "{kind}" carries no cover; write flac, ogg or mp3.')
    file = io.BytesIO(audio)
    try:
        writers[kind](file, png)
    except MutagenError as error:
        raise RenderError(
            f"the cover could not be put into the sound file ({reason_of(error)})."
        ) from None
    return file.getvalue()


def _no_padding(_: object) -> int:
    """Return 0, no padding for later changes: its size would depend on what was there."""
    return 0


def _flac_cover(file: io.BytesIO, png: bytes) -> None:
    from mutagen.flac import FLAC

    tagged = FLAC(file)
    tagged.clear_pictures()
    tagged.add_picture(_picture(png))
    file.seek(0)
    tagged.save(file, padding=_no_padding)


def _ogg_cover(file: io.BytesIO, png: bytes) -> None:

    from mutagen.oggvorbis import OggVorbis

    tagged = OggVorbis(file)
    tagged["METADATA_BLOCK_PICTURE"] = [b64encode(_picture(png).write()).decode()]
    file.seek(0)
    tagged.save(file, padding=_no_padding)


def _mp3_cover(file: io.BytesIO, png: bytes) -> None:
    from mutagen.id3 import APIC, ID3, ID3NoHeaderError, PictureType

    try:
        tagged = ID3(file)
    except ID3NoHeaderError:
        tagged = ID3()
    tagged.delall("APIC")
    tagged.add(APIC(encoding=3, mime="image/png", type=PictureType.COVER_FRONT, data=png))
    file.seek(0)
    tagged.save(file, padding=_no_padding)


def _picture(png: bytes) -> Picture:
    from mutagen.flac import Picture
    from mutagen.id3 import PictureType

    picture = Picture()
    picture.type, picture.mime, picture.data = PictureType.COVER_FRONT, "image/png", png
    picture.width = picture.height = int.from_bytes(png[16:20])  # of the IHDR chunk
    picture.depth = 24
    return picture
