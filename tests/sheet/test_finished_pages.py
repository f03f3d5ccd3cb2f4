"""Finished pages, read from their PDF by PDFium as ``drawn_pages`` has it: nothing touches.

The whole library in every look is read by ``benchmarks/sheet_scan.py``; here are drills of every
kind (sections, slides, endings, blow bends, triplets, chords, marks of style) on harps with few
and with many accidentals.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import music21
import pytest

from drawn_pages import KINDS, MM, PageInk, Stroke, judged, pages_of
from held_together import all_of_it
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills, shipped, usual_position
from reedmill.score.repeats import printed
from reedmill.score.score import Note, Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages

TITLES = (
    "Dip and return", "Home from every rung, hole 10 blow", "Long tones down blow 10",
    "Triplets down the rungs", "Call and answer",
)  # fmt: skip
LOOKS = {
    "A4": Look(), "Letter": Look("letter"), "tab alone": Look(show="tab"),
    "notation alone": Look(show="notation"), "large": Look(large=True),
    "large, tab alone": Look("letter", large=True, show="tab"),
    "large, notation alone": Look(large=True, show="notation"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Finished:
    """A score and the pages it takes."""

    score: Score
    pages: list[PageInk]


def drawn(scores: Sequence[Score], look: Look) -> list[Finished]:
    with Engraver() as engraver:
        engraver.feed(pages(list(scores), look))
        pdfs = engraver.sheets(len(scores))
    return [Finished(score, pages_of(pdf)) for score, pdf in zip(scores, pdfs, strict=True)]


def on(title: str, harp: str) -> Score:
    [drill, *_] = find_drills(title)
    return expand(drill, Harp.parse(harp), usual_position(drill))


@pytest.fixture(scope="module")
def finished() -> dict[str, list[Finished]]:
    """Each drill on C, Db or high G in turn."""
    titles = [each.drill.title for each in shipped()[::23]] + list(TITLES[:3])
    scores = [on(title, ("C", "Db", "high G")[n % 3]) for n, title in enumerate(titles)]
    scores.append(all_of_it("Db"))
    return {name: drawn(scores, look) for name, look in LOOKS.items()}


@pytest.fixture(scope="module")
def wrong(finished: dict[str, list[Finished]]) -> dict[str, list[dict[str, list[str]]]]:
    """What is wrong with each sheet of each look, by kind."""
    return {
        look: [judged(each.pages, large=LOOKS[look].large, side=MARGIN_MM * MM) for each in sheets]
        for look, sheets in finished.items()
    }


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("look", LOOKS)
def test_no_sheet_has_anything_wrong_of_this_kind(
    finished: dict[str, list[Finished]],
    wrong: dict[str, list[dict[str, list[str]]]],
    look: str,
    kind: str,
) -> None:
    for each, found in zip(finished[look], wrong[look], strict=True):
        told = (each.score.title, each.score.harp.full_name, found[kind][:5])
        assert not found[kind], told


# What the scan of the whole library found: pages so full that LilyPond reckons them over-full, and
# letters and figures beside signs.
FULLEST = [
    (Look(), [("Twelve slow bars", "C"), ("Root one way, rungs the other", "high G")]),
    (Look("letter"), [("Twelve slow bars", "Db"), ("Twelve slow bars", "high G")]),
    (Look("letter", show="tab"), [("Twelve slow bars", "C")]),
    (Look(large=True), [
        ("Blues scale in the middle", "C"), ("Twelve slow bars", "high G"),
        ("Triplets down the rungs", "high G"),
    ]),
    (Look(large=True, show="notation"), [("Answer in two bars", "C")]),
]  # fmt: skip


@pytest.mark.parametrize(("look", "wanted"), FULLEST)
def test_the_fullest_sheets_have_nothing_wrong(look: Look, wanted: list[tuple[str, str]]) -> None:
    for each in drawn([on(title, harp) for title, harp in wanted], look):
        found = judged(each.pages, large=look.large, side=MARGIN_MM * MM)
        assert not any(found.values()), (each.score.title, each.score.harp.full_name, found)


def test_a_heading_belongs_to_the_line_under_it(finished: dict[str, list[Finished]]) -> None:
    """It stands nearer to what is highest in that line than to the rows of the line before."""
    seen = 0
    for look in ("A4", "tab alone", "notation alone", "large"):
        for each in finished[look]:
            names = {name.replace(" ", "") for _, name in each.score.sections}
            for page in each.pages:
                heads = [word for word in page.words if word.name in names and word.size > 11.5]
                labels = [word for word in page.words if word.name == "degree" and word.left < 120]
                for head in heads:
                    over = [label.low - head.high for label in labels if label.low > head.high]
                    below = [ink for ink in page.inks if ink.high < head.low + 1 != head.high]
                    under = min(head.low - ink.high for ink in below)
                    assert not over or min(over) > under, (look, each.score.title, head)
                    seen += 1
    assert seen >= 12


def test_a_sheet_of_notation_alone_says_no_hole_with_its_breath(
    finished: dict[str, list[Finished]],
) -> None:
    """It is a reading test: the hole and its ticks are what the reader has to find."""
    for look in ("notation alone", "large, notation alone"):
        for each in finished[look]:
            words = {word.name for page in each.pages for word in page.words}
            tabs = {note.reed.tab for note in each.score.notes}
            assert not {tab for tab in tabs if tab.startswith("-") or "'" in tab} & words
            assert not any(word.startswith(("plaintab", "tab")) for word in words)


def test_a_slide_on_a_single_line_goes_from_head_to_head(
    finished: dict[str, list[Finished]],
) -> None:
    """Its ends are within a staff space of the heads' height, 5 points on a staff of 20."""
    for each in finished["tab alone"]:
        slides = sum(note.joined for note in each.score.notes)
        for page in each.pages:
            heads = [sign for sign in page.signs if sign.name.startswith("noteheads")]
            middle = {round((head.low + head.high) / 2) for head in heads}
            for line in slanted(page):
                for _, y in line.points:
                    assert min(abs(y - each_middle) for each_middle in middle) < 5
            assert bool(slides) >= bool(list(slanted(page)))


def slanted(page: PageInk) -> Iterator[Stroke]:
    """Single strokes that are neither level nor upright: slides."""
    for stroke in page.strokes:
        if len(stroke.points) == 2 and stroke.right - stroke.left > 8:
            (_, y), (_, end) = stroke.points
            if abs(y - end) > 1:
                yield stroke


def test_ticks_can_be_counted_from_a_music_stand(finished: dict[str, list[Finished]]) -> None:
    """An eye that sees one minute of arc (Snellen's 20/20) needs 0.35 mm at 1.2 m.

    Twice that is easy to see, and a little light is lost on paper.
    """
    least = 2 * 1200 * math.tan(math.radians(1 / 60)) * MM
    seen = 0
    for look in ("A4", "tab alone", "large"):
        for each in finished[look]:
            for page in each.pages:
                ticks = [letter for letter in page.letters if letter.name == "'"]
                for one, two in pairwise(sorted(ticks, key=lambda it: (round(it.low), it.left))):
                    level = abs(one.low - two.low) < 0.5 and one.size == two.size > 13
                    if level and two.left - one.left < 12:
                        assert two.left - one.right > least, (look, each.score.title)
                        seen += 1
    assert seen


def test_hole_numbers_are_16_points_where_there_is_room(
    finished: dict[str, list[Finished]],
) -> None:
    for each in finished["A4"]:
        holes = {str(note.reed.hole) for note in each.score.notes}
        sizes = {
            letters.size for letters in each.pages[0].words if letters.name[:2].strip("'^") in holes
        }
        assert len(each.pages) > 1 or max(sizes) >= 16, each.score.title


# --- accidentals that remind -----------------------------------------------------------


def reminders(score: Score) -> int:
    """Places where a note follows, over a bar line or several, its altered self.

    The first note of a bar in a place of the staff is as the key has it, so that it would bear
    no sign, and the last one there before was not.  The key is music21's.
    """
    signature = music21.key.KeySignature(score.key.sharps)
    found = 0
    before: dict[tuple[str, int], int] = {}
    for bar in printed(score):
        now: dict[tuple[str, int], int] = {}
        for note in sounding(bar.written):
            place = (note.pitch.letter, note.pitch.octave)
            sign = signature.accidentalByStep(note.pitch.letter)
            plain = int(sign.alter) if sign else 0
            if place not in now and note.pitch.alter == plain != before.get(place, plain):
                found += 1
            now[place] = note.pitch.alter
        before |= now
    return found


def sounding(written: Sequence[object]) -> Iterator[Note]:
    for each in written:
        note = getattr(each, "note", None)
        if note is not None and not getattr(each, "tied_on", False):
            yield note


def test_a_note_that_follows_its_altered_self_over_a_bar_line_bears_a_sign() -> None:
    """Every fifth of the drills of the library that have such a place, on C."""
    counts = {each.drill.title: reminders(on(each.drill.title, "C")) for each in shipped()}
    some = [title for title, count in counts.items() if count]
    shown = drawn([on(title, "C") for title in some[::5]], Look())
    for each in shown:
        signs = sum(page.count("accidentals.leftparen") for page in each.pages)
        assert signs >= counts[each.score.title] > 0, each.score.title
