"""The shipped drills as a course: each playable where it says, right on paper, and all covered.

Pitches come from the published layout, names and chords from music21 (see ``oracles``).
What a course ought to hold, and the limits of what a level may ask, are common practice,
no published source.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cache
from itertools import pairwise

import music21
import pytest

import oracles
from reedmill.base.text import file_slug
from reedmill.expand import expand, versions
from reedmill.harp import Breath, Harp, Reed
from reedmill.language import Drill
from reedmill.library import Shelved, shipped
from reedmill.score.notation import bars
from reedmill.score.score import Feel, LipShape, Note, Role, Score, SoundingReed
from reedmill.theory.positions import Position
from together import together

SHELF: dict[str, Shelved] = {each.drill.title: each for each in shipped()}
KEYS = [harp for harp in oracles.HARPS if not harp.startswith("low")]
TOPICS = {
    "approach", "blues", "breath", "chords", "echo", "embouchure", "first-position", "high-end",
    "home", "leaps", "melodies", "overbends", "placement", "rhythm", "riffs", "scales",
    "several-holes", "style", "third-position", "thirds", "tones",
}  # fmt: skip
BENDING_HOLES = [hole for hole in range(1, 11) if oracles.bend_depth(hole)]
BENDS = [tab for hole in BENDING_HOLES for tab in oracles.run(hole)[1:]]

every_drill = pytest.mark.parametrize("title", SHELF)
all_drills = together("title", SHELF)  # of what takes no time
every_bend = pytest.mark.parametrize("tab", BENDS)


def claimed(drill: Drill) -> tuple[int, ...]:
    """The positions a drill says it is for; all twelve when it says nothing."""
    return drill.positions or tuple(oracles.POSITIONS)


def first_claimed(drill: Drill) -> int:
    """Cross harp where the drill is for it, as players meet most drills there."""
    return 2 if 2 in claimed(drill) else claimed(drill)[0]


@cache
def played(title: str, position: int, version: int = 0) -> Score:
    """The drill on a C harp."""
    return expand(SHELF[title].drill, Harp("C"), Position(position), version=version)


def usual(title: str) -> Score:
    return played(title, first_claimed(SHELF[title].drill))


def in_claimed_positions(title: str) -> Iterator[Score]:
    return (played(title, position) for position in claimed(SHELF[title].drill))


def in_topic(topic: str) -> list[str]:
    return [title for title, each in SHELF.items() if each.topic == topic]


def semitones(reed: Reed) -> int:
    """Semitones over hole 1 blow; an overbend is one above the hole's higher note.

    A quarter tone counts as the note that it is under.

    Layout: A291810.  That an overbend lies outside the hole's two notes: Bahnson, Antaki
    and Beery (1998); that it is a semitone: common practice, no published source.
    """
    if not reed.over:
        return oracles.plain_semitones(reed.tab.removesuffix("q"))
    return max(oracles.A291810[2 * reed.hole - 2 : 2 * reed.hole]) + 1


def sounded(score: Score) -> Iterator[SoundingReed]:
    """All holes of all notes."""
    return (each for note in score.notes for each in note.sounded)


def degrees(score: Score) -> list[str]:
    return [note.degree.name for note in score.notes]


def tabs(score: Score) -> list[str]:
    return [note.reed.tab for note in score.notes]


def silences(score: Score) -> Iterator[tuple[Fraction, Fraction]]:
    """Where nothing sounds and nothing is left open for an answer: start and end."""
    spans = sorted([(note.start, note.end) for note in score.notes] + list(score.echoes))
    now = score.meter.beats - score.pickup if score.pickup else Fraction(0)
    for start, end in spans:
        if start > now:
            yield now, start
        now = end
    if now < score.length:
        yield now, score.length


# --- every drill on every harp where it says it is for ---


@pytest.mark.parametrize("harp", KEYS)
def test_every_drill_plays_on_every_harp_in_the_positions_it_claims(harp: str, whole: bool) -> None:
    """Key numbers from A291810, names and degrees from music21, for every mouth plan.

    A third of the drills on each harp, so that every drill is played on four; with
    ``--whole`` every drill on every harp.
    """
    on = Harp.parse(harp)
    hole_1 = oracles.key_number(oracles.HOLE_1[harp])
    sample = slice(None) if whole else slice(KEYS.index(harp) % 3, None, 3)
    for title, shelved in list(SHELF.items())[sample]:
        for position in claimed(shelved.drill):
            root = oracles.root(harp, position).pitchClass
            for version in versions(shelved.drill):
                score = expand(shelved.drill, on, Position(position), version=version)
                tonic = score.key.name
                assert oracles.in_music21(tonic).pitchClass == root, title
                for each in sounded(score):
                    quarter = "q" if each.reed.tab.endswith("q") else ""
                    key = oracles.key_number(each.pitch.name.replace("q", ""))
                    assert key == hole_1 + semitones(each.reed), title
                    assert each.pitch.note == each.pitch.note.replace("q", "") + quarter, title
                    lower = music21.pitch.Pitch(ps=key - 0.5 * len(quarter))
                    assert each.hz == pytest.approx(lower.frequency), title
                    named = oracles.degree_by_spelling(tonic, each.pitch.note.removesuffix("q"))
                    assert each.degree.name == named + quarter, title


@every_drill
def test_bars_add_up_in_values_that_can_be_written(title: str) -> None:
    """music21 needs one notehead, dotted or not, for every written value."""
    for score in in_claimed_positions(title):
        written = bars(score)
        assert len(written) * score.meter.beats == score.length
        for at, bar in enumerate(written):
            full = score.pickup if score.pickup and at == 0 else score.meter.beats
            assert sum(piece.length for piece in bar) == full
            for piece in bar:
                quarters = piece.value * Fraction(4, score.meter.unit)
                assert len(music21.duration.Duration(quarters).components) == 1


@every_drill
def test_nothing_to_warn_of_on_a_c_harp_at_the_starting_tempo(title: str) -> None:
    assert [score.warnings for score in in_claimed_positions(title) if score.warnings] == []


# --- what a player reads ---


def sentence(text: str | None) -> bool:
    """One sentence: it starts with a capital, ends with a stop, and has none inside."""
    return bool(text and re.fullmatch(r"[A-Z][^.?!]*[.?]", text))


@all_drills
def test_each_drill_says_what_it_is_for_and_what_to_listen_for(title: str) -> None:
    drill = SHELF[title].drill
    assert drill.level in range(1, 6)
    assert sentence(drill.about), drill.about
    assert sentence(drill.listen), drill.listen


@all_drills
def test_each_drill_suggests_a_range_of_tempi(title: str) -> None:
    """A range worth weeks of practice, not of years: a fifth faster to three fifths faster.

    The tasks of a placement are played once, each at the one tempo at which they are compared.
    """
    drill = SHELF[title].drill
    assert drill.tempo_bpm
    if SHELF[title].topic == "placement":
        assert drill.tempo_goal_bpm is None
        return
    assert drill.tempo_goal_bpm
    assert 1.2 <= drill.tempo_goal_bpm / drill.tempo_bpm <= 1.6


def test_no_drill_is_only_a_copy_of_another_in_name_or_in_words() -> None:
    drills = [each.drill for each in SHELF.values()]
    assert len(drills) == len(shipped())
    for texts in (
        [file_slug(drill.title) for drill in drills],
        [drill.about for drill in drills],
        [drill.listen for drill in drills],
    ):
        assert [text for text, count in Counter(texts).items() if count > 1] == []


@all_drills
def test_titles_are_short(title: str) -> None:
    assert len(title) <= 40


@all_drills
def test_the_holes_a_purpose_names_are_played(title: str) -> None:
    """``draw 3`` in the purpose means that draw 3, plain or bent, is in the music."""
    said = re.findall(r"(draw|blow) (\d+)", (SHELF[title].drill.about or "").lower())
    heard = {(n.reed.breath.value, str(n.reed.hole)) for n in sounded(usual(title))}
    assert set(said) <= heard


# --- what a player can do ---


def seconds(score: Score, note: Note) -> float:
    return float(score.performed_s(note.end) - score.performed_s(note.start))


def bends(reed: Reed) -> bool:
    return bool(reed.bend or reed.over or reed.quarter)


# The shortest a bend may last, in seconds, at each level: common practice, no published source.
SHORTEST_BEND_S = {1: 1.0, 2: 1 / 3, 3: 0.3, 4: 0.25, 5: 0.25}


@every_drill
def test_bends_come_on_short_notes_only_at_higher_levels(title: str) -> None:
    level = SHELF[title].drill.level or 0
    for score in in_claimed_positions(title):
        bent = [note for note in score.notes if any(bends(reed) for reed in note.reeds)]
        assert all(seconds(score, note) >= SHORTEST_BEND_S[level] for note in bent)


@every_drill
def test_the_mouth_jumps_over_three_holes_at_most(title: str) -> None:
    for score in in_claimed_positions(title):
        pairs = pairwise(note.reed.hole for note in score.notes)
        assert all(abs(there - here) <= 4 for here, there in pairs)


@all_drills
def test_only_level_5_asks_for_overbends(title: str) -> None:
    over = any(each.reed.over for score in in_claimed_positions(title) for each in sounded(score))
    assert not over or SHELF[title].drill.level == 5


@all_drills
def test_no_more_than_three_bars_of_silence_but_for_an_answer(title: str) -> None:
    score = usual(title)
    assert all(end - start <= 3 * score.meter.beats for start, end in silences(score))


@all_drills
def test_the_last_bar_has_a_note_or_room_for_the_answer(title: str) -> None:
    score = usual(title)
    last = max([score.notes[-1].end, *(end for _, end in score.echoes)])
    assert score.length - last < score.meter.beats


@all_drills
def test_each_drill_comes_home(title: str) -> None:
    """To its anchor, else to the root of every position it names, else to that of cross harp."""
    drill = SHELF[title].drill
    scores = list(in_claimed_positions(title)) if drill.positions else [played(title, 2)]
    for score in scores:
        last = score.notes[-1]
        assert last.reed == score.anchor or "1" in {each.degree.name for each in last.sounded}


# --- the shelf as a whole ---


def test_a_year_of_lessons_on_five_levels() -> None:
    levels = Counter(each.drill.level for each in SHELF.values())
    assert len(SHELF) >= 60
    for level, least in {1: 15, 2: 15, 3: 15, 4: 10, 5: 6}.items():
        assert levels[level] >= least


def test_every_topic_has_three_drills_or_more() -> None:
    counts = Counter(each.topic for each in SHELF.values())
    assert set(counts) == TOPICS
    assert min(counts.values()) >= 3


def pairs_on_the_shelf() -> Iterator[tuple[Note, Note]]:
    """Every note of the shelf with the one after it."""
    for title in SHELF:
        yield from pairwise(usual(title).notes)


def reached(how: str) -> set[str]:
    """The tab of every note that is reached in a certain way somewhere on the shelf."""
    return {b.reed.tab for a, b in pairs_on_the_shelf() if WAYS[how](a, b)}


WAYS: dict[str, Callable[[Note, Note], bool]] = {
    "from the anchor": lambda a, b: a.role is Role.ANCHOR and b.role is Role.RUNG,
    "out of silence": lambda a, b: b.start - a.end >= 1,
    "by a slide": lambda a, b: b.joined and a.reed != b.reed,
}


@every_bend
@pytest.mark.parametrize("how", ["from the anchor", "out of silence", "by a slide"])
def test_every_bend_of_a_richter_harp_is_reached(tab: str, how: str) -> None:
    """How far each hole bends: strictly between its two notes of A291810."""
    assert tab in reached(how)


@pytest.mark.parametrize("hole", [2, 3])
def test_deep_holes_are_stepped_down_and_up_without_a_slide(hole: int) -> None:
    run = oracles.run(hole)
    steps = {
        (a.reed.tab, b.reed.tab)
        for a, b in pairs_on_the_shelf()
        if a.reed.hole == b.reed.hole == hole and a.end == b.start and not b.joined
    }
    assert {*pairwise(run), *pairwise(run[::-1])} <= steps


@pytest.mark.parametrize("hole", [2, 3])
def test_rungs_are_skipped_down_and_reached_from_below(hole: int) -> None:
    plain, first, second, *_ = oracles.run(hole)
    steps = {(a.reed.tab, b.reed.tab) for a, b in pairs_on_the_shelf() if not b.joined}
    assert {(plain, second), (second, first)} <= steps


def an_octave_away(tab: str) -> set[str]:
    """The plain notes that sound an octave above or below *tab*, by A291810."""
    here = oracles.plain_semitones(tab)
    plain = [tab for tab in oracles.PLAIN_TABS if "'" not in tab]
    return {other for other in plain if abs(oracles.plain_semitones(other) - here) == 12}


def test_a_bend_with_a_plain_note_an_octave_away_is_copied_from_it() -> None:
    wanted = {tab for tab in BENDS if an_octave_away(tab)}
    assert len(wanted) >= 3
    pairs = {(b.reed.tab, a.reed.tab) for a, b in pairs_on_the_shelf()}
    for tab in wanted:
        assert any((tab, other) in pairs for other in an_octave_away(tab)), tab


def test_bends_an_octave_apart_answer_each_other() -> None:
    pairs = {(a.reed.tab, b.reed.tab) for a, b in pairs_on_the_shelf()}
    wanted = [
        (high, low)
        for high in BENDS
        for low in BENDS
        if oracles.plain_semitones(high) - oracles.plain_semitones(low) == 12
    ]
    assert len(wanted) >= 2
    assert set(wanted) <= pairs


def test_draw_2_is_compared_with_its_unison_blow_3_both_ways() -> None:
    """They are one note: A291810, 7 semitones over hole 1 blow."""
    assert oracles.plain_semitones("-2") == oracles.plain_semitones("3") == 7
    pairs = {(a.reed.tab, b.reed.tab) for a, b in pairs_on_the_shelf()}
    assert {("-2", "3"), ("3", "-2")} <= pairs


@pytest.mark.parametrize("position", [1, 2, 3])
def test_both_thirds_stand_side_by_side(position: int) -> None:
    both = [
        title
        for title in in_topic("thirds")
        if position in claimed(SHELF[title].drill)
        and {"3", "b3"} <= set(degrees(played(title, position)))
    ]
    assert len(both) >= 1


def test_cross_harp_plays_its_thirds_on_draw_3_and_its_bend() -> None:
    """Common practice, no published source."""
    score = usual("Two thirds side by side")
    assert {n.reed.tab: n.degree.name for n in score.notes if n.role is Role.RUNG} == {
        "-3": "3", "-3'": "b3",
    }  # fmt: skip


@pytest.mark.parametrize("tab", ["-4'", "-1'"])
def test_the_flat_five_of_cross_harp_is_drilled_in_both_octaves(tab: str) -> None:
    """Common practice, no published source."""
    drills = [
        title
        for title in in_topic("blues")
        if any(n.reed.tab == tab and n.degree.name == "b5" for n in played(title, 2).notes)
    ]
    assert drills


# --- scales and chords ---


def test_the_blues_scale_of_cross_harp_from_draw_2() -> None:
    """Common practice, no published source."""
    up = tabs(usual("Blues scale, one octave"))[:7]
    assert " ".join(up) == "-2 -3' 4 -4' -4 -5 6"


# Degrees of the scales: common practice, no published source.
SCALES = {
    "blues scale": {"1", "b3", "4", "b5", "5", "b7"},
    "major pentatonic": {"1", "2", "3", "5", "6"},
}


@pytest.mark.parametrize("position", [1, 2, 3])
@pytest.mark.parametrize("scale", SCALES)
def test_scales_of_the_three_main_positions(scale: str, position: int) -> None:
    found = [
        title
        for topic in ("scales", "high-end", "overbends")
        for title in in_topic(topic)
        if position in claimed(SHELF[title].drill)
        and set(degrees(played(title, position))) == SCALES[scale]
    ]
    assert found


def bars_of_chords(position: int) -> set[frozenset[int]]:
    """The pitch classes that sound in each bar of the chord drills for *position*."""
    found = set()
    for title in in_topic("chords"):
        if position in claimed(SHELF[title].drill):
            for bar in bars(played(title, position)):
                notes = [piece.note for piece in bar if piece.note]
                found.add(frozenset(note.pitch.midi % 12 for note in notes))
    return found


# The keys of a C harp's positions, and third position's minor home with a major four: common
# practice, no published source.
CHORDS = [
    (1, "C", "I"), (1, "C", "IV"), (1, "C", "V"),
    (2, "G", "I"), (2, "G", "IV"), (2, "G", "V"),
    (3, "d", "i"), (3, "d", "IV"), (3, "d", "v"),
]  # fmt: skip


@pytest.mark.parametrize(("position", "key", "numeral"), CHORDS)
def test_a_bar_for_each_of_the_three_chords(position: int, key: str, numeral: str) -> None:
    """Chord tones from music21."""
    chord = music21.roman.RomanNumeral(numeral, music21.key.Key(key))
    assert frozenset(chord.pitchClasses) in bars_of_chords(position)


@pytest.mark.parametrize("position", [4, 5, 12])
def test_tunes_for_the_positions_beside_the_main_three(position: int) -> None:
    tunes = [each for each in SHELF.values() if each.drill.tune]
    assert [each for each in tunes if position in each.drill.positions]


RIFFS = in_topic("riffs")


@pytest.mark.parametrize("title", RIFFS)
def test_riffs_last_two_bars_or_more_and_end_on_a_note_of_the_home_chord(title: str) -> None:
    """Chord tones from music21."""
    for score in in_claimed_positions(title):
        assert score.bars >= 2
        tonic = oracles.in_music21(score.key.name).name
        home = [music21.roman.RomanNumeral("I", music21.key.Key(tonic)).pitchClasses]
        home.append(music21.roman.RomanNumeral("i", music21.key.Key(tonic, "minor")).pitchClasses)
        assert any(score.notes[-1].pitch.midi % 12 in chord for chord in home)


def test_most_riffs_use_a_rung() -> None:
    bent = [title for title in RIFFS if any(note.reed.bend for note in usual(title).notes)]
    assert len(bent) > len(RIFFS) * 3 / 4


# --- rhythm, echo, mouth and breath ---


def test_meters_feels_and_accents_of_the_rhythm_drills() -> None:
    scores = [usual(title) for title in in_topic("rhythm")]
    assert {score.meter.name for score in scores} >= {"4/4", "3/4", "6/8", "12/8"}
    assert any(score.feel is Feel.SHUFFLE for score in scores)
    assert any(score.triplet_beats for score in scores)
    assert any(score.pickup for score in scores)
    assert any(note.accent for score in scores for note in score.notes)
    assert any(note.start % 1 for score in scores for note in score.notes)


@pytest.mark.parametrize("title", in_topic("echo"))
def test_an_answer_takes_the_time_of_its_call(title: str) -> None:
    score = usual(title)
    assert len(score.echoes) >= 3
    ends = [Fraction(0), *(end for _, end in score.echoes)]
    for before, (start, end) in zip(ends, score.echoes, strict=False):
        assert start - before == end - start


def plans() -> set[tuple[LipShape, LipShape]]:
    holds = [plan for title in SHELF for plan in SHELF[title].drill.embouchures]
    return {(plan.anchors, plan.rungs) for plan in holds}


def test_mouth_plans_with_lips_with_the_tongue_on_either_side_and_mixed() -> None:
    assert {(hold, hold) for hold in LipShape} <= plans()
    assert {(a, b) for a, b in plans() if a is not b and LipShape.LIPS in (a, b)}
    assert {(a, b) for a, b in plans() if a is not b and LipShape.LIPS not in (a, b)}
    assert all(SHELF[title].drill.embouchures for title in in_topic("embouchure"))


@pytest.mark.parametrize("title", in_topic("breath"))
def test_breath_drills_go_both_ways_and_need_no_extra_breath(title: str) -> None:
    score = usual(title)
    assert {note.reed.breath for note in score.notes} == set(Breath)
    assert score.breaths == ()


def test_one_breath_drill_blows_as_long_as_it_draws() -> None:
    """Within one long note, on which the drill ends."""
    score = usual("Even breath")
    blown = sum(n.length for n in score.notes if n.reed.breath is Breath.BLOW)
    drawn = sum(n.length for n in score.notes if n.reed.breath is Breath.DRAW)
    assert blown - drawn == score.notes[-1].length


@pytest.mark.parametrize("title", in_topic("tones"))
def test_long_tones_last_four_seconds_and_have_a_rest_after_them(title: str) -> None:
    score = usual(title)
    long = [note for note in score.notes if seconds(score, note) >= 4]
    after = {a.end: b.start for a, b in pairwise(score.notes)}
    assert len(long) >= 2
    assert all(after.get(note.end, score.length) > note.end for note in long[:-1])


def test_sections_take_a_drill_from_long_tones_into_time() -> None:
    names = [[name for _, name in usual(title).sections] for title in SHELF]
    assert sum(each == ["Long tones", "In time"] for each in names) >= 3


def test_the_overbend_drills_fill_every_gap_of_the_layout() -> None:
    """A291810 with all bends lacks six of its thirty-seven semitones."""
    plain = {oracles.plain_semitones(tab) for tab in oracles.PLAIN_TABS}
    missing = set(range(37)) - plain
    assert len(missing) == 6
    heard = {semitones(n.reed) for title in in_topic("overbends") for n in usual(title).notes}
    assert missing <= heard


def test_every_natural_note_of_the_harp_is_played_somewhere() -> None:
    heard = {tab for title in SHELF for tab in tabs(usual(title))}
    assert set(oracles.PLAIN_TABS) <= heard
