"""The letters a page can print, and a substitute for those it cannot.

LilyPond brings fonts for Latin, Greek and Cyrillic; other letters are drawn with a free font
of this machine (``fonts``).  Where there is none, and for emoji, the letter is left out on
paper and said in one line; no sheet fails for a letter.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from reedmill.base.text import printable
from reedmill.sheet.fonts import Font, fonts_for

if TYPE_CHECKING:
    from reedmill.score.score import Score

# What the fonts of LilyPond 2.24 have, in hexadecimal: C059, Nimbus, TeX Gyre, and the signs of
# music in Emmentaler.  A test reads it from the fonts themselves.
_OWN = (
    "20-7E A0-17F 18E 192 1A0-1A1 1AF-1B0 1CD-1D4 1D7-1DD 1E6-1E7 1EA-1EB 1F0 1F4-1F5 1FA-201 "
    "204-205 208-209 20C-20D 210-211 214-215 218-21B 237 258-259 2BE-2BF 2C6-2C7 2C9 2D8-2DD "
    "300-304 306-30C 30F 311 323 326 32E-332 384-38A 38C 38E-3A1 3A3-3CE 3D1 3D5-3D6 3F1 3F5 "
    "400-45F 462-463 472-475 490-493 496-49D 4A0-4A3 4AA-4AB 4AE-4B3 4B6-4BB 4C0 4CB-4CC 4CF "
    "4D8-4D9 4E2-4E3 4E8-4E9 4EE-4EF E3F 1E0C-1E0F 1E24-1E27 1E2A-1E2B 1E2E-1E2F 1E36-1E39 "
    "1E42-1E47 1E58-1E5D 1E62-1E63 1E6C-1E6F 1E80-1E85 1E92-1E93 1E97 1EA0-1EF9 2002 "
    "2010-2011 2013-201E 2020-2022 2026 2030-2033 2039-2040 2044-2046 2052 2054 2070 "
    "2074-2079 207F 20A1 20A3-20A4 20A6-20A7 20A9 20AB-20AC 20AF 20B1 20DD 2103 2105 210F "
    "2111-2113 2116-2118 211C 211E 2120 2122 2126-2128 212D-212F 2135-2137 215B-215E "
    "2190-2199 21A8 21B5 21C4 21C6 21D0-21D5 2200 2202-2203 2205-2209 220B 220D 220F "
    "2211-2213 2215 2217 2219-221A 221D-2220 2222-2223 2225 2227-222B 222E 2234-2235 2237 "
    "2245 2248 2260-2262 2264-2265 226A-226B 2282-2287 2295-2299 22A2-22A5 22BB 22C6 2300 "
    "2302 2310 2320-2321 2329-232A 2422-2423 2500 2502 250C 2510 2514 2518 251C 2524 252C "
    "2534 253C 2550-2570 2580 2584 2588 258C 2590-2593 25A0-25A1 25AA-25AC 25B2 25B5 "
    "25B9-25BA 25BC 25BF 25C3-25C4 25C6-25C7 25CA-25CB 25CF 25D8-25D9 25E6 263A-263C 2640 "
    "2642 2660 2663 2665-2666 266A-266B 266D-266F 26AD-26AE 27E6-27E7 2A7D-2A7E 301A-301B "
    "FB00-FB04 1D12A-1D12B "
)
# Drawn by no font and missed by nobody: spaces of all widths, and what chooses a variant or
# joins letters.
_UNSEEN = "\u034f\u200c\u200d\ufe00-\ufe0f\U000e0100-\U000e01ef"
# The end of a line is not a letter, though fonts such as Noto's symbols have a sign for it.
_CONTROLS = r"\x00-\x1f"
_SPACES = "\u2000-\u200a\u202f\u205f\u3000"
# Unicode's blocks of pictographs.  Fonts draw them in colour, each its own way, or not at all.
_EMOJI = "\U0001f000-\U0001faff\u20e3"
_MOST_SHOWN = 12  # letters, and titles, in one line


def _ranges(table: str) -> str:
    """Return the table as the inside of a set of a regular expression."""
    return "".join(
        "-".join(f"\\U{int(end, 16):08x}" for end in each.split("-")) for each in table.split()
    )


_ODD = re.compile(f"[^{_ranges(_OWN)}{_UNSEEN}{_SPACES}{_CONTROLS}]")
_IS_EMOJI = re.compile(f"[{_EMOJI}]")


def odd(text: str) -> str:
    r"""Return the letters of *text* that LilyPond's own fonts lack, each once and sorted.

    >>> odd("Домой\n до ♭7"), odd("家 by 家")
    ('', '家')
    """
    return "".join(sorted(set(_ODD.findall(text))))


def fonts_drawing(text: str) -> tuple[Font, ...]:
    """Return the fonts of this machine that draw the odd letters of *text*."""
    return fonts_for("".join(c for c in odd(text) if not _IS_EMOJI.match(c) and c not in _UNDRAWN))


def missing(text: str) -> str:
    """Return the letters of *text* that paper leaves out, each once, in order.

    They are emoji, and letters that no free font of this machine has.

    >>> missing("Home 🎵 sweet home 🎵"), missing("Home")
    ('🎵', '')
    """
    shown = printable(text)
    lost = set(odd(shown))
    if lost:
        lost -= {letter for font in fonts_drawing(shown) for letter in font.letters}
        lost |= _UNDRAWN.intersection(shown)
    return "".join(letter for letter in dict.fromkeys(shown) if letter in lost)


def places(text: str) -> Iterator[tuple[int, str]]:
    """Yield the letters of one line that paper leaves out, with their columns from 0.

    Letters in a row are one: they are a word of another script.

    >>> list(places("Home \U0001f3b5\U0001f3b5 home \U0001f3b5"))
    [(5, '🎵🎵'), (13, '🎵')]
    """
    lost = missing(text)
    if lost:
        for found in re.finditer(f"[{re.escape(lost)}]+", text):
            yield found.start(), found[0]


_UNDRAWN = set[str]()


def learn_undrawn(letters: Iterable[str]) -> None:
    """Treat *letters* as missing from now on: a font promised one that did not draw."""
    _UNDRAWN.update(letters)


def on_paper(text: str) -> str:
    """Return *text*, which is printable, without what cannot be printed.

    >>> on_paper("Home 🎵 sweet"), on_paper("🎵")
    ('Home sweet', '')
    """
    lost = missing(text)
    if not lost:
        return text
    left = "".join(each for each in text if each not in lost)
    return re.sub(" {2,}", " ", left).strip() if text.strip(" ") == text else left


def left_out(texts: Mapping[str, Iterable[str]]) -> str:
    """Return one line on what the paper lacks, or nothing; *texts* are given by their titles."""
    lost = {title: missing(" ".join(parts)) for title, parts in texts.items()}
    where = [title for title, letters in lost.items() if letters]
    letters = "".join(dict.fromkeys("".join(lost.values())))
    return in_words(letters, where) if letters else ""


def score_texts(score: Score) -> tuple[str, ...]:
    """Return every text of *score* that a sheet prints and that an author wrote."""
    band = (score.band.form, score.band.feel) if score.band else ()
    names = (name for _, name in score.sections)
    return (score.title, score.about, score.listen, *names, *band)


def in_words(letters: str, titles: Iterable[str]) -> str:
    """Say on one line what is left out, in which titles, and what to do about it."""
    named = _listed([f"{each} (U+{ord(each):04X})" for each in letters])
    where = _listed([f'"{title}"' for title in titles])
    return f"Left out on paper: {named}, in {where}. {remedy(letters)} All else is made."


def _listed(items: list[str]) -> str:
    more = f" and {len(items) - _MOST_SHOWN} more" if len(items) > _MOST_SHOWN else ""
    return ", ".join(items[:_MOST_SHOWN]) + more


def remedy(letters: str) -> str:
    """Say what to do about *letters* left out: which font has them, where one does."""
    lacking = _IS_EMOJI.sub("", letters)
    return _remedy(lacking) if lacking else "Emoji are not printed."


def _remedy(letters: str) -> str:
    """Name the Debian package with fonts for *letters*, and what it is called elsewhere."""
    packages = dict.fromkeys(_package(letter) for letter in letters)
    fonts = dict.fromkeys(f"Noto Sans{_script(letter)}" for letter in letters)
    few = [*fonts][:3]
    return (
        f"No free font here has {'it' if len(letters) == 1 else 'them'}: install "
        f"{' and '.join(packages)} (Debian, Ubuntu), elsewhere a font such as {', '.join(few)}."
    )


_EAST_ASIAN = {"CJK", "HIRAGANA", "KATAKANA", "HANGUL", "IDEOGRAPHIC", "FULLWIDTH", "BOPOMOFO"}


def _package(letter: str) -> str:
    return "fonts-noto-cjk" if _first_word(letter) in _EAST_ASIAN else "fonts-noto-core"


def _script(letter: str) -> str:
    word = _first_word(letter)
    if word in _EAST_ASIAN:
        return " CJK"
    return f" {word.title()}" if unicodedata.category(letter)[0] in "LM" and word else " Symbols"


def _first_word(letter: str) -> str:
    return unicodedata.name(letter, "").split(" ")[0].split("-")[0]
