"""What the shipped drills say of themselves, held against their notes in each position they name.

Words of degrees and the order in which bends are learnt are common practice, no published source.
Which notes a harp has is read from OEIS A291810, and degrees are checked by music21's spelling.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from typing import NamedTuple

import music21

import oracles
from reedmill.base.errors import InputError
from reedmill.base.shipped import courses_dir
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import Drill, parse
from reedmill.library import not_meant_for, patterns_dir, shipped
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.tasks import LessonRow, Task, expanded, planned
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from together import together

# The lowest level at which a note may be met; a natural note may be met at all of them.
LOWEST_LEVEL = {
    "-4'": 1, "-1'": 1, "-6'": 1,
    "-3'": 2, "8'": 2, "9'": 2,
    "-3''": 3, "-2'": 3, "-2''": 3,
    "-3'''": 4, "10'": 4, "10''": 4,
}  # fmt: skip
QUARTER_TONE, OVERBEND = 3, 5


def lowest_level(tab: str) -> int:
    if "^" in tab:
        return OVERBEND
    return max(QUARTER_TONE * tab.endswith("q"), LOWEST_LEVEL.get(tab.rstrip("q"), 1))


class Said(NamedTuple):
    """A drill, its words, and its notes in one of the positions it is for."""

    title: str
    text: str  # title, about and listen, in lower case
    position: int
    score: Score

    @property
    def degrees(self) -> set[str]:
        """Every degree that sounds, without quarter tones."""
        notes = (each for note in self.score.notes for each in note.sounded)
        return {each.degree.name.rstrip("q") for each in notes}

    @property
    def tabs(self) -> set[str]:
        """Every reed that sounds, as tab."""
        return {reed.tab for note in self.score.notes for reed in note.reeds}


@cache
def said() -> tuple[Said, ...]:
    """Every shipped drill on a C harp in each position it is for; all twelve where it names none.

    Of those twelve a tune may lack notes in some, and is refused there.
    """
    return tuple(each for shelved in shipped() for each in said_by(shelved.drill))


def said_by(drill: Drill) -> Iterator[Said]:
    text = " ".join((drill.title, drill.about or "", drill.listen or "")).lower()
    for position in drill.positions or oracles.POSITIONS:
        try:
            score = expand(drill, Harp("C"), Position(position))
        except InputError:
            assert not drill.positions, f"{drill.title} cannot be played in {position}"
            continue
        yield Said(str(drill.title), text, position, score)


def every_text(test: Callable[[Said], None]) -> Callable[[], None]:
    """One test of all texts; the library is read when it runs, not when tests are collected."""

    def of_all() -> None:
        together("each", said())(test)()

    of_all.__name__, of_all.__doc__ = test.__name__, test.__doc__
    return of_all


# --- levels ---


def test_levels_are_bounded_by_the_hardest_note_as_the_reference_says() -> None:
    page = (patterns_dir() / "README.md").read_text("utf-8")
    section = page.split("### level\n")[1].split("\n### ")[0]
    rows = re.findall(r"^\| ([1-5]) \| (.*) \|$", section, re.MULTILINE)
    written = {tab: int(level) for level, notes in rows for tab in re.findall("`(.*?)`", notes)}
    assert written == LOWEST_LEVEL
    words = {int(level): notes for level, notes in rows}
    assert "quarter tone" in words[QUARTER_TONE]
    assert "overblows and overdraws" in words[OVERBEND]
    assert set(LOWEST_LEVEL) == {tab for tab in oracles.PLAIN_TABS if "'" in tab}


def test_the_order_in_which_bends_are_learnt() -> None:
    first, next_, deeper, deepest = (
        {LOWEST_LEVEL[tab] for tab in group.split()}
        for group in ("-4' -1'", "-3'", "-3'' -2' -2''", "-3'''")
    )
    assert max(first) < min(next_) <= max(next_) < min(deeper) <= max(deeper) < min(deepest)


@every_text
def test_no_drill_is_easier_by_its_level_than_by_its_notes(each: Said) -> None:
    hardest = max(each.tabs, key=lowest_level)
    assert (each.score.level or 0) >= lowest_level(hardest), (each.title, hardest)


def test_the_course_of_eight_weeks_meets_the_bends_in_that_order() -> None:
    course = read_course(courses_dir() / "eight-weeks-of-clean-bends.toml")
    met: list[str] = []
    for row in planned(editions(course)[0]):
        assert isinstance(row, LessonRow)
        task = expanded(row)
        assert isinstance(task, Task)
        tabs = {reed.tab for note in task.score.notes for reed in note.reeds}
        new = tabs & set(LOWEST_LEVEL) - set(met)
        met += sorted(new, key=LOWEST_LEVEL.__getitem__)
    levels = [LOWEST_LEVEL[tab] for tab in met]
    assert levels == sorted(levels), met
    assert met[0] == "-4'"


# --- words ---

HOME = re.compile(r"\b(home|root|roots)\b")


@every_text
def test_who_speaks_of_home_comes_home(each: Said) -> None:
    """The anchor is the root in each position that is named, else the last note is."""
    if not HOME.search(each.text):
        return
    last = each.score.notes[-1].degree.name
    anchor = each.score.anchor
    homes = {n.degree.name for n in each.score.notes if n.reeds == (anchor,)} if anchor else {last}
    assert homes == {"1"}, (each.title, each.position, homes)


@every_text
def test_an_anchor_is_the_root_or_the_text_calls_it_by_its_hole(each: Said) -> None:
    """Draw 1 under the rungs of draw 2 is the 5 of cross harp, and no text calls it home there."""
    anchor = each.score.anchor
    if anchor is None:
        return
    degree = {n.degree.name for n in each.score.notes if n.reeds == (anchor,)}
    assert degree == {"1"} or (anchor.tab == "-1" and degree == {"5"}), (each.title, degree)


# Longer names first, so that a flat third is not read as a third.
DEGREES = {
    "flat third": "b3", "minor third": "b3", "blue third": "b3", "major third": "3",
    "flat five": "b5", "flat seventh": "b7", "flat seven": "b7", "flat two": "b2",
    "flat sixth": "b6", "raised fourth": "#4", "third": "3 b3", "fourth": "4",
    "fifth": "5", "sixth": "6", "seventh": "7 b7",
}  # fmt: skip
NOT_A_DEGREE = re.compile(
    r"\b(third|fourth|fifth|sixth|seventh) position|first, the fourth and the seventh"
)
NAMED = re.compile(r"\b(" + "|".join(DEGREES) + r")s?\b")

# Words of degrees that are not played, read one by one.
NOT_PLAYED = {
    "The chord of the five": {"third": "of the five chord: the 7 of the key"},
    "Twelfth position scale": {"fourth": "raised, as the text says"},
    "Five notes in the middle": dict.fromkeys(("fourth", "seventh"), "the text says: without it"),
    "First position, draw 3, four rungs": {"major third": "an interval, from the anchor"},
    "Four to the beat": {"fourth": "of four notes"},
}


def unplayed(each: Said) -> set[str]:
    words = set(NAMED.findall(NOT_A_DEGREE.sub("", each.text)))
    return {word for word in words if not each.degrees & set(DEGREES[word].split())}


@every_text
def test_the_degrees_a_text_names_are_played(each: Said) -> None:
    assert unplayed(each) == set(NOT_PLAYED.get(each.title, ())), (each.title, each.position)


ENDS_ON = re.compile(r"\bends? on the (?:same )?(root|" + "|".join(DEGREES) + ")")


@every_text
def test_a_drill_ends_on_the_degree_its_text_says(each: Said) -> None:
    for word in ENDS_ON.findall(each.text):
        assert each.score.notes[-1].degree.name in {"root": "1", **DEGREES}[word].split()


# Holes that a text compares its own with.
COMPARED = {
    "The low flat five": {"-4": "its bend is the same degree an octave higher"},
    "Two thirds at the top": {"-3": "its bend is the minor third of cross harp"},
    "Home from every rung, hole 6": {"hole 4": "bends as gently"},
    "First steps at the top": {"hole 6": "the last hole that is not played"},
    "First position, blow 9": {"hole 2": "its bend is the flat five two octaves lower"},
    "Third position, draw 6": {"hole 3": "its bend is the flat five an octave lower"},
}
HOLES = re.compile(r"\b(draw|blow|hole) (\d+)(?:, (\d+))?(?: and (\d+))?\b")


def elsewhere(each: Said) -> set[str]:
    """The holes of a text that are not played, a number after "and" with the breath before it."""
    natural = {tab.rstrip("'^q") for tab in each.tabs}
    played = natural | {f"hole {tab.lstrip('-')}" for tab in natural}
    sign = {"draw": "-", "blow": "", "hole": "hole "}
    named = {
        sign[word] + hole for word, *holes in HOLES.findall(each.text) for hole in holes if hole
    }
    return named - played


@every_text
def test_the_holes_a_text_names_are_played(each: Said) -> None:
    assert elsewhere(each) == set(COMPARED.get(each.title, ())), (each.title, each.position)


PLAIN = re.compile(r"\b(without a bend|needs no bend)\b")


@every_text
def test_without_a_bend_means_none(each: Said) -> None:
    if PLAIN.search(each.text):
        assert not [tab for tab in each.tabs if tab[-1] in "'^q"], (each.title, each.position)


# --- positions ---


def test_a_notice_says_what_the_anchor_becomes_in_another_position() -> None:
    """By music21: draw 2 of a C harp is G4, against the major scale on each position's root."""
    [drill] = [each.drill for each in shipped() if each.drill.title == "Home from every rung"]
    words = {
        1: "the 5th", 3: "the 4th", 4: "the flat 7th", 5: "the flat 3rd", 6: "the flat 6th",
        7: "the flat 2nd", 8: "the raised 4th", 9: "the 7th", 10: "the 3rd", 11: "the 6th",
        12: "the 2nd",
    }  # fmt: skip
    for position, name in words.items():
        up = (oracles.key_number("G4") - oracles.root("C", position).midi) % 12
        number = int(re.sub(r"\D", "", name))
        major = music21.scale.MajorScale("C").pitchFromDegree(number).pitchClass
        assert up == major - ("flat" in name) + ("raised" in name)
        where = Position(position)
        assert not_meant_for(drill, Harp("C"), where) == (
            f'"Home from every rung" is meant for 2nd position; in {where.ordinal} its anchor, '
            f"draw 2, is {name}."
        )
    assert not_meant_for(drill, Harp("A"), Position(2)) == ""


@together(
    ("lines", "becomes"),
    [
        ("anchor -1\n rungs -2\n phrase anchor rung", "its anchor, draw 1, is the 5th"),
        ("anchor root\n rungs -2\n phrase anchor rung", "its notes are other degrees"),
        ("anchor -5'\n rungs -2\n phrase anchor rung", "its notes are other degrees"),
        ("play -2 -3", "its notes are other degrees"),
        ("tune 1 3 5", "it lies in other holes"),
    ],
)
def test_only_the_positions_of_a_drill_of_ones_own_count(lines: str, becomes: str) -> None:
    """Whatever its text says: on a C harp draw 1 is D, the root of 3rd and the 5 of 2nd."""
    [drill] = parse(f'drill "Mine"\n about "Home."\n positions 3\n {lines}\n')
    assert not_meant_for(drill, Harp("C"), Position(2)) == (
        f'"Mine" is meant for 3rd position; in 2nd {becomes}.'
    )
    [free] = parse(f'drill "Mine"\n about "Home."\n {lines}\n')
    assert not_meant_for(free, Harp("C"), Position(2)) == ""


def test_only_draw_2_and_blow_3_are_one_note_on_a_richter_harp() -> None:
    """The reference says so: every natural note and bend of A291810, counted."""
    heights = Counter(oracles.plain_semitones(tab) for tab in oracles.PLAIN_TABS)
    twice = {tab for tab in oracles.PLAIN_TABS if heights[oracles.plain_semitones(tab)] > 1}
    assert twice == {"-2", "3"}
    page = (patterns_dir() / "README.md").read_text("utf-8")
    assert "draw 2 and blow 3 are the same note" in page
