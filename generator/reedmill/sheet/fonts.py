"""Free fonts of this machine, for letters that LilyPond's own fonts lack.

They are found by what they cover, read from the fonts themselves.  Only families known to be
free (SIL Open Font License, Apache, GPL with font exception and their like) are looked at: a
PDF carries the letters of its fonts to whomever it is given.
"""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

# The begin of the names of files, the best first: plain letters that go with Nimbus Sans.
_FREE = (
    "notosans", "notonaskh", "notoserif", "noto", "sourcehansans", "sourcehan",
    "droidsansfallback", "dejavusans", "dejavuserif", "freesans", "freeserif", "wqy", "ipag",
    "ipaexg", "takao", "vlgothic", "nanumgothic", "nanum", "unfonts", "loma", "garuda", "waree",
    "lohit", "amiri", "vazir", "gentium", "charis", "padauk", "abyssinica", "khmeros", "samyak",
    "gargi", "sahadeva", "unifont",
)  # fmt: skip
_FOR_CJK = ("notosanscjk", "sourcehan", "notoserifcjk", "droidsansfallback", "wqy")
# What a file is called that is not a plain upright face.  LilyPond takes no variable font.
_STYLED = re.compile(
    r"bold|italic|oblique|light|thin|medium|black|condensed|mono|display|looped|emoji|ui-"
    r"|variable|vf\b|wght|slanted|unjoined|\[",
    re.I,
)
_ENDINGS = (".ttf", ".otf", ".ttc")
_MOST_FILES = 30_000  # of all folders: a machine with more has its fonts elsewhere too
_CJK_WORDS = {"CJK", "HIRAGANA", "KATAKANA", "HANGUL", "IDEOGRAPHIC", "FULLWIDTH", "BOPOMOFO"}


@dataclass(frozen=True, slots=True)
class Font:
    """A font of this machine, and the letters it is to draw."""

    path: str  # absolute
    family: str
    letters: str  # each once, sorted
    bold: str = ""  # absolute path of the bold face beside it, if there is one
    others: tuple[str, ...] = ()  # families in the same file that must not be taken

    @property
    def name(self) -> str:
        """The family and file size, which changes with every release."""
        return f"{self.family}, {_size(self.path)} bytes"


def fonts_for(letters: str) -> tuple[Font, ...]:
    """Return fonts that have *letters*; letters that none has are in none.

    Which font draws a letter depends on the letter and the machine alone; which forms of
    Chinese signs are taken, on all *letters*.
    """
    return _found("".join(sorted(set(letters))))


@cache
def _found(letters: str) -> tuple[Font, ...]:
    if not letters:
        return ()
    drawn: dict[str, str] = {}  # by the path of the font
    for letter in letters:
        path = _file_with(letter)
        if path:
            drawn[path] = drawn.get(path, "") + letter
    language = _language(letters)
    return tuple(_font(path, those, language) for path, those in sorted(drawn.items()))


@cache
def _file_with(letter: str) -> str:
    """Return the path of the best font that has *letter*, or nothing."""
    word = unicodedata.name(letter, "").split(" ")[0].split("-")[0]
    words = _FOR_CJK if word in _CJK_WORDS else (word.lower(),)
    return next((path for path in _ranked(words) if letter in _coverage(path)), "")


def _font(path: str, letters: str, language: str) -> Font:
    families = _families(path)
    plain = [name for name in families if "Mono" not in name] or list(families)
    family = next((name for name in plain if name.endswith(f" {language}")), plain[0])
    others = tuple(name for name in families if name != family)
    return Font(path, family, letters, _bold_beside(path), others)


def _language(letters: str) -> str:
    """Return the language for Chinese characters: Japanese beside kana, Korean beside Hangul."""
    if re.search("[\u3040-\u30ff]", letters):
        return "JP"
    return "KR" if re.search("[\u1100-\u11ff\uac00-\ud7af]", letters) else "SC"


def _bold_beside(path: str) -> str:
    stem, dot, ending = path.rpartition(".")
    for bold in (f"{stem.removesuffix('-Regular')}-Bold.{ending}", f"{stem}Bold.{ending}"):
        if dot and Path(bold).is_file():
            return bold
    return ""


@cache
def _ranked(words: tuple[str, ...]) -> tuple[str, ...]:
    """Return paths of plain faces of free families, first those with one of *words* in the name."""
    named = [path for path in _plain_faces() if any(each in _stem(path) for each in words if each)]
    first = sorted(named, key=lambda path: _place(words, path))
    return (*first, *(path for path in _plain_faces() if path not in named))


def _place(words: tuple[str, ...], path: str) -> int:
    return next((n for n, word in enumerate(words) if _stem(path).startswith(word)), 0)


def _stem(path: str) -> str:
    return re.sub(r"[^a-z0-9]", "", Path(path).stem.lower().removesuffix("-regular"))


@cache
def _plain_faces() -> tuple[str, ...]:
    """Return every font file here that may be used, the best first."""
    found: dict[str, str] = {}  # by the name of the file: the first folder counts
    for folder in _folders():
        for path in _files(folder):
            found.setdefault(Path(path).name, path)
    ranked = ((_family_place(path), _stem(path), path) for path in found.values())
    return tuple(path for place, _, path in sorted(ranked) if place < len(_FREE))


def _family_place(path: str) -> int:
    if _STYLED.search(Path(path).stem + "-"):
        return len(_FREE)
    stem = _stem(path)
    return next((n for n, family in enumerate(_FREE) if stem.startswith(family)), len(_FREE))


def _files(folder: Path) -> Iterator[str]:
    seen = 0
    for place, folders, names in os.walk(folder):
        folders.sort()
        seen += len(names)
        if seen > _MOST_FILES:
            return
        yield from (str(Path(place, name)) for name in sorted(names) if _is_font(name))


def _is_font(name: str) -> bool:
    return name.lower().endswith(_ENDINGS)


def _folders() -> list[Path]:
    """Return where systems keep fonts: XDG Base Directory Specification, and Apple's folders."""
    home = Path(os.environ.get("HOME") or "/")
    own = os.environ.get("XDG_DATA_HOME") or str(home / ".local/share")
    shared = os.environ.get("XDG_DATA_DIRS") or "/usr/local/share:/usr/share"
    places = [Path(each, "fonts") for each in (own, *shared.split(":")) if each.startswith("/")]
    apple = [home / "Library/Fonts", Path("/Library/Fonts")]
    return [*places, home / ".fonts", *apple]


def font_folders() -> str:
    """Return a digest that changes when a font is installed or removed, without opening any."""
    told = hashlib.sha256()
    for folder in _folders():
        for place, folders, _ in os.walk(folder):
            folders.sort()
            told.update(f"{place} {_changed(place)}\n".encode("utf-8", "surrogateescape"))
    return told.hexdigest()[:16]


def _changed(place: str) -> int:
    try:
        return Path(place).stat().st_mtime_ns
    except OSError:
        return 0


# --- what is in a file ------------------------------------------------------------------


@cache
def _coverage(path: str) -> frozenset[str]:
    """Return the letters of the first face in the file; none when it cannot be read."""
    try:
        with _opened(path) as font:
            return frozenset(map(chr, font.getBestCmap() or ()))
    except Exception:  # whatever is wrong with it, another font may do
        return frozenset()


@cache
def _families(path: str) -> tuple[str, ...]:
    from fontTools.ttLib import TTCollection

    if not path.lower().endswith(".ttc"):
        with _opened(path) as font:
            return (_family(font, path),)
    with TTCollection(path, lazy=True) as collection:
        return tuple(dict.fromkeys(_family(font, path) for font in collection.fonts))


def _opened(path: str) -> TTFont:
    from fontTools.ttLib import TTFont

    return TTFont(path, lazy=True, fontNumber=0)


def _family(font: TTFont, path: str) -> str:
    return font["name"].getDebugName(1) or Path(path).stem


def _size(path: str) -> int:
    try:
        return Path(path).stat().st_size
    except OSError:
        return 0


# --- for LilyPond -----------------------------------------------------------------------


def fontconfig(fonts: tuple[Font, ...]) -> str:
    """Return settings of fontconfig: LilyPond's own fonts, and the wanted letters of *fonts*.

    No folder is named but by a relative path: "Ann & Ben" would not be XML.  A font has but
    the letters it is to draw, so that all others look as they do without it.
    """
    held = '<dir prefix="cwd">letters</dir>' if fonts else ""
    rules = "".join(map(_rule, fonts))
    return (
        '<?xml version="1.0"?>\n<!DOCTYPE fontconfig SYSTEM "fonts.dtd">\n'
        f"<fontconfig>{held}<cachedir>fonts</cachedir>{rules}</fontconfig>\n"
    )


def _rule(font: Font) -> str:
    from html import escape  # few pages have letters of other fonts

    codes = "".join(f"<int>{ord(letter)}</int>" for letter in font.letters)
    refused = "".join(
        f'<pattern><patelt name="family"><string>{escape(name)}</string></patelt></pattern>'
        for name in font.others
    )
    return (
        f'\n<match target="scan"><test name="family"><string>{escape(font.family)}</string></test>'
        f'<edit name="charset" mode="assign"><charset>{codes}</charset></edit></match>'
        + (f"\n<selectfont><rejectfont>{refused}</rejectfont></selectfont>" if refused else "")
    )


def lay_out(fonts: tuple[Font, ...], folder: Path) -> None:
    """Put the files of *fonts* where ``fontconfig`` expects them: in *folder*."""
    if fonts:
        (folder / "letters").mkdir(exist_ok=True)
    for number, font in enumerate(fonts):
        for face in filter(None, (font.path, font.bold)):
            name = f"{number}-{'bold' if face == font.bold else 'plain'}{Path(face).suffix}"
            (folder / "letters" / name).symlink_to(face)
