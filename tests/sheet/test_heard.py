"""A sheet and a picture of a take show where each note was, and which way it was off."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

import pytest
from lxml import etree

from reedmill.base.text import printable
from reedmill.expand import expand
from reedmill.harp import Harp, Reed
from reedmill.language import parse
from reedmill.library import find_drills
from reedmill.score.footprints import Aside, Footprint, Footprints, Trace, summary_of, tries_of
from reedmill.score.score import Score
from reedmill.score.verdicts import Tolerance, Verdict
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.heard_marks import sentences
from reedmill.sheet.heard_picture import MOST_ROWS, picture
from reedmill.sheet.look import Look
from reedmill.sheet.page import pages
from reedmill.theory.positions import Position

SVG = "{http://www.w3.org/2000/svg}"
MOVED = r"translate\(([-\d.]+), ([-\d.]+)\)"
MINUS = "\N{MINUS SIGN}"


def score_of(drill: str) -> Score:
    return expand(find_drills(drill)[0], Harp.parse("C"), Position(2))


SCORE = score_of("Home from every rung")
"""Thirteen notes: -2 -3 -2 -3' | -2 -3'' -2 -3'' | -2 -3' -2 -3 | -2."""


def tried(
    cents: dict[int, float], begin_s: float = 1.0, score: Score = SCORE, each_s: float = 1.0
) -> list[Footprint]:
    """One pass in place but for the *cents* of some notes, a second each."""
    return [
        Footprint(
            index, Tolerance().verdict(cents.get(index, 1.0)), begin_s + each_s * index,
            begin_s + each_s * (index + 0.9), cents.get(index, 1.0),
        )
        for index in range(len(score.notes))
    ]  # fmt: skip


def prints(*passes: list[Footprint], take: str = "monday.m4a", **more: object) -> Footprints:
    tries = tuple(each for one in passes for each in one)
    whole = Footprints(printable(take), tries, len(passes), Tolerance())
    return replace(whole, **more)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Drawn:
    """A line or a filled shape of a page, in its own units, y downwards."""

    points: list[tuple[float, float]]
    filled: bool

    @property
    def width(self) -> float:
        """From its left edge to its right one."""
        across = [x for x, _ in self.points]
        return max(across) - min(across)


class Page:
    """One page as SVG, taken apart."""

    def __init__(self, svg: bytes) -> None:
        self.root = etree.fromstring(svg)
        placed = sorted((y, x, word) for x, y, word in self._texts())
        self.words = [word for _, _, word in placed]
        self.drawn = list(self._drawn())

    def _texts(self) -> Iterator[tuple[float, float, str]]:
        """Every piece of text with its place."""
        for text in self.root.iter(f"{SVG}text"):
            at = re.match(MOVED, text.getparent().get("transform"))
            if at:
                yield float(at[1]), round(float(at[2])), "".join(text.itertext()).strip()

    def _drawn(self) -> Iterator[Drawn]:
        for path in self.root.iter(f"{SVG}path"):
            moved = path.getparent().get("transform")
            shift = re.match(MOVED, moved)
            pairs = re.findall(r"([-\d.]+) ([-\d.]+)", path.get("d"))
            if shift and pairs and path.get("stroke-width"):
                x, y = float(shift[1]), float(shift[2])
                yield Drawn(
                    [(x + float(a), y + float(b)) for a, b in pairs],
                    path.get("fill") != "none",
                )  # fmt: skip

    def levels(self, wide: tuple[float, float]) -> list[float]:
        """How high every level line is whose width lies between the two of *wide*."""
        return [
            each.points[0][1] for each in self.drawn
            if len(each.points) == 2 and each.points[0][1] == each.points[1][1]
            and wide[0] <= abs(each.points[1][0] - each.points[0][0]) <= wide[1]
        ]  # fmt: skip


def drawn_pages(source: str) -> list[Page]:
    with Engraver(svg=True) as engraver:
        engraver.feed(source)
        return [Page(each) for each in engraver.pictures(1, "svg")[0]]


def sheet(score: Score, heard: Footprints) -> Page:
    [page] = drawn_pages(pages([score], heard=[heard]))
    return page


# --- the sheet ------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def marked() -> Page:
    first = tried({3: 34.0, 5: -31.0})
    first[7] = replace(first[7], verdict=Verdict.ANOTHER_NOTE, cents=100.0,
                       heard_as=Reed.parse("-3'"))  # fmt: skip
    first[8] = replace(first[8], verdict=Verdict.MISSED, cents=None)
    first[9] = replace(first[9], verdict=Verdict.UNCLEAR, cents=None)
    return sheet(SCORE, prints(first, advice=("Go on down.",), harp_cents=6.7))


def test_the_sheet_says_how_many_cents_and_which_way_at_each_note(marked: Page) -> None:
    figures = [word for word in marked.words if re.fullmatch(rf"[+{MINUS}]\d+", word)]
    assert figures == ["+1", "+1", "+1", "+34", "+1", f"{MINUS}31", "+1", "+1", "+1", "+1"]


def test_a_note_that_came_out_as_another_shows_its_tab_and_an_unclear_one_a_question(
    marked: Page,
) -> None:
    assert "=" in marked.words
    assert marked.words.count("?") == 2  # at the note and in the key
    assert marked.words.index("=") < marked.words.index("?")


def test_the_sheet_has_the_takes_name_the_advice_and_how_the_harp_is(marked: Page) -> None:
    said = " ".join(marked.words)
    assert "heard in monday.m4a" in said
    assert "8 of 13 notes in their place" in said
    assert "Go on down." in said


def test_how_the_harp_is_tuned_is_said_and_taken_off() -> None:
    [sharp] = sentences(prints(tried({}), harp_cents=6.7))
    assert sharp == (
        "13 of 13 notes in their place. The harp itself is 7 cents sharp, which is taken off."
    )
    [flat] = sentences(prints(tried({}), tried({}, 20.0), harp_cents=-3.2))
    assert flat.endswith("of 2 passes in their place. The harp itself is 3 cents flat, which is "
                         "taken off.")  # fmt: skip
    [one] = sentences(prints(tried({}), harp_cents=1.2))
    assert "The harp itself is 1 cent sharp" in one
    assert sentences(prints(tried({}), harp_cents=0.4)) == ["13 of 13 notes in their place."]


def test_a_dash_on_the_ladder_is_at_its_true_distance_from_its_rung() -> None:
    """A dash 40 cents over the place of a rung is two fifths of the way to the next one."""
    page = sheet(SCORE, prints(tried({3: 40.0, 9: 40.0})))
    dashes = page.levels((0.2, 1.1))
    rungs = sorted({
        round(sum(y for _, y in each.points) / len(each.points), 2) for each in page.drawn
        if each.filled and each.width == pytest.approx(9)
    })  # fmt: skip
    assert len(rungs) == 5  # -3, its three bends, and blow 3
    step = (rungs[-1] - rungs[0]) / 4
    from_second = sorted((rungs[1] - y) / step for y in dashes if rungs[0] + 0.2 < y < rungs[1])
    assert from_second == pytest.approx([0.4, 0.4], abs=0.02)


def test_several_passes_show_the_median_and_how_many_of_how_many() -> None:
    page = sheet(SCORE, prints(tried({3: 30.0}), tried({3: 40.0}, 20.0), tried({3: 4.0}, 40.0)))
    assert "+30" in page.words
    assert page.words.count("1/3") == 1
    assert page.words.count("3/3") == 12
    assert "38 of 39 notes of 3 passes in their place" not in " ".join(page.words)
    assert "37 of 39 notes of 3 passes in their place" in " ".join(page.words)


def test_a_note_written_once_and_played_twice_sums_up_both_times() -> None:
    score = expand(parse('drill "One"\n  play (-2 -3 -2 -3)x2')[0], Harp("C"), Position(2))
    assert len(score.notes) == 8
    page = sheet(score, prints(tried({1: 12.0, 5: 16.0}, score=score)))
    assert page.words.count("2/2") == 4
    assert "+14" in page.words


def test_a_take_with_a_hostile_name_is_only_words() -> None:
    name = 'x" #(system "touch pwned") <script>alert(1)</script> {.m4a'
    page = sheet(SCORE, prints(tried({}), take=name))
    assert "<script>alert(1)</script>" in " ".join(page.words)
    assert page.root.find(f".//{SVG}script") is None
    assert "pwned" in drawn_text(picture(SCORE, prints(tried({}), take=name)))


def drawn_text(source: str) -> str:
    return " ".join(word for page in drawn_pages(source) for word in page.words)


def test_a_sheet_without_a_take_is_as_it_was() -> None:
    assert pages([SCORE], heard=[None]) == pages([SCORE])


# --- what the tries of one note come to -------------------------------------------------------


def try_of(verdict: Verdict, cents: float | None = None, tab: str | None = None) -> Footprint:
    return Footprint(0, verdict, 0.0, 1.0, cents, Reed.parse(tab) if tab else None)


def test_the_middle_of_the_tries_is_judged_not_their_mean() -> None:
    tries = [try_of(Verdict.ON, 2.0), try_of(Verdict.ON, 5.0), try_of(Verdict.SHARP, 60.0)]
    found = summary_of(tries, Tolerance())
    assert found is not None
    assert (found.verdict, found.cents, found.in_place, found.count) == (Verdict.ON, 5.0, 2, 3)


def test_a_note_that_was_mostly_another_is_said_to_be_that() -> None:
    other = try_of(Verdict.ANOTHER_NOTE, 100.0, "-3'")
    found = summary_of([other, other, try_of(Verdict.ON, 1.0)], Tolerance())
    assert found is not None
    assert (found.verdict, found.heard_as) == (Verdict.ANOTHER_NOTE, Reed.parse("-3'"))
    assert summary_of([], Tolerance()) is None


def test_tries_of_a_rung_are_those_of_its_reed_alone() -> None:
    found = tries_of(SCORE, prints(tried({3: 9.0, 9: -9.0})), Reed.parse("-3'"))
    assert [each.cents for each in found] == [9.0, -9.0]


# --- the picture ------------------------------------------------------------------------------


def traced(heard: Footprints, score: Score = SCORE) -> Footprints:
    """*heard* with a level trace for each note, where it came to rest."""
    found = []
    for each in heard.tries:
        at = 1200 * math.log2(score.notes[each.index].hz / 440) + (each.cents or 0.0)
        count = int((each.end_s - each.start_s) / 0.02)
        found.append(Trace(each.start_s, 0.02, (at,) * count))
    return replace(heard, traces=tuple(found))


def test_the_picture_has_the_rungs_and_the_pitch_at_their_true_distance_in_cents() -> None:
    heard = traced(prints(tried({3: 40.0})))
    first = drawn_pages(picture(SCORE, heard))[0]
    rungs = sorted(set(first.levels((80, 90))))[:6]  # of the first row, from high to low
    # -3, -3', -3'', -3''' and -2 (its anchor, a double line) lie a semitone apart
    step = rungs[1] - rungs[0]
    assert [round((y - rungs[0]) / step, 1) for y in rungs[:4]] == [0, 1, 2, 3]
    lines = [each for each in first.drawn if len(each.points) > 20 and not each.filled]
    fourth = lines[3]  # note 3, -3', 40 cents sharp
    places = [(rungs[1] - y) / step for _, y in fourth.points]
    assert places == pytest.approx([0.4] * len(places), abs=0.02)


def test_time_runs_from_left_to_right_in_rows() -> None:
    heard = traced(prints(tried({})))
    whole = drawn_pages(picture(SCORE, heard))[0]
    lines = [each for each in whole.drawn if len(each.points) > 20 and not each.filled]
    assert len(lines) == 13
    widths = [each.points[-1][0] - each.points[0][0] for each in lines]
    assert max(widths) == pytest.approx(min(widths), rel=0.05)  # all notes are of one length
    assert lines[1].points[0][0] > lines[0].points[-1][0]
    said = " ".join(whole.words)
    # thirteen tones of a second each, six or seven of them in each of two rows
    assert re.search(r"seconds 1 2 3 4 5 6( 7)? \+.* seconds 7 8 9 10 11 12 13\b", said), said


def tones_a_row(heard: Footprints) -> list[int]:
    """How many tones each row of the picture has: a row begins where time runs back."""
    found: list[int] = []
    at = math.inf
    for page in drawn_pages(picture(SCORE, heard)):
        for line in [each for each in page.drawn if len(each.points) > 20 and not each.filled]:
            x = line.points[0][0]
            if x <= at:
                found.append(0)
            found[-1] += 1
            at = x
        at = math.inf
    return found


@pytest.mark.parametrize("tones", [9, 10, 17, 18, 25])
def test_no_tone_stands_alone_in_the_last_row(tones: int) -> None:
    """Tones of a second each: rows of eight seconds would leave one or two of them over."""
    passes = [tried({}, 14.0 * number + 1) for number in range(-(-tones // 13))]
    every = [replace(each, start_s=number + 1.0, end_s=number + 1.9)
             for number, each in enumerate(each for one in passes for each in one)]  # fmt: skip
    rows = tones_a_row(traced(prints(every[:tones])))
    assert sum(rows) == tones
    assert len(rows) == math.ceil(tones / 8)  # and no more rows than before
    assert max(rows) - min(rows) <= 1


def test_a_tone_as_long_as_a_row_may_have_it_to_itself() -> None:
    short = tried({})[:5]
    held = replace(tried({})[5], start_s=6.0, end_s=13.5)
    assert tones_a_row(traced(prints([*short, held]))) == [5, 1]


def test_the_picture_names_each_rung_at_both_sides() -> None:
    first = drawn_pages(picture(SCORE, traced(prints(tried({})))))[0]
    for tab in ("-3", "-3'", "-3''", "-3'''", "-2"):
        assert tab in first.words


def test_two_reeds_of_one_pitch_share_a_rung_with_both_their_tabs() -> None:
    score = expand(parse('drill "One"\n  play -2 3 -2 3')[0], Harp("C"), Position(2))  # both are G4
    assert "-2 3" in drawn_pages(picture(score, prints(tried({}, score=score))))[0].words


def test_a_tone_that_is_not_in_the_drill_is_said_to_be_extra() -> None:
    heard = prints(tried({}), asides=(Aside(2.0, 200.0, Reed.parse("4")),))
    assert "extra 4" in drawn_text(picture(SCORE, heard))


def test_nothing_is_drawn_where_nothing_was_played() -> None:
    """Two passes with a minute between them take no more rows than two passes in a row."""
    near = picture(SCORE, traced(prints(tried({}), tried({}, 15.0))))
    apart = picture(SCORE, traced(prints(tried({}), tried({}, 75.0))))
    assert apart.count("seconds") == near.count("seconds") > 2


def test_a_very_long_take_ends_with_a_sentence_and_not_in_silence() -> None:
    many = prints(*(tried({}, 14.0 * number + 1) for number in range(MOST_ROWS)))
    source = picture(SCORE, many)
    assert "The picture ends here" in source.replace('" "', " ")
    assert source.count("seconds") + source.count("minutes") >= MOST_ROWS


def test_short_notes_make_short_rows_so_that_their_figures_have_room() -> None:
    slow = picture(SCORE, prints(tried({}, each_s=1.0)))
    fast = picture(SCORE, prints(tried({}, each_s=0.2)))
    seconds = len(SCORE.notes) * 0.2
    assert Fraction(slow.count('"seconds"'), 13) < fast.count('"seconds"') / seconds


@pytest.mark.parametrize("look", [Look(), Look(paper="letter", large=True), Look(black=True)])
def test_sheets_and_pictures_of_takes_are_drawn_in_every_look(look: Look) -> None:
    heard = traced(prints(tried({3: 34.0}), tried({5: -31.0}, 20.0)))
    for source in (pages([SCORE], look, heard=[heard]), picture(SCORE, heard, look)):
        assert drawn_pages(source)
