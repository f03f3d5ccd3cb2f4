"""Nothing on a sheet touches what it should not, and every page holds what it should.

Two programs measure: LilyPond says where it put each sign of the music, and PDFium (a PDF
reader, through pypdfium2) where each letter of the finished page is.  Staff spaces are LilyPond's
unit, a fourth of the staff; points are the PDF's, 1/72 inch (PDF 32000-1:2008, 8.3.2.3).
"""

from __future__ import annotations

import ctypes
import os
import re
import subprocess
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from pathlib import Path

import lilypond
import pypdfium2
import pytest
from pypdfium2 import raw

from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import find_drills, usual_position
from reedmill.score.repeats import printed
from reedmill.score.score import Note, Score
from reedmill.sheet.blocks import CAUTION
from reedmill.sheet.frame import preamble
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages
from reedmill.theory.positions import Position

# Drills that ask more of a page than any teacher would.
STRESS = """
drill "Sixteenths on ten holes"
  about  "Every hole in sixteenths."
  length 1/4
  play   1 -1 2 -2 3 -3 4 -4 5 -5 6 -6 7 -7 8 -8 | 9 -9 10 -10 10 -9 9 -8 8 -7 7 -6 6 -5 5 -4
  play   4 -3 3 -2 2 -1 1 -1 2 -2 3 -3 4 -4 5 -5 | 6 -6 7 -7 8 -8 9 -9 10 -10 10 -9
drill "Three ticks in a row"
  length 1/4
  play   (-3''' -3'' -3' -3''')x16
drill "Triplets of bends"
  play   (triplet(-3''' -3'' -3') triplet(-2'' -2' -2))x8
drill "Triplets of halved bends"
  length 1/2
  play   (triplet(-3''' -3'' -3') triplet(-2'' -2' -2))x8
drill "Long slides"
  length 1/2
  play   (-3~-3'~-3''~-3'''~-3''~-3'~-3 r)x6
drill "A title that is very long indeed, longer than any teacher would put on a page by herself"
  about  "This purpose goes on and on, because its writer had a great deal to say about the way in which a bend is approached from above, from below, and from the side, and about the hours of patient listening that it takes before the rung is found without a search, every time, in every key and at every tempo."
  listen "Listen for the start of each note: it must be there at once, without a scoop; then for its middle, which must not sag; then for its end, which must not rise as the breath lets go. Listen also for the anchor, which must be the same every time you come home to it, no matter how deep the rung before it was, and for the silence between them, which is as long as you make it. When all is well, close your eyes and do it again, more softly, until the room is still."
  tempo  56 to 84
  play   (-2 -3 -2 -3')x8
drill "A middling title, of some fifty letters and not more"
  embouchure anchors tongue right, rungs tongue left
  anchor -2
  rungs  all of -3
  order  down, up
  phrase anchor rung anchor rung
  echo
  ending anchor:4
drill "Sections with names"
  section "Long tones, as steady as can be, and then a little longer than that"
  play   -2:4 -3:4
  section "Bends"
  play   -3':2 -3'':2 -2:4
  section "Home"
  play   -2:4
drill "Twelve eight in sixteenths"
  meter  12/8
  length 1/2
  play   (-2 -3 4 -4 5 -5)x16
drill "The top in sixteenths"
  length 1/4
  allow  overbends
  play   (10'' 10' 10 -10 9' 9 -9 8' 8 -8 7 -7 -7^ -9^ -10^ -7)x8
drill "Accents and slides"
  length 1/2
  play   (-3!~-3' -2! 4! -4!~-4' -3''!)x16
drill "Three pages of eighths"
  length 1/2
  play   (-2 -3' 4 -4 5 -4 4 -3')x30
"""  # noqa: E501  texts are as long as the language allows

FOLDED = """
drill "Again, with endings"
  about  "Signs for what is played again, an ending for each time, a breath and a slide in them."
  play   (-2 -3~-3' -4! | 4 -3' -2:2 |) 1st (-4:4 | -5:4 |) 2nd (-2:4 |) 3rd (-1:4 |) (-2 -3 4:2 |)x5
drill "Again in dense bars"
  length 1/2
  play   (triplet(-3 -3'~-3)x4 | -1:1/4 -1':1/4 -2 -2''~-2' 9 -10 -2 -3 |)x2 (-4 -4'~-4 -4'~-4 4 -3 -2)x3
"""  # noqa: E501
AGAIN = re.compile(r"(triplet)?\(((?:[^()]|triplet\([^()]*\))*)\)x(\d+)")


def written_out(text: str) -> str:
    """*text* without repeats, so that its music takes all the room it asks for."""
    while (found := AGAIN.search(text)) is not None:
        triplet, music, times = found.groups()
        once = f"triplet({music})" if triplet else music
        text = text[: found.start()] + " ".join([once] * int(times)) + text[found.end() :]
    return text


SHIPPED = (
    "Even breath", "Home from every rung", "Six eight home", "Overblow 6", "Corner to corner",
    "Triplets down the rungs", "Answer in two bars", "First position, top octave",
)  # fmt: skip

LARGE = Look(paper="letter", large=True)
# How many pages each takes, as counted on the sheets; all others take one.  A page of A4 holds
# five lines of music under the head, or three with the practice boxes, and seven without; a page
# of Letter in large print two under the head, and four without.
PAGES = {
    "Three ticks in a row": 2, "Long slides": 2, "Twelve eight in sixteenths": 2,
    "The top in sixteenths": 2, "Accents and slides": 2, "Three pages of eighths": 3,
}  # fmt: skip
PAGES_OVER = {
    "Two bars home": 2, "Down from the fifth": 2, "Home from every rung": 1,
    "Triplets down the rungs": 2,
}  # fmt: skip
PAGES_LARGE = {
    "Sixteenths on ten holes": 3, "Three ticks in a row": 5, "Triplets of bends": 3,
    "Triplets of halved bends": 3, "Long slides": 2,
    "A middling title, of some fifty letters and not more": 3,
    "Twelve eight in sixteenths": 3, "The top in sixteenths": 6, "Accents and slides": 5,
    "Three pages of eighths": 9, "Home from every rung": 1,
    "Even breath": 1,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle; LilyPond counts from the top of the page down, the PDF up."""

    name: str
    left: float
    right: float
    low: float  # the smaller number
    high: float

    @property
    def middle(self) -> float:
        """Half way from left to right."""
        return (self.left + self.right) / 2

    def overlaps(self, other: Box, hair: float) -> bool:
        """True when both share more than *hair* in width and in height."""
        across = min(self.right, other.right) - max(self.left, other.left)
        along = min(self.high, other.high) - max(self.low, other.low)
        return across > hair and along > hair


@dataclass(frozen=True, slots=True)
class Line:
    """What LilyPond stacks on a page: a system of music, or markup; staff spaces from the top."""

    page: int
    box: Box  # named system or markup
    signs: tuple[Box, ...]
    rows: tuple[tuple[Box, ...], ...]  # the marks of each row, upper row first


@dataclass(frozen=True, slots=True)
class Sheet:
    """One finished sheet."""

    score: Score
    look: Look
    lines: tuple[Line, ...]
    pages: tuple[tuple[Box, ...], ...]  # the words of each page, in points

    @property
    def systems(self) -> list[Line]:
        """The lines of music."""
        return [line for line in self.lines if line.box.name == "system"]

    def __str__(self) -> str:
        return f"{self.score.title} on {self.score.harp.name} {self.look}"


# --- how LilyPond is made to say it ----------------------------------------------------

# Called by LilyPond when all is in place: a line of text for each line of a page, and for each
# sign of a system.  The X parent of a sign in a row is its note; the Y parent is its row.
MEASURE = r"""
#(define port (open-file "boxes" "a"))
#(define (say . parts)
   (for-each (lambda (part) (display part port) (display "\t" port)) parts)
   (newline port))
#(define (measure-system system top)
   (for-each
     (lambda (grob)
       (if (ly:stencil? (ly:grob-property grob 'stencil #f))
         (let ((x (ly:grob-extent grob system X)) (y (ly:grob-extent grob system Y)))
           (if (not (or (interval-empty? x) (interval-empty? y)))
             (say "sign" (grob::name grob) (car x) (cdr x) (- top (cdr y)) (- top (car y))
                  (ly:grob-relative-coordinate (ly:grob-parent grob Y) system Y))))))
     (ly:grob-array->list (ly:grob-object system 'all-elements))))
\paper {
  #(define (page-post-process layout pages)
     (say "sheet")
     (for-each
       (lambda (page)
         (for-each
           (lambda (line top)
             (let* ((stencil (ly:prob-property line 'stencil))
                    (x (ly:stencil-extent stencil X)) (y (ly:stencil-extent stencil Y))
                    (system (ly:prob-property line 'system-grob #f)))
               (say "line" (if (ly:grob? system) "system" "markup")
                    (car x) (cdr x) (- top (cdr y)) (- top (car y))
                    (ly:prob-property page 'page-number))
               (if (ly:grob? system) (measure-system system top))))
           (ly:prob-property page 'lines) (ly:prob-property page 'configuration)))
       pages)
     (force-output port))
}
"""
FONTS = "<fontconfig><cachedir>{folder}</cachedir></fontconfig>"


def measured(scores: Sequence[Score], look: Look, folder: Path) -> list[Sheet]:
    """Every score as a sheet, from one run of LilyPond, which must have nothing to say."""
    head = preamble(look)
    source = head + MEASURE + pages(list(scores), look).removeprefix(head)
    (folder / "sheets.ly").write_text(source, "utf-8")
    (folder / "fonts.conf").write_text(FONTS.format(folder=folder / "fonts"), "utf-8")
    options = ["-dbackend=cairo", "--pdf", "-dno-point-and-click", "--loglevel=WARNING"]
    done = subprocess.run(
        [str(lilypond.executable()), *options, "sheets.ly"], cwd=folder, check=False,
        capture_output=True, text=True,
        env={**os.environ, "FONTCONFIG_FILE": str(folder / "fonts.conf")},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    said = (folder / "boxes").read_text("utf-8").split("sheet\t\n")[1:]
    return [
        Sheet(score, look, tuple(lines_said(text)), words_of(folder / f"sheet-{number}.pdf"))
        for number, (score, text) in enumerate(zip(scores, said, strict=True))
    ]


def lines_said(text: str) -> Iterator[Line]:
    found: list[tuple[list[str], list[list[str]]]] = []
    for row in text.splitlines():
        what, *parts = row.rstrip("\t").split("\t")
        if what == "line":
            found.append((parts, []))
        else:
            found[-1][1].append(parts)
    for parts, signs in found:
        rows: dict[float, list[Box]] = defaultdict(list)
        for each in signs:
            if each[0] == "LyricText":
                rows[-float(each[5])].append(box_said(each))
        ordered = tuple(tuple(sorted(rows[y], key=lambda box: box.left)) for y in sorted(rows))
        yield Line(int(parts[5]), box_said(parts), tuple(map(box_said, signs)), ordered)


def box_said(parts: list[str]) -> Box:
    left, right, upper, lower = map(float, parts[1:5])
    return Box(parts[0], left, right, upper, lower)


# --- and PDFium ------------------------------------------------------------------------


def words_of(path: Path) -> tuple[tuple[Box, ...], ...]:
    document = pypdfium2.PdfDocument(path)
    found = tuple(tuple(words_on(document[n])) for n in range(len(document)))
    document.close()
    return found


def words_on(page: pypdfium2.PdfPage) -> Iterator[Box]:
    """The words of a page with the boxes of their ink; a sign of music is a word named ``*``.

    Ligatures are named by the letters they stand for.
    """
    text = page.get_textpage()
    word: list[Box] = []
    for index in range(text.count_chars()):
        left, low, right, high = text.get_charbox(index)
        name = text.get_text_range(index, 1)
        if right - left <= 0 or high - low <= 0 or not name.strip():
            yield from joined(word)
            word = []
        elif "Emmentaler" in font(text, index):
            yield from joined(word)
            yield Box("*", left, right, low, high)
            word = []
        else:
            if word and not follows(word[-1], left, low, high):
                yield from joined(word)
                word = []
            word.append(Box(name, left, right, low, high))
    yield from joined(word)
    text.close()


def font(text: pypdfium2.PdfTextPage, index: int) -> str:
    name = ctypes.create_string_buffer(64)
    raw.FPDFText_GetFontInfo(text, index, name, len(name), None)
    return name.value.decode()


def follows(before: Box, left: float, low: float, high: float) -> bool:
    """True for a letter that can stand next in one word: on the same line, and near."""
    return -3 < left - before.right < 4 and low < before.high + 3 and high > before.low - 3


def joined(word: list[Box]) -> Iterator[Box]:
    if word:
        yield Box(
            unicodedata.normalize("NFKC", "".join(letter.name for letter in word)),
            min(letter.left for letter in word), max(letter.right for letter in word),
            min(letter.low for letter in word), max(letter.high for letter in word),
        )  # fmt: skip


# --- the sheets ------------------------------------------------------------------------


def stress(harp: str) -> list[Score]:
    return [
        expand(drill, Harp.parse(harp), Position(2))
        for drill in parse(written_out(STRESS) + FOLDED)
    ]


def over_forms() -> list[Score]:
    """Drills over a band: two more rows, chord symbols, the longest names, endings."""
    laid = [
        ("Two bars home", "C", "Twelve bars, quick change", "Medium shuffle", "loop", 3),
        ("Down from the fifth", "F#", "Twelve bars in minor", "Slow twelve-eight", "chords", 2),
        ("Home from every rung", "G", "Two and five", "Two-beat", "loop", None),
        ("Triplets down the rungs", "F#", "Sixteen bars", "Rumba", "once", 1),
    ]
    return [
        accompanied(
            expand(find_drills(title)[0], Harp.parse(harp), Position(2)),
            Accompaniment(form, feel, way, choruses),
        )
        for title, harp, form, feel, way, choruses in laid
    ]


def library(harp: str) -> list[Score]:
    drills = [drill for title in SHIPPED for drill in find_drills(title)]
    return [expand(drill, Harp.parse(harp), usual_position(drill)) for drill in drills]


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> list[Sheet]:
    """All of them on F# (five flats in cross harp), on C and G, and some in large print."""
    usual = [
        *over_forms(),
        *stress("F#"),
        *library("F#"),
        *library("C"),
        *library("G"),
        *stress("C")[1:4],
    ]
    large = [*stress("F#"), *library("G")[::2]]
    return [
        *measured(usual, Look(), tmp_path_factory.mktemp("usual")),
        *measured(large, LARGE, tmp_path_factory.mktemp("large")),
    ]


# --- the music -------------------------------------------------------------------------


def test_no_two_marks_of_a_row_touch(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        for line in sheet.systems:
            for row in line.rows:
                for one, two in pairwise(row):
                    assert two.left - one.right > 0.3, (str(sheet), line.box, one, two)


def test_every_note_has_its_mark_in_both_rows(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        printed_here = len(list(printed_notes(sheet.score)))
        for row in zip(*(rows_of_notes(sheet, line) for line in sheet.systems), strict=True):
            assert sum(map(len, row)) == printed_here, str(sheet)


def rows_of_notes(sheet: Sheet, line: Line) -> tuple[tuple[Box, ...], ...]:
    """Tab and degrees, and the tones of the chord under a band; its symbols stand higher up."""
    count = 3 if sheet.score.band else 2
    below = line.rows[1:] if sheet.score.band else line.rows
    return below or ((),) * count


def printed_notes(score: Score) -> Iterator[Note]:
    """The notes that have a place on the page, once each."""
    for bar in printed(score):
        for written in bar.written:
            if written.note is not None and not written.tied_on:
                yield written.note


# Helvetica-Bold, of which Nimbus Sans Bold has the widths: a digit is 556 thousandths of the
# size wide (Adobe Core 14 font metrics, from memory).  LilyPond's text is 11 points high on a
# staff of 20; lyrics are one step larger, the numbers one more or, where there is room, 2.3 more,
# and six steps double (LilyPond 2.24, Notation Reference, 1.8 and Internals Reference, LyricText).
DIGITS = [0.556 * 11 * 2 ** (steps / 6) / (20 / 4) for steps in (2, 3.3)]


def test_hole_numbers_and_degrees_stand_under_their_noteheads(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        notes = printed_notes(sheet.score)
        for line in sheet.systems:
            heads = [sign.middle for sign in line.signs if sign.name == "NoteHead"]
            tabs, *others = rows_of_notes(sheet, line)
            for tab, *below in zip(tabs, *others, strict=True):
                digits = len(str(next(notes).reed.hole)) / 2 * sheet.look.music_scale
                middles = [tab.left + digits * width for width in DIGITS]
                assert min(off(heads, each) for each in middles) < 0.3, (str(sheet), tab)
                assert all(off(heads, mark.middle) < 0.3 for mark in below), (str(sheet), tab)


def off(heads: Sequence[float], middle: float) -> float:
    """How far *middle* is from the nearest of *heads*."""
    return min(abs(middle - head) for head in heads)


# What may not touch, by LilyPond's names; slurs and ties curve over and under on purpose.
SOLID = {
    "NoteHead", "Accidental", "Rest", "Dots", "Clef", "KeySignature", "TimeSignature", "BarLine",
}  # fmt: skip
OVER_AND_UNDER = {
    "TupletBracket", "TupletNumber", "TextScript", "RehearsalMark", "Script", "VoltaBracket",
    "TextMark",
}  # fmt: skip


BRACKETS = {"TupletBracket", "VoltaBracket"}  # hollow: a number stands inside


def test_noteheads_accidentals_and_rests_keep_clear_of_one_another(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        for line in sheet.systems:
            solid = [sign for sign in line.signs if sign.name in SOLID]
            for one, two in combinations(sorted(solid, key=lambda sign: sign.left), 2):
                assert not one.overlaps(two, 0.05), (str(sheet), one, two)


def test_words_and_brackets_of_the_music_keep_clear_of_all_signs(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        for line in sheet.systems:
            words = [sign for sign in line.signs if sign.name in OVER_AND_UNDER - BRACKETS]
            marks = [mark for row in line.rows for mark in row]
            solid = [sign for sign in line.signs if sign.name in SOLID]
            for one in words:
                for two in [*solid, *words, *marks]:
                    assert one is two or not one.overlaps(two, 0.05), (str(sheet), one, two)


UNDER_STAFF = SOLID | OVER_AND_UNDER | {"Stem", "Beam", "Slur", "Tie", "Flag", "StaffSymbol"}


def test_the_rows_keep_clear_of_the_staff_and_of_one_another(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        for line in sheet.systems:
            signs = [sign for sign in line.signs if sign.name in UNDER_STAFF]
            for tab, *below in zip(*rows_of_notes(sheet, line), strict=True):
                for upper, lower in pairwise([tab, *below]):
                    assert upper.high <= lower.low + 0.05, (str(sheet), upper, lower)
                for sign in signs:
                    assert not sign.overlaps(tab, 0.05), (str(sheet), sign, tab)


def test_no_music_leaves_the_printed_area(sheets: list[Sheet]) -> None:
    """A seventh of a staff space is the thickness of a bar line's edge, or of a bracket's."""
    for sheet in sheets:
        for line in sheet.systems:
            for sign in line.signs:
                edge = sheet.look.music_scale / 7 + 0.01
                inside = sign.left > -edge and sign.right < sheet.look.width + edge
                assert inside, (str(sheet), sheet.look.width, sign)


# --- the page --------------------------------------------------------------------------


def test_lines_and_blocks_stand_under_one_another(sheets: list[Sheet]) -> None:
    """Two systems may reach into each other where there is room: there their signs count."""
    for sheet in sheets:
        for one, two in pairwise(sheet.lines):
            if one.page == two.page:
                assert one.box.low < two.box.low
                assert one.box.high < two.box.high
                upper, lower = one.signs or (one.box,), two.signs or (two.box,)
                for sign in upper:
                    touched = [other for other in lower if sign.overlaps(other, 0.01)]
                    assert not touched, (str(sheet), sign, touched)


def test_no_two_words_of_a_page_overlap(sheets: list[Sheet]) -> None:
    """A fifth of a point is less than a hundredth of a centimetre."""
    for sheet in sheets:
        for number, page in enumerate(sheet.pages, start=1):
            for one, two in near(page):
                assert not one.overlaps(two, 0.2), (str(sheet), number, one, two)


# Signs of music among themselves are LilyPond's to judge, above; an 8 stands on the G clef.
MUSIC = ({"*"}, {"*", "8"})


def near(words: Sequence[Box]) -> Iterator[tuple[Box, Box]]:
    """All pairs of which one is a word of text and that stand over one another."""
    waiting: list[Box] = []
    for word in sorted(words, key=lambda each: each.left):
        waiting = [other for other in waiting if other.right > word.left]
        yield from ((other, word) for other in waiting if {other.name, word.name} not in MUSIC)
        waiting.append(word)


POINTS_A_MM = 72 / 25.4
TOP_AND_BOTTOM_MM = 11


def test_every_word_stands_inside_the_margins(sheets: list[Sheet]) -> None:
    """A letter may lean a point out of its place, as an A does."""
    for sheet in sheets:
        width, height = (side * POINTS_A_MM for side in SIZES_MM[sheet.look.paper])
        side, edge = MARGIN_MM * POINTS_A_MM, TOP_AND_BOTTOM_MM * POINTS_A_MM
        for page in sheet.pages:
            for word in page:
                assert side - 1 < word.left < word.right < width - side + 1, (str(sheet), word)
                assert edge < word.low < word.high < height - edge, (str(sheet), word)


# ISO 216 and ANSI/ASME Y14.1 (8.5 by 11 inches).
SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def test_nothing_but_the_foot_stands_at_the_foot(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        name = f"{sheet.score.title} · {signed(sheet.score)} harp, "
        for number, page in enumerate(sheet.pages, start=1):
            top = page[place(page, "Rest lips and jaw often;")].high
            foot = f"{CAUTION} {name}{sheet.score.position.ordinal} position".split()
            below = [word.name for word in page if word.low < top + 2]
            assert sorted(below) == sorted(foot), (str(sheet), number)


def signed(score: Score) -> str:
    """The harp as ``words_on`` reads it: its sharp or flat is a sign of music of its own."""
    return score.harp.name.replace("#", " *").replace("b", " *")


def place(page: Sequence[Box], phrase: str) -> int:
    """Which word of *page* starts *phrase*; -1 when it is not there."""
    sought = phrase.split()
    names = [word.name for word in page]
    starts = range(len(names) - len(sought) + 1)
    return next((at for at in starts if names[at : at + len(sought)] == sought), -1)


def test_the_blocks_keep_their_order(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        listen = [" ".join(sheet.score.listen.split()[:4])] if sheet.score.listen else []
        blocks = [
            " ".join(sheet.score.title.split()[:4]), "key of the music", "filled: this drill",
            *listen, "tempo ladder:",
        ]  # fmt: skip
        words = [word.name for page in sheet.pages for word in page]
        blocks += ["plain tab"] if ("plain", "tab") in pairwise(words) else []
        places = [where(sheet, phrase) for phrase in blocks]
        assert places == sorted(places), (str(sheet), places)


def where(sheet: Sheet, phrase: str) -> tuple[int, float]:
    """The page and the points from its foot up, negative so that places count downwards."""
    for number, page in enumerate(sheet.pages):
        at = place(page, phrase)
        if at >= 0:
            return number, -page[at].low
    raise AssertionError((str(sheet), phrase))


def test_every_page_but_the_first_says_what_it_belongs_to(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        head = f"{sheet.score.title} · {signed(sheet.score)} harp,"
        tops = [[word for word in page if word.low > max(w.high for w in page) - 40]
                for page in sheet.pages]  # fmt: skip
        assert place(tops[0], head) < 0, str(sheet)
        for top in tops[1:]:
            names = Counter(word.name for word in top)  # a sign of another font is read last
            assert Counter(head.split()) <= names, (str(sheet), top)
            assert place(top, "continued") >= 0, str(sheet)


def test_sheets_take_the_pages_they_should(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        title = sheet.score.title
        usual = PAGES.get(title, 1)
        if sheet.score.band:
            usual = PAGES_OVER[title]
        expected = PAGES_LARGE.get(title, 2) if sheet.look.large else usual
        assert len(sheet.pages) == expected, str(sheet)


def test_every_page_holds_music_and_a_single_line_of_it_is_in_company(
    sheets: list[Sheet],
) -> None:
    """The map keeps it company on the first page, the practice boxes on the last."""
    for sheet in sheets:
        on = [line.page for line in sheet.systems]
        assert set(on) >= set(range(2, len(sheet.pages) + 1)), (str(sheet), on)
        alone = [page for page in set(on) - {1, len(sheet.pages)} if on.count(page) == 1]
        assert not alone, (str(sheet), on)
