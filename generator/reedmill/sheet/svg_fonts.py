"""Fonts embedded in an SVG, so that it looks the same on machines without ours.

LilyPond draws the signs of music as outlines but names its texts' fonts only: ``serif``,
``sans-serif``, ``monospace``, which are other fonts on every machine, of other widths, so that
words run into each other.  Here each face that a page uses is put into it, cut down to the
letters that the page has, as WOFF (W3C).  The texts stay texts: they can be sought, copied and
read aloud.  Browsers and what is made with them show such faces; Inkscape and librsvg do not,
and take the machine's own as before.
"""

from __future__ import annotations

import base64
import io
import logging
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from html import escape, unescape
from pathlib import Path

from reedmill.sheet.fonts import Font
from reedmill.sheet.page_files import LANGUAGE

_GENERIC = {"serif": "C059", "sans-serif": "NimbusSans", "monospace": "NimbusMonoPS"}
_STYLES = {
    "serif": ("Roman", "Bold", "Italic", "BdIta"),
    "sans-serif": ("Regular", "Bold", "Italic", "BoldItalic"),
    "monospace": ("Regular", "Bold", "Italic", "BoldItalic"),
}
_OTHER = "other"  # letters that LilyPond's own fonts lack
_TEXT = re.compile(r"<text\b([^>]*)>(.*?)</text>", re.S)
_TAG = re.compile(r"<[^>]*>")
_FAMILY = re.compile(r'font-family="(serif|sans-serif|monospace)"')


@dataclass(frozen=True, slots=True, order=True)
class Face:
    """One face of a font family, as an SVG names it."""

    generic: str
    bold: bool
    italic: bool

    @property
    def file(self) -> str:
        """The name of LilyPond's file of the face."""
        style = _STYLES[self.generic][self.bold + 2 * self.italic]
        return f"{_GENERIC[self.generic]}-{style}.otf"


def with_fonts(svg: bytes, folder: Path | None, others: Iterable[Font] = ()) -> bytes:
    """Return *svg* with the faces that it uses, subset to its letters.

    *folder* is where LilyPond's fonts are; without one the SVG is given back as it is.
    *others* draw what these lack.
    """
    if folder is None:
        return svg
    text = svg.decode()
    rules = [*_own_rules(text, folder), *_other_rules(others)]
    named = _FAMILY.sub(r"""font-family="'reedmill-\1', 'reedmill-other', \1\"""", text)
    return named.replace("<![CDATA[\n", "<![CDATA[\n" + "".join(rules), 1).encode()


def with_title(svg: bytes, title: str) -> bytes:
    """Return *svg* with its language and the name screen readers say (SVG 2, 5.7 and 5.8)."""
    head, end, rest = svg.partition(b">")
    named = f' xml:lang="{LANGUAGE}">\n<title>{escape(title, quote=False)}</title>'.encode()
    return head + named + rest if end and title else svg


def letters_of(svg: str) -> dict[Face, set[str]]:
    """Return the letters that each face of *svg* draws."""
    found: dict[Face, set[str]] = defaultdict(set)
    for text in _TEXT.finditer(svg):
        family = _FAMILY.search(text[1])
        if family:
            face = Face(family[1], 'font-weight="bold"' in text[1], "italic" in text[1])
            found[face] |= set(unescape(_TAG.sub("", text[2]))) - set("\n")
    return found


def _own_rules(svg: str, folder: Path) -> Iterator[str]:
    for face, letters in sorted(letters_of(svg).items()):
        path = folder / face.file
        if letters and path.is_file():
            yield _rule(f"reedmill-{face.generic}", face, str(path), letters)


def _other_rules(others: Iterable[Font]) -> Iterator[str]:
    for font in others:
        for path, bold in ((font.path, False), (font.bold, True)):
            if path:
                yield _rule(f"reedmill-{_OTHER}", Face("serif", bold, italic=False), path,
                            font.letters, spread=True)  # fmt: skip


def _rule(
    family: str, face: Face, path: str, letters: Iterable[str], *, spread: bool = False
) -> str:
    """Return the face as a CSS rule; *spread*: with its letters, as several share a name."""
    chosen = "".join(sorted(letters))
    data = base64.b64encode(_cut(path, chosen)).decode()
    span = ", ".join(f"U+{ord(each):X}" for each in chosen)
    return (
        f"@font-face {{ font-family: '{family}'; "
        f"font-weight: {'bold' if face.bold else 'normal'}; "
        f"font-style: {'italic' if face.italic else 'normal'}; "
        + (f"unicode-range: {span}; " if spread else "")
        + f"src: url(data:font/woff;base64,{data}) format('woff'); }}\n"
    )


@cache
def _cut(path: str, letters: str) -> bytes:
    """Return the font at *path* subset to *letters*, as WOFF; the same bytes each time."""
    from fontTools import subset

    options = subset.Options(
        flavor="woff", hinting=False, layout_features=["*"], notdef_outline=True,
        name_IDs=[0, 1, 2, 13, 14], recalc_timestamp=False,
    )  # fmt: skip
    options.drop_tables += ["FFTM", "PCLT", "PfEd"]
    logging.getLogger("fontTools").setLevel(logging.ERROR)  # of what it leaves out it would tell
    font = subset.load_font(path, options)
    try:
        cutter = subset.Subsetter(options)
        cutter.populate(text=letters)
        cutter.subset(font)
        written = io.BytesIO()
        subset.save_font(font, written, options)
    finally:
        font.close()
    return written.getvalue()
