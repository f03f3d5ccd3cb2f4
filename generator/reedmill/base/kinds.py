"""The kind of a file by its first bytes and words, for commands given the wrong file.

A name says nothing: a word processor's file may be called mine.drill.  Every sign of a kind
below is what that format's specification says a file of it begins with, all from memory:

- archives: PKWARE's APPNOTE 4.3 (ZIP), RFC 1952 (gzip), 7-Zip's 7zFormat.txt, RARLAB's technical
  note, bzip2's manual, the .xz file format 2.1.1, POSIX pax (ustar);
- texts: OASIS OpenDocument 1.2 part 3 and ECMA-376 part 2, which name the first parts of a ZIP;
  Microsoft's MS-CFB 2.2 and Rich Text Format 1.9.1; ISO 32000-1, 7.5.2 (PDF); WHATWG HTML;
  XML 1.0; MusicXML 4.0;
- pictures: W3C PNG 5.2, ISO/IEC 10918-1 (JPEG), GIF89a, TIFF 6.0, RFC 9649 (WebP), Microsoft's
  bitmap headers and icons, ISO/IEC 14496-12 with the brands of 23008-12 (HEIF);
- sound and film: RP-001 (Standard MIDI Files), SoundFont 2.04, Microsoft's RIFF and WAVE, RFC 9639
  (FLAC), RFC 3533 (Ogg), ID3v2, ISO/IEC 11172-3 (MPEG audio), Apple's AIFF and M4A, RFC 8794
  (EBML);
- programs: System V ABI (ELF), Microsoft's PE, Apple's Mach-O, the Java class file.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path
from shlex import quote

from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy

HEAD_BYTES = 4096
"""How much of a file tells what it is."""

DRILL, FORM, FEEL, COURSE, TUNING = "drill", "form", "feel", "course", "tuning"
OWN_HARP = "harp of your own"

_TYPE_IT = (
    "Type the notes into a plain text file whose name ends in .drill; patterns/README.md shows how."
)
_SAVE_AS_TEXT = (
    'Open it in the program it was written with, choose "Save as" and plain text (.txt, '
    "encoding UTF-8), and give that file to the command."
)
_UNPACK = "Unpack it first, and name one of the files in it."
_OURS_ONLY = "Reedmill makes such files and reads none: the drill it came from is a text."


@dataclass(frozen=True, slots=True)
class FileKind:
    """A kind of file that no command reads as text."""

    name: str  # with its article
    begins: re.Pattern[bytes]
    instead: str | Remedy  # what to do

    def refusal(self, name: str, wanted: str) -> InputError:
        """Explain why the file *name*, of this kind, is not accepted as the *wanted* thing.

        >>> print(other_kind(b"%PDF-1.7").refusal("a", "a drill").args[0].partition(". ")[0])
        a: this is a PDF, not a drill
        """
        return self.refused(f"{name}: this is {self.name}, not {wanted}.")

    def refused(self, fact: str) -> InputError:
        """Return the error for this *fact*, with what to do instead."""
        if isinstance(self.instead, Remedy):
            return InputError(fact, way_out=self.instead)
        return InputError(f"{fact} {self.instead}")


def _kind(name: str, begins: bytes, instead: str | Remedy) -> FileKind:
    return FileKind(name, re.compile(begins, re.DOTALL), instead)


_OTHERS = (
    _kind(
        "a file of a word processor",
        rb"PK\x03\x04.{26,}?(?:word/|mimetypeapplication/vnd\.oasis\.opendocument\.text)",
        _SAVE_AS_TEXT,
    ),
    _kind(
        "a file of an office program",
        rb"PK\x03\x04.*?(?:\[Content_Types\]\.xml|mimetypeapplication/vnd\.oasis)"
        rb"|\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
        _SAVE_AS_TEXT,
    ),
    _kind("rich text (RTF) of a word processor", rb"\{\\rtf", _SAVE_AS_TEXT),
    _kind("a PDF", rb"%PDF-", "Copy its words into a plain text file, or type the notes into one."),
    _kind("a PNG picture", rb"\x89PNG\r\n\x1a\n", _TYPE_IT),
    _kind("a JPEG picture", rb"\xff\xd8\xff", _TYPE_IT),
    _kind(
        "a picture",
        rb"GIF8[79]a|BM.{12}(?:\x28|\x7c|\x6c|\x0c)\0\0\0|II\*\0|MM\0\*|RIFF....WEBP"
        rb"|....ftyp(?:heic|heix|mif1|avif)|\0\0\x01\0",
        _TYPE_IT,
    ),
    _kind("a MIDI file", rb"MThd\0\0\0\x06", _OURS_ONLY),
    _kind(
        "a SoundFont", rb"RIFF....sfbk",
        Remedy.USE_SOUNDFONT,
    ),
    _kind(
        "a sound file",
        rb"RIFF....WAVE|fLaC|OggS|ID3[\x02-\x04]|\xff[\xfb\xf3\xf2]|....ftypM4A|FORM....AIF[FC]",
        Remedy.USE_TAKE,
    ),
    _kind("a film", rb"....ftyp|\x1aE\xdf\xa3", _TYPE_IT),
    _kind(
        "an archive",
        rb"PK\x03\x04|PK\x05\x06|\x1f\x8b|7z\xbc\xaf|Rar!|BZh[1-9]|\xfd7zXZ|.{257}ustar",
        _UNPACK,
    ),
    _kind("a program", rb"\x7fELF|MZ.{62}|\xcf\xfa\xed\xfe|\xca\xfe\xba\xbe", _TYPE_IT),
    _kind("a web page", rb"(?:\xef\xbb\xbf)?\s*<(?i:!doctype html|html)\b", _TYPE_IT),
    _kind("MusicXML", rb"(?:\xef\xbb\xbf)?\s*<\?xml.*?<score-(?:partwise|timewise)\b", _OURS_ONLY),
    _kind("a file of XML", rb"(?:\xef\xbb\xbf)?\s*<\?xml\b", _TYPE_IT),
)  # fmt: skip

# The first line of a text of ours that is not a comment.
_BEGINS = rb"(?:\xef\xbb\xbf)?(?:[ \t]*(?:#[^\n]*)?\r?\n)*+[ \t]*"
_OURS = {
    DRILL: re.compile(_BEGINS + rb'drill[ \t]*["\xe2]'),
    FORM: re.compile(_BEGINS + rb'form[ \t]*["\xe2]'),
    FEEL: re.compile(_BEGINS + rb'feel[ \t]*["\xe2]'),
    TUNING: re.compile(_BEGINS + rb"(?:blow|draw)[ \t]*="),
    OWN_HARP: re.compile(_BEGINS + rb"harp[ \t]*="),
    COURSE: re.compile(
        _BEGINS
        + rb"(?:(?:title|author|about|harps|tuning|intonation|reference|book|cautions)[ \t]*="
        rb"|\[(?:page|defaults)\]|\[\[(?:lessons|students)\]\])"
    ),
}
_ENDINGS = {
    ".drill": DRILL, ".form": FORM, ".feel": FEEL, ".toml": COURSE,
}  # fmt: skip
_NAMES = {each: f"a {each}" for each in (DRILL, FORM, FEEL, COURSE, TUNING, OWN_HARP)}
_WHICH_IS = {
    FORM: " (the chords of a chorus)", FEEL: " (how a band plays)",
    TUNING: " (which note each reed sounds)",
    OWN_HARP: " (how far each reed is from its place)",
}  # fmt: skip
_USED = {
    DRILL: Remedy.USE_DRILL, FORM: Remedy.USE_FORM, FEEL: Remedy.USE_FEEL,
    COURSE: Remedy.USE_COURSE, TUNING: Remedy.USE_TUNING, OWN_HARP: Remedy.USE_OWN_HARP,
}  # fmt: skip


def other_kind(head: bytes) -> FileKind | None:
    """Return the kind of file that begins with *head*, if no command reads it as text.

    >>> other_kind(b"%PDF-1.7").name
    'a PDF'
    """
    return next((kind for kind in _OTHERS if kind.begins.match(head)), None)


def our_kind(head: bytes, name: str = "") -> str:
    r"""Return which of our text formats begins with *head*, else the one *name* ends in.

    An empty string when neither does.

    >>> our_kind(b'# mine\nform "Eight bars"'), our_kind(b"", "a/b.toml"), our_kind(b"-2 -3")
    ('form', 'course', '')
    """
    said = next((kind for kind, begins in _OURS.items() if begins.match(head)), "")
    return said or _ENDINGS.get(Path(name).suffix.lower(), "")


def kind_in_words(head: bytes, wanted: str) -> str:
    """Name the kind of file that begins with *head*, where it is not the *wanted* one.

    >>> kind_in_words(b"%PDF-1.7", "a SoundFont"), kind_in_words(b"?", "a SoundFont")
    ('is a PDF, not a SoundFont', 'is not a SoundFont')
    """
    other, ours = other_kind(head), our_kind(head)
    name = other.name if other else _NAMES.get(ours, "")
    return f"is {name}, not {wanted}" if name else f"is not {wanted}"


def check_kind(head: bytes, name: str, *wanted: str) -> None:
    """Raise ``InputError`` where *head* begins a known kind of file that is not *wanted*.

    The sentence says what the file called *name* is and what to do.
    """
    other = other_kind(head)
    if other is not None:
        raise other.refusal(name, _NAMES[wanted[0]])
    # a course, a tuning and a harp end alike
    ours = our_kind(head, "" if {TUNING, OWN_HARP} & set(wanted) else name)
    if ours and ours not in wanted:
        what = _NAMES[ours] + _WHICH_IS.get(ours, "")
        raise InputError(
            f"{name}: this is {what}, not {_NAMES[wanted[0]]}.",
            way_out=_USED[ours], file=quote(name),
        )  # fmt: skip


def check_file_meant(name: str, ending: str) -> None:
    """Raise ``InputError`` for a *name* that is a folder, or a file lacking its *ending*."""
    if os.path.isdir(name):  # noqa: PTH112  no error for odd names
        raise InputError(
            f"{name:.200} is a folder. Name one of the files in it that end in {ending}"
        )
    if os.path.isfile(name + ending):  # noqa: PTH113
        raise InputError(f"{name:.200} lacks the ending of its file. Write {quote(name + ending)}")
