"""The reference in patterns/README.md: whole, true, and every example on it plays.

The tab under an example was worked out by hand from the sentence above it.
"""

from __future__ import annotations

import re
import runpy
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest

import oracles
import reedmill
from reedmill.base.errors import PatternError
from reedmill.base.ranges import TEMPI_IN_WORDS
from reedmill.base.text import MOST_DIGITS
from reedmill.expand import breath, expand, fingering
from reedmill.harp import Harp
from reedmill.language import parse, parser, words
from reedmill.language.formatter import tidy
from reedmill.language.words import JOINING, LINES, MUSIC_LINES, REST, ROLES, TRIPLET, VALUES
from reedmill.library import patterns_dir
from reedmill.practice import sound_limits
from reedmill.score.score import Score
from reedmill.theory.positions import Position

ROOT = Path(reedmill.__file__).parents[2]
README = (ROOT / "patterns" / "README.md").read_text("utf-8")
CROSS_C = (Harp("C"), Position(2))


# An example, and the tab that may follow it, with a paragraph between or none.
BLOCK = re.compile(r"```drill\n(.*?)```(?:\n\n(?:[^`#]*\n\n)?```tab\n(.*?)```)?", re.S)


@dataclass(frozen=True)
class Example:
    """A drill or some lines of one, the heading they stand under, and the tab below them."""

    heading: str
    text: str
    tab: str  # empty when none is given

    @property
    def whole(self) -> str:
        """The drill; lines alone get what they need to be one."""
        if re.search(r"^drill ", self.text, re.M):
            return self.text
        has = {line.split()[0] for line in self.text.splitlines()}
        lines = ['drill "Example"', self.text]
        if "phrase" in has or not has & set(MUSIC_LINES):
            needed = {"anchor": "-2", "rungs": "-3 -3'", "phrase": "anchor rung"}
            lines += [f"{word} {rest}" for word, rest in needed.items() if word not in has]
        return "\n".join(lines)

    def played(self) -> Score:
        """The last drill of the example on a C harp in cross harp."""
        return expand(parse(self.whole, self.heading)[-1], *CROSS_C)


def examples() -> list[Example]:
    found = []
    for part in re.split(r"^(?=##+ )", README, flags=re.M):
        heading = part.split("\n")[0].strip("# ")
        blocks = re.findall(
            r"```drill\n(.*?)```(?:\n\n(?:[^`#]*\n\n)?```tab\n(.*?)```)?", part, re.S
        )
        found += [Example(heading, text, (tab or "").strip()) for text, tab in blocks]
    return found


EXAMPLES = examples()
every_example = pytest.mark.parametrize(
    "example", EXAMPLES, ids=[f"{at} {each.heading}" for at, each in enumerate(EXAMPLES)]
)


def tabs(score: Score) -> str:
    return " ".join(("~" if note.joined else "") + note.tab for note in score.notes)


# --- every example -----------------------------------------------------------------------


@every_example
def test_the_example_plays(example: Example) -> None:
    assert example.played().notes


@every_example
def test_the_example_plays_what_the_page_says(example: Example) -> None:
    if example.tab:
        assert tabs(example.played()) == example.tab


@every_example
def test_a_whole_example_is_laid_out_as_the_page_promises(example: Example) -> None:
    if example.text == example.whole:
        assert tidy(example.text) == example.text
    else:
        assert not re.search(r"  |\t", example.text)


def test_no_example_is_overlooked() -> None:
    assert len(EXAMPLES) == README.count("```drill")
    assert sum(bool(each.tab) for each in EXAMPLES) == README.count("```tab")


# --- every word --------------------------------------------------------------------------


def written_words() -> dict[str, set[str]]:
    """For each word a line starts with, all that follows it in any example."""
    found: dict[str, set[str]] = {}
    for example in EXAMPLES:
        word = ""
        for token in parser.tokens(example.whole):
            if token.type == "_NL":
                word = ""
            elif not word:
                word = str(token)
                found.setdefault(word, set())
            else:
                found[word].add(str(token))
    return found


WRITTEN = written_words()


@pytest.mark.parametrize("word", LINES)
def test_every_line_has_a_heading_and_an_example_below_it(word: str) -> None:
    own = [each for each in EXAMPLES if each.heading == word]
    missing = f"the word '{word}' has no heading with an example in patterns/README.md"
    assert own, missing
    assert any(re.search(rf"^\s*{word}\b", each.text, re.M) for each in own), missing


@pytest.mark.parametrize("word", ROLES)
def test_every_role_has_a_heading_and_an_example_in_a_phrase(word: str) -> None:
    own = [each for each in EXAMPLES if each.heading == word]
    assert any(re.search(rf"^\s*phrase\b.*\b{word}\b", each.text, re.M) for each in own), (
        f"the role '{word}' has no heading with a phrase of it in patterns/README.md"
    )


def test_every_word_inside_a_line_has_an_example_there() -> None:
    missing = [
        f"{line} {word}"
        for table in (VALUES, JOINING)
        for line, phrases in table.items()
        for phrase in phrases
        for word in phrase.split()
        if word not in WRITTEN[line]
    ]
    assert not missing, f"no example in patterns/README.md has: {', '.join(missing)}"
    assert {REST, TRIPLET} <= WRITTEN["play"]


SIGNS = {
    "a blow": r"\d+", "a draw": r"-\d+", "a bend": r"-\d'", "a deep bend": r"-\d'''",
    "a blow bend": r"\d+'+", "an overblow": r"\d\^", "an overdraw": r"-\d\^", "a length": r":2",
    "a part": r":1/2", "a dot": r":1\.", "two dots": r":1\.\.", "a slide": "~", "an accent": "!",
    "a bar": r"\|", "a repeat": r"x\d", "a first ending": "1st", "a second ending": "2nd",
}  # fmt: skip
DEGREES = {
    "the root": "1", "a flat": r"b\d", "a sharp": r"#\d", "an octave up": r"\d\+",
    "an octave down": r"\d-", "a slide": "~", "a length": ":2",
}  # fmt: skip


@pytest.mark.parametrize("pattern", SIGNS.values(), ids=SIGNS)
def test_every_sign_has_an_example(pattern: str) -> None:
    assert any(re.fullmatch(pattern, sign) for sign in WRITTEN["play"])


@pytest.mark.parametrize("pattern", DEGREES.values(), ids=DEGREES)
def test_every_sign_of_degrees_has_an_example(pattern: str) -> None:
    assert any(re.fullmatch(pattern, sign) for sign in WRITTEN["tune"])


def test_every_kind_of_token_the_parser_knows_is_shown() -> None:
    shown = {token.type for each in EXAMPLES for token in parser.tokens(each.whole)}
    kinds = {name for name in parser.signs() if not name.startswith("__")}
    no_words = {"COMMENT", "_NL", "MORE"}  # between words
    answered = {"OTHER_TAB", "RUN_TOGETHER"}  # never read as music
    missing = kinds - no_words - answered - shown
    assert not missing, f"no example of patterns/README.md has {', '.join(sorted(missing))} in it"


# --- what the page claims -----------------------------------------------------------------


def test_the_first_drill_has_ten_lines() -> None:
    assert len(EXAMPLES[0].text.splitlines()) == 10


def sounding(music: str) -> list[tuple[str, Fraction, Fraction]]:
    """Tab, start and length in beats of each note of a play line."""
    score = expand(parse(f'drill "x"\n  play {music}')[0], *CROSS_C)
    return [(note.reed.tab, note.start, note.length) for note in score.notes]


@pytest.mark.parametrize(
    ("sign", "beats"),
    [("", 1), (":2", 2), (":1/2", "1/2"), (":1/3", "1/3"), (":1.", "3/2"), (":1/2.", "3/4"),
     (":1..", "7/4")],
)  # fmt: skip
def test_lengths_are_what_the_page_says(sign: str, beats: str | int) -> None:
    assert sounding(f"-2{sign}") == [("-2", Fraction(0), Fraction(beats))]
    assert not sign or f"`{sign}`" in README or f"`-2{sign}`" in README


def test_triplets_take_the_time_the_page_says() -> None:
    for inside, beats in (("-2 -3 -4", 2), ("-2:1/2 -3:1/2 -4:1/2", 1)):
        assert f"`triplet({inside})`" in README
        notes = sounding(f"triplet({inside}) -1")
        assert notes[-1][1] == beats
        assert {length for _, _, length in notes[:3]} == {Fraction(beats, 3)}


def test_nine_is_two_an_octave_up() -> None:
    nine, two = (expand(parse(f'drill "x"\n tune {each}')[0], *CROSS_C) for each in ("9", "2+"))
    assert nine.notes[0].pitch == two.notes[0].pitch
    assert "`9` is `2+`" in README


def test_the_overbends_the_page_names_are_those_with_a_note_of_their_own() -> None:
    """By the published layout (OEIS A291810): the higher reed of a hole plus a semitone."""
    easier = set(map(oracles.plain_semitones, oracles.PLAIN_TABS))
    own = [
        hole
        for hole in range(1, 11)
        if max(oracles.A291810[2 * hole - 2 : 2 * hole]) + 1 not in easier
    ]
    assert own == [1, 4, 5, 6, 7, 9, 10]
    assert "1, 4, 5\nand 6 over, 7, 9 and 10 under" in README


def test_the_cost_table_is_the_one_that_is_used() -> None:
    costs = [int(cost) for cost in re.findall(r"^\| [^|]+ \| (\d+) \|$", README, re.M)][:6]
    assert costs == [
        fingering.HOLE_COST, fingering.BREATH_COST, fingering.BEND_COST,
        fingering.QUARTER_COST, fingering.QUICK_BEND_COST, fingering.OVERBEND_COST,
    ]  # fmt: skip
    assert f"shorter than {fingering.QUICK_S} seconds" in README


def test_the_limits_are_the_ones_that_are_used() -> None:
    for claim in (
        f"{words.MAX_FILE_BYTES // 1000} kB, {words.MAX_DRILLS} drills, "
        f"{words.MAX_FILE_NOTES:,} notes",
        f"| {words.MAX_TITLE} characters |", f"| {words.MAX_TEXT} characters |",
        f"| {words.MAX_NOTES:,} notes |", f"| {words.MAX_BARS:,} bars |",
        f"| {words.MAX_RUNGS} rungs |", f"| {words.MAX_PLANS} plans |", f"| {MOST_DIGITS} digits |",
        f"| {sound_limits.MOST_SCORES:,} pieces (drills times harps times plans), "
        f"{sound_limits.MOST_NOTES:,} notes, {sound_limits.MOST_SOUND_HOURS} hours of sound |",
        f"| {words.MAX_REPEATS} times, brackets {words.MAX_NESTING} deep |",
        f"| {words.MAX_LENGTH_BEATS} beats |",
        f"from {TEMPI_IN_WORDS}.",
        f"From {words.LEVELS[0]}, the easiest, to {words.LEVELS[-1]}.",
        f"({words.METER_BEATS[0]} to {words.METER_BEATS[-1]})",
        f"one way: {breath.LIMITS_S[1]} seconds at levels 1 and 2, {breath.LIMITS_S[3]} at\n"
        f"level {breath.USUAL_LEVEL} and in a drill without a level, {breath.LIMITS_S[4]} at "
        "levels 4 and 5",
        f"up to {words.MAX_LENGTH_BEATS} beats",
    ):  # fmt: skip
        assert claim in README, claim
    assert (breath.LIMITS_S[1], breath.LIMITS_S[4]) == (breath.LIMITS_S[2], breath.LIMITS_S[5])
    assert (float(breath.BREATH_S), float(breath.LOW_HARP_SHARE)) == (0.5, 0.75)
    assert "rest of half a second or more is a breath already" in README
    assert "so there it\nis three quarters of that" in README


def test_a_second_line_of_a_kind_is_refused_but_for_play_and_tune() -> None:
    assert len(parse('drill "x"\n play -2\n play -3')[0].play) == 2
    with pytest.raises(PatternError, match="second tempo line"):
        parse('drill "x"\n tempo 60\n tempo 70\n play -2')


def test_the_page_leads_to_every_generated_page_and_to_nothing_that_is_not_there() -> None:
    pages = runpy.run_path(str(ROOT / "scripts" / "language_pages"))["pages"]()
    links = set(re.findall(r"\]\(([^)#]+)\)", README))
    assert set(pages) <= links
    assert [link for link in links if not (ROOT / "patterns" / link).is_file()] == []


def test_the_library_lies_beside_the_page_one_folder_a_topic() -> None:
    assert all(path.parent.parent == patterns_dir() for path in patterns_dir().rglob("*.drill"))
