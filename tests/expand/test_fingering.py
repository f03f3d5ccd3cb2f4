"""Which reeds play a tune: the solver against every way there is, tried one by one.

The costs are stated here a second time, in words a player would use; reeds come from the
published layout (OEIS A291810) and from tables of their own, pitches from music21.
"""

from __future__ import annotations

import json
import random
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise, product

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

import oracles
from reedmill.base.errors import PatternError
from reedmill.base.text import printable
from reedmill.cli.why_words import why_these_reeds
from reedmill.expand import expand, ways, why_reeds
from reedmill.expand.fingering import Target, fingerings, playable_until
from reedmill.expand.reed_choices import Decided, effort_of, reed_choices, why_data
from reedmill.harp import LAYOUTS, Harp, Layout, Reed
from reedmill.harp.together import holes_tab
from reedmill.language import parse
from reedmill.score.score import Meter, Score
from reedmill.theory.positions import Position

CROSS_C = (Harp("C"), Position(2))

# Semitones over hole 1 blow, blow row and draw row.  Country raises draw 5 a semitone,
# natural minor lowers blow 2 5 8 and draw 3 7: common practice, no published source.
Rows = tuple[tuple[int, ...], tuple[int, ...]]
RICHTER: Rows = (tuple(oracles.A291810[::2]), tuple(oracles.A291810[1::2]))
ROWS: dict[str, Rows] = {
    "richter": RICHTER,
    "country": (RICHTER[0], (2, 7, 11, 14, 18, 21, 23, 26, 29, 33)),
    "natural-minor": (
        (0, 3, 7, 12, 15, 19, 24, 27, 31, 36),
        (2, 7, 10, 14, 17, 21, 22, 26, 29, 33),
    ),
}


@dataclass(frozen=True)
class Sound:
    """One way to sound a note, as a player thinks of it."""

    hole: int
    draw: bool
    bend: int
    over: bool
    semitones: int  # over hole 1 blow

    @property
    def tab(self) -> str:
        """As it is written."""
        return f"{'-' * self.draw}{self.hole}{chr(39) * self.bend}{'^' * self.over}"


@cache
def sounds(rows: Rows = RICHTER) -> tuple[Sound, ...]:
    """Everything a harp gives: both reeds of a hole, the notes between them, and overbends.

    Bends lie strictly between the two notes, overbends outside (Bahnson, Antaki and Beery,
    1998); that an overbend is a semitone over the higher note, and is left alone where the
    harp has its note anyway, is common practice.
    """
    found = [sound for hole in range(1, 11) for sound in _plain(rows, hole)]
    had = {sound.semitones for sound in found}
    for hole, (blow, draw) in enumerate(zip(*rows, strict=True), start=1):
        if blow != draw and max(blow, draw) + 1 not in had:
            found.append(Sound(hole, blow > draw, 0, True, max(blow, draw) + 1))
    return tuple(found)


def _plain(rows: Rows, hole: int) -> Iterator[Sound]:
    blow, draw = (row[hole - 1] for row in rows)
    yield Sound(hole, False, 0, False, blow)
    yield Sound(hole, True, 0, False, draw)
    high = max(blow, draw)
    for between in range(min(blow, draw) + 1, high):
        yield Sound(hole, draw > blow, high - between, False, between)


def effort(way: tuple[Sound, ...], lengths_s: list[float]) -> int:
    """The table of costs, added up.

    1 a hole moved, 2 a turn of breath, 2 a semitone of bend, 3 more for a bend on a note
    under 0.3 s, 8 an overbend.
    """
    moving = sum(abs(a.hole - b.hole) + 2 * (a.draw != b.draw) for a, b in pairwise(way))
    bending = sum(2 * sound.bend + 8 * sound.over for sound in way)
    hurried = sum(
        3 for sound, length_s in zip(way, lengths_s, strict=True) if sound.bend and length_s < 0.3
    )
    return moving + bending + hurried


def slides(before: Sound, after: Sound) -> bool:
    """One hole, one breath, and no jump between a bend and an overbend."""
    return (before.hole, before.draw, before.over) == (after.hole, after.draw, after.over)


@dataclass(frozen=True)
class Phrase:
    """Key numbers, lengths and slides of a tune on one harp."""

    rows: Rows
    lowest: int  # key number of hole 1 blow
    overbends: bool
    keys: list[int]
    lengths_s: list[float]
    joined: list[bool]

    @property
    def targets(self) -> list[Target]:
        """The phrase for the solver."""
        rows = zip(self.keys, self.lengths_s, self.joined, strict=True)
        return [Target(*row) for row in rows]

    def every_way(self) -> list[tuple[int, tuple[str, ...]]]:
        """What each possible way costs, and its tab; cheapest first."""
        choices = [
            [
                sound
                for sound in sounds(self.rows)
                if sound.semitones == key - self.lowest and (self.overbends or not sound.over)
            ]
            for key in self.keys
        ]
        found = [
            (effort(way, self.lengths_s), tuple(sound.tab for sound in way))
            for way in product(*choices)
            if all(
                slides(a, b)
                for (a, b), joined in zip(pairwise(way), self.joined[1:], strict=True)
                if joined
            )
        ]
        return sorted(found)


HARPS = {"C": 60, "low F": 53, "F#": 66, "G": 55, "Bb": 58}  # hole 1 blow, common practice


def any_rows(chance: random.Random) -> Rows:
    """A layout of the table, or one of somebody's own, on which many notes have many reeds."""
    if chance.random() < 0.5:
        return chance.choice(list(ROWS.values()))
    blow, draw = (sorted(chance.choices(range(25), k=10)) for _ in range(2))
    return tuple(blow), tuple(draw)


def any_phrase(chance: random.Random) -> tuple[Harp, Phrase]:
    """Up to six notes, most of which the harp has, now and then slid or short."""
    name, lowest = chance.choice(list(HARPS.items()))
    rows = any_rows(chance)
    known = Counter(sound.semitones for sound in sounds(rows))
    several = [note for note, reeds in known.items() if reeds > 1] or [0]
    keys: list[int] = []
    joined: list[bool] = []
    for at in range(chance.randint(1, 6)):
        joined.append(at > 0 and chance.random() < 0.15)
        if joined[at]:  # a slide stays near, so that there often is one
            keys.append(keys[at - 1] + chance.choice([-2, -1, 0, 1, 2]))
        elif chance.random() < 0.5:
            keys.append(lowest + chance.choice(several))
        else:
            keys.append(lowest + chance.choice([*known, *known, 40]))
    lengths_s = [chance.choice([0.1, 0.29, 0.3, 0.5, 1.0]) for _ in keys]
    harp = Harp.parse(name, Layout(printable("any"), *rows))
    return harp, Phrase(rows, lowest, chance.random() < 0.5, keys, lengths_s, joined)


@pytest.mark.parametrize("seed", range(10))
def test_no_way_is_easier_and_the_runner_up_is_second(seed: int) -> None:
    """Five hundred phrases, every way of each tried."""
    chance = random.Random(seed)
    solved = several = 0
    for _ in range(50):
        harp, phrase = any_phrase(chance)
        found = fingerings(harp, phrase.targets, overbends=phrase.overbends)
        known = phrase.every_way()
        costs = {tabs: cost for cost, tabs in known}
        ours = [tuple(reed.tab for reed in way.reeds) for way in found]
        assert len(set(ours)) == len(found) == min(2, len(known)), phrase
        assert [way.cost for way in found] == [cost for cost, _ in known[:2]], phrase
        assert [costs[tabs] for tabs in ours] == [way.cost for way in found], phrase
        solved += bool(known)
        several += len(known) > 1
    assert solved > 25, "most phrases can be played"
    assert several > 15, "and many in several ways"


def test_the_reeds_of_the_tables_are_those_of_the_harps() -> None:
    """The tables above against the harps they restate, so that no reed is left untried."""
    for name, layout in LAYOUTS.items():
        assert name in ROWS, (
            f"no test restates the layout {name}: write its two rows in ROWS of "
            "tests/expand/test_fingering.py, from where you have them and not from harp/layouts.py"
        )
        harp = Harp("C", "", layout)
        ours = {(reed.tab, harp.midi(reed) - 60) for reed in harp.reeds()}
        assert ours == {(sound.tab, sound.semitones) for sound in sounds(ROWS[name])}


def tabs(score: Score) -> list[str]:
    return [note.reed.tab for note in score.notes]


def tune(music: str, *, harp: str = "C", position: int = 2, lines: str = "") -> Score:
    text = f'drill "Tune"\n{lines}  tune {music}\n'
    return expand(parse(text)[0], Harp.parse(harp), Position(position))


# --- what each part of the cost decides ---


@pytest.mark.parametrize(
    ("music", "position", "reeds"),
    [
        # Draw 2 and blow 3 are one note; each neighbour pulls it to its own breath.
        ("1 2", 2, "-2 -3''"),  # a hole costs less than a turn of breath
        ("5- 1", 2, "-1 -2"),  # draw to draw
        ("1 4 1 4", 2, "3 4 3 4"),  # blow to blow
        ("5 1", 1, "3 1"),  # 1st position: G down to C, blow to blow
        ("5 2", 1, "-2 -1"),  # and to D, draw to draw
    ],
)
def test_breath_and_holes_decide_between_the_two_reeds_of_one_note(
    music: str, position: int, reeds: str
) -> None:
    assert tabs(tune(music, position=position)) == reeds.split()


def test_an_overbend_is_taken_only_where_it_is_allowed() -> None:
    """The b3 above blow 6 in cross harp is overblow 6 alone (OEIS A291810)."""
    assert tabs(tune("1+ b3+ 1+", lines="  allow overbends\n")) == ["6", "6^", "6"]
    with pytest.raises(PatternError, match="no reed gives b3 here in 2nd position"):
        tune("1+ b3+ 1+")


def test_a_slide_decides_the_reed_of_the_note_before_it() -> None:
    """Draw 2 bends down to the b7; blow 3, the same root, does not bend."""
    assert tabs(tune("4 1~b7-")) == ["4", "-2", "-2''"]


def test_a_reed_that_is_named_counts_among_its_neighbours() -> None:
    """The anchor is played on its own reed, and a slide may leave it."""
    score = tune("1 anchor~b3 1", lines="  anchor -3\n")
    assert tabs(score)[1:3] == ["-3", "-3'"]
    assert [note.joined for note in score.notes] == [False, False, True, False]


def test_the_time_for_a_tune_of_64_notes() -> None:
    """Under 50 ms, the best of several runs; the other load of a machine is not the solver's."""
    chance = random.Random(64)
    degrees = [sound.semitones + 60 for sound in sounds() if not sound.over]
    targets = [Target(chance.choice(degrees), 0.25) for _ in range(64)]
    best_s = 1.0
    for _ in range(7):
        began = time.perf_counter()
        assert len(fingerings(Harp("C"), targets, overbends=True)) == 2
        best_s = min(best_s, time.perf_counter() - began)
    assert best_s < 0.05


# --- what players know ---


def test_the_blues_scale_of_cross_harp() -> None:
    """Draw 2 to blow 6: common practice, no published source."""
    assert tabs(tune("1 b3 4 b5 5 b7 1+")) == ["-2", "-3'", "4", "-4'", "-4", "-5", "6"]


def test_the_major_scale_from_hole_4_in_first_position() -> None:
    """Common practice, no published source; the pitches are music21's C major."""
    score = tune("1+ 2+ 3+ 4+ 5+ 6+ 7+ 1++", position=1)
    assert tabs(score) == ["4", "-4", "5", "-5", "6", "-6", "-7", "7"]
    scale = music21.scale.MajorScale("C").getPitches("C5", "C6")
    assert [note.pitch.name for note in score.notes] == [str(p.nameWithOctave) for p in scale]


def test_degrees_of_the_octave_above_are_8_to_14() -> None:
    assert tabs(tune("8 9 10 11 12 13 14", position=1)) == tabs(
        tune("1+ 2+ 3+ 4+ 5+ 6+ 7+", position=1)
    )


# --- where a tune lies, and where its phrases end ---


@pytest.mark.parametrize(
    ("position", "low", "middle", "high"),
    [
        # The root of each position on a C harp, by fifths from C, on the layout OEIS A291810 with
        # its bends and overbends: one in every octave from blow 1, 4 and 7 up.
        (1, "1", "4", "7"), (2, "-2", "6", "9"), (3, "-1", "-4", "-8"), (4, "-3''", "-6", "-10"),
        (5, "2", "5", "8"), (6, "-3", "-7", "10'"), (7, "-2'", "5^", "9'"),
        (8, "-1'", "-4'", "-7^"), (9, "-3'''", "-6'", "-9^"), (10, "1^", "4^", "8'"),
        (11, "-3'", "6^", "10''"), (12, "-2''", "-5", "-9"),
    ],
)  # fmt: skip
def test_an_octave_line_says_in_which_octave_the_root_lies(
    position: int, low: str, middle: str, high: str
) -> None:
    lines = "  allow overbends\n"
    for octave, reed in (("low", low), ("middle", middle), ("high", high)):
        found = tune("1", position=position, lines=f"{lines}  octave {octave}\n")
        assert (octave, tabs(found)) == (octave, [reed])
    assert tabs(tune("1", position=position, lines=lines)) == [low]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda each: each.name)
@pytest.mark.parametrize("position", oracles.POSITIONS)
def test_an_octave_is_twelve_semitones_on_every_layout(layout: Layout, position: int) -> None:
    harp, where = Harp("A", "", layout), Position(position)
    text = 'drill "x"\n  allow overbends\n  octave {}\n  tune 1\n'
    found = []
    for octave in ("low", "middle", "high"):
        [drill] = parse(text.format(octave))
        found.append(expand(drill, harp, where).notes[0].pitch.midi)
    assert found == [found[0], found[0] + 12, found[0] + 24]
    blow_1 = oracles.key_number("A3")
    assert blow_1 <= found[0] < blow_1 + 12


def test_a_tune_goes_up_an_octave_only_where_its_low_root_is_not_a_natural_note() -> None:
    """In 4th position on C the low root is A4, draw 3 bent, and no reed gives Eb5 but overblow 4.

    In cross harp the low root is draw 2, and the writer who meant it is told of the other octave.
    """
    assert tabs(tune("1 b3 4 5", position=4)) == ["-3''", "4", "-4", "5"]
    assert tabs(tune("1 b3 4 b5", position=4)) == ["-6", "7", "-8", "8'"]
    with pytest.raises(PatternError, match="write octave middle"):
        tune("1+ b3+ 1+")
    assert tabs(tune("1+ b3+ 1+", lines="  octave middle\n")) == ["9", "10''", "9"]


def test_all_tunes_of_a_drill_count_from_one_root() -> None:
    """The Eb6 of the second section takes the first one along, up to draw 6."""
    text = 'drill "x"\n  section "A"\n  tune 1 b3\n  section "B"\n  tune 1 b5\n'
    [drill] = parse(text)
    score = expand(drill, Harp("C"), Position(4))
    assert tabs(score) == ["-6", "7", "-6", "8'"]


@pytest.mark.parametrize(
    ("music", "reeds"),
    [
        ("4 1", "4 -2"),  # the end of the tune
        ("4 1 r 4 1 4", "4 -2 4 3 4"),  # before a rest, and in the middle
        ("4 4:1/2 1:1 4:1/2 4", "4 4 -2 4 4"),  # longer than the next note
        ("4 4:2 1 4:1/2 4", "4 4 3 4 4"),  # but no shorter than the one before
        ("1:2 4 4", "3 4 4"),  # where a phrase begins nothing ends
        ("4 1+ r", "4 6"),  # of the root above there is one reed alone
        ("4 5-", "4 -1"),  # the end, but not on the root
    ],
)
def test_a_phrase_of_cross_harp_that_ends_on_the_root_ends_on_draw_2(
    music: str, reeds: str
) -> None:
    """Blow 3 is the same note (OEIS A291810), and nearer to blow 4."""
    assert tabs(tune(music)) == reeds.split()


def test_an_anchor_on_blow_3_is_home_instead() -> None:
    assert tabs(tune("5- 4 1", lines="  anchor 3\n")) == ["-1", "4", "3"]


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=lambda each: each.name)
def test_home_is_in_the_breath_of_its_chord_on_every_layout(layout: Layout) -> None:
    """Draw 1, 3 and 4 beside draw 2 are a chord on it, also with the low third of natural minor."""
    [drill] = parse('drill "x"\n  tune 4 1\n')
    score = expand(drill, Harp("C", "", layout), Position(2))
    assert tabs(score)[-1] == "-2"


def test_where_the_blow_notes_are_the_chord_home_is_a_blow() -> None:
    """A layout of our own: blow 3 and draw 2 are G, and blow 2 and 4 (B and D) its third and fifth.

    Draw 1 and 3 are E and A, which a G chord does not have.
    """
    blow = (0, 11, 7, 14, 16, 19, 24, 28, 31, 36)
    draw = (4, 7, 9, 17, 20, 21, 23, 26, 29, 33)
    own = Harp("C", "", Layout(printable("turned"), blow, draw))
    [drill] = parse('drill "x"\n  tune 2 1\n')  # A4 is draw 3, and draw 2 is beside it
    assert tabs(expand(drill, own, Position(2))) == ["-3", "3"]


def test_a_slide_to_the_root_is_played_where_it_can_be() -> None:
    """Blow 3 does not bend: from F4 up to G4 a slide is draw 2 alone, wherever home is."""
    assert tabs(tune("b7-~1", lines="  anchor 3\n")) == ["-2''", "-2"]


# --- a tune on every harp and position ---

degrees = st.builds(
    "{}{}{}".format,
    st.sampled_from(["", "", "", "b", "#"]),
    st.integers(1, 7),
    st.sampled_from(["", "", "+", "-", "++"]),
)
tunes = st.lists(degrees, min_size=1, max_size=8)


@cache
def roots(harp: str, position: int) -> tuple[int, int, int]:
    """The root in the low, middle and high octave, each counted from hole 1 blow up.

    The root by perfect fifths with music21.
    """
    lowest = oracles.key_number(oracles.HOLE_1[harp])
    low = lowest + (oracles.root(harp, position).midi - lowest) % 12
    return low, low + 12, low + 24


def home(music: list[str], harp: str, position: int, *, overbends: bool) -> int:
    """Where the tune's own octave starts, by the law in the documentation.

    The low root; and where that is not a natural note, the lowest root from which the harp has
    the whole tune.
    """
    low, *higher = roots(harp, position)
    lowest = oracles.key_number(oracles.HOLE_1[harp])
    natural = {lowest + sound.semitones for sound in sounds() if not sound.bend and not sound.over}
    if low in natural:
        return low
    whole = (at for at in (low, *higher) if sound_all(music, harp, at, overbends=overbends))
    return next(whole, low)


def above_root(degree: str) -> int:
    """Semitones over the home root, by music21's major scale on C and its accidentals."""
    plain = degree.strip("b#+-")
    semitones = music21.scale.MajorScale("C4").pitchFromDegree(int(plain)).midi - 60
    semitones += {"b": -1, "#": 1}.get(degree[0], 0)
    return int(semitones + 12 * (degree.count("+") - degree.count("-")))


def has_all(music: list[str], harp: str, position: int, *, overbends: bool) -> bool:
    """Whether every degree has a reed, looked up in the table."""
    start = home(music, harp, position, overbends=overbends)
    return sound_all(music, harp, start, overbends=overbends)


def sound_all(music: list[str], harp: str, start: int, *, overbends: bool) -> bool:
    """Whether every degree over the key number *start* has a reed, looked up in the table."""
    lowest = oracles.key_number(oracles.HOLE_1[harp])
    sounding = {lowest + sound.semitones for sound in sounds() if overbends or not sound.over}
    return all(start + above_root(degree) in sounding for degree in music)


@given(tunes, st.sampled_from(oracles.HARPS), st.sampled_from(oracles.POSITIONS), st.booleans())
def test_a_tune_keeps_its_degrees_on_every_harp_and_position(
    music: list[str], harp: str, position: int, overbends: bool
) -> None:
    """Pitches stand over the root as in music21's scale; else the missing degree is named."""
    lines = "  allow overbends\n" * overbends
    try:
        score = tune(" ".join(music), harp=harp, position=position, lines=lines)
    except PatternError as error:
        refused(error, music, harp, position, overbends=overbends)
        return
    assert has_all(music, harp, position, overbends=overbends)
    start = home(music, harp, position, overbends=overbends)
    assert [note.pitch.midi - start for note in score.notes] == [above_root(d) for d in music]


def refused(
    error: PatternError, music: list[str], harp: str, position: int, *, overbends: bool
) -> None:
    """The error names the first degree without a reed, and the nearest position with all."""
    low, *_ = roots(harp, position)
    missing = next(d for d in music if not sound_all([d], harp, low, overbends=overbends))
    assert error.fact.startswith(f"no reed gives {missing.rstrip('+-')} here in {position}")
    assert error.source_line[error.span.column - 1 :].split()[0] == missing
    there = {
        other: min((other - position) % 12, (position - other) % 12)  # fifths either way
        for other in oracles.POSITIONS
        if has_all(music, harp, other, overbends=overbends)
    }
    octaves = [
        name
        for name, start in zip(("low", "middle", "high"), roots(harp, position), strict=True)
        if sound_all(music, harp, start, overbends=overbends)
    ]
    assert all(f"write octave {name}." in error.remedy for name in octaves[:1])
    assert ("write octave" in error.remedy) == bool(octaves)
    if not there:
        none = "No other position" if octaves else "No position"
        assert f"{none} of this harp has the whole tune." in error.remedy
    else:
        ordinal = error.remedy.partition(" the whole tune is the ")[2].partition(".")[0]
        assert there[int(ordinal.rstrip("stndrh"))] == min(there.values())
    only_over = sound_all([missing], harp, low, overbends=True)
    assert ("allow overbends" in error.remedy) == only_over


@given(tunes, st.sampled_from(oracles.HARPS), st.sampled_from(oracles.POSITIONS))
def test_the_notes_of_a_tune_are_named_by_the_degrees_that_were_written(
    music: list[str], harp: str, position: int
) -> None:
    """Against the major scale of music21; a name that needs three accidentals is simplified."""
    if not has_all(music, harp, position, overbends=True):
        return
    score = tune(" ".join(music), harp=harp, position=position, lines="  allow overbends\n")
    for note, degree in zip(score.notes, music, strict=True):
        assert oracles.key_number(note.pitch.name) == note.pitch.midi
        if note.degree.name == degree.rstrip("+-"):
            named = oracles.degree_by_spelling(score.key.name, note.pitch.note)
            assert named == note.degree.name
        else:
            assert treble_accidental(score.key.name, degree), (score.key.name, degree)


def treble_accidental(tonic: str, degree: str) -> bool:
    """Whether a degree of music21's major scale would need three accidentals."""
    scale = music21.scale.MajorScale(tonic.replace("b", "-"))
    in_scale = scale.pitchFromDegree(int(degree.strip("b#+-"))).alter
    return bool(abs(in_scale + {"b": -1, "#": 1}.get(degree[0], 0)) > 2)


def test_a_raised_third_of_the_sharpest_key_has_a_double_sharp() -> None:
    """F# major has A# for its 3 (music21); no key has more sharps, so that each has a name."""
    third = music21.scale.MajorScale("F#").pitchFromDegree(3)
    raised = third.transpose(music21.interval.ChromaticInterval(1))
    assert raised.simplifyEnharmonic().midi == third.midi + 1
    [note] = tune("#3", harp="B", position=2).notes
    assert (note.pitch.note, note.degree.name) == ("A##", "#3")
    assert note.pitch.midi % 12 == (third.midi + 1) % 12


def test_no_note_has_three_accidentals() -> None:
    """Fifth position on B is D#: its 3 is F## (music21), and raised that is said as the 4, G#."""
    assert music21.scale.MajorScale("D#").pitchFromDegree(3).alter == 2
    [note] = tune("#3+", harp="B", position=5).notes
    assert (note.pitch.note, note.degree.name) == ("G#", "4")


# --- what is said when no reed will do ---


def test_a_slide_that_no_reed_allows_is_shown_where_it_stands() -> None:
    """b3 to 3 is one reed in cross harp; 1 to 2 is two, and comes later."""
    with pytest.raises(PatternError, match="no reed can slide between these degrees") as caught:
        tune("b3~3 r 1~2 b3~3")
    found = caught.value
    assert found.source_line[found.span.column - 1 :][: found.span.width] == "2"
    assert found.span.column == len("  tune b3~3 r 1~2")


def test_nothing_plays_a_tune_that_no_position_has() -> None:
    """Three octaves under the highest of three roots there is no reed anywhere."""
    with pytest.raises(PatternError, match="No position of this harp has the whole tune"):
        tune("1---")


@pytest.mark.parametrize(
    ("music", "here", "nearest", "further"),
    [
        # In 1st position on C there is no Eb; F (12th) is one fifth from C, D (3rd) is two.
        # F and D have a 7 and a b3 over their low root: E and Ab, C# and F.
        ("7 b3", 1, 12, 3),
        # In cross harp there is no F#5.  C (1st) has B4 and E5, and D (3rd) no F#5 either.
        ("7 3+", 2, 1, 12),
        # F (12th) has Gb4 but no Eb5, Eb6 but no Gb5.  C and Bb (11th) are a fifth away, both with
        # a b2 and b7 over their low root: the lower number is the better known.
        ("b2 b7", 12, 1, 11),
    ],
)
def test_the_nearest_position_is_that_with_the_fewest_fifths_between(
    music: str, here: int, nearest: int, further: int
) -> None:
    assert not has_all(music.split(), "C", here, overbends=False)
    assert has_all(music.split(), "C", nearest, overbends=False)
    assert has_all(music.split(), "C", further, overbends=False)
    with pytest.raises(PatternError, match=rf"the whole tune is the {nearest}(st|th)\."):
        tune(music, position=here)


# --- on layouts of somebody's own ---


@pytest.mark.parametrize(("tempo", "reeds"), [(200, ["-4", "-4'"]), (201, ["-4", "-7"])])
def test_a_bend_is_quick_when_it_is_shorter_than_three_tenths_of_a_second(
    tempo: int, reeds: list[str]
) -> None:
    """At 200 a beat lasts 0.3 s; draw 7 has the note three holes away, the bend costs 2 or 5."""
    blow, draw = RICHTER
    own = Layout(printable("own"), blow, (*draw[:6], draw[3] - 1, *draw[7:]))
    [drill] = parse(f'drill "Tune"\n  tempo {tempo}\n  tune 2+ b2+\n')
    assert tabs(expand(drill, Harp("C", "", own), Position(1))) == reeds


def test_a_tune_stands_over_a_root_that_the_harp_does_not_have() -> None:
    """Blow notes alone are a D major chord: no E, but the 4 and b7 over it, A and D.

    E4, where the root would be from hole 1 (D4) up, has A4 (blow 3) and D5 (blow 4) over it.
    """
    blow, _ = RICHTER
    both = Harp("D", "", Layout(printable("both"), blow, blow))
    score = expand(parse('drill "Tune"\n  tune b7 4\n')[0], both, Position(3))
    assert [(note.reed.hole, note.pitch.name) for note in score.notes] == [(4, "D5"), (3, "A4")]


# --- the ways a program may ask for ---


def test_the_ways_of_a_drill_are_one_pair_for_each_tune() -> None:
    [drill] = parse(
        'drill "Two"\n anchor -2\n tune 1 anchor 1\n section "B"\n  tune b3 4\n'
        ' section "C"\n  play -2\n'
    )
    first, second = ways(drill, *CROSS_C)
    assert [reed.tab for reed in first[0].reeds] == ["-2", "-2", "-2"]
    assert [reed.tab for reed in second[0].reeds] == ["-3'", "4"]
    assert second[1:] == []  # b3 and 4 have a reed each (OEIS A291810)
    assert first[1].cost > first[0].cost


def test_the_way_that_is_played_is_the_first() -> None:
    text = 'drill "A"\n length 1/4\n tempo 90\n tune 1 b3 4 b5 5 6 b7 1+ 2+ 1'
    [drill] = parse(text)
    [best] = ways(drill, *CROSS_C)
    assert tuple(note.reed for note in expand(drill, *CROSS_C).notes) == best[0].reeds


def test_a_faster_tempo_makes_a_quick_bend_dear() -> None:
    """At 0.5 s a note nothing is added; at 0.2 s each bend costs 3 more."""
    [drill] = parse('drill "A"\n length 1/2\n tune 1 b3 1')
    slow, quick = (ways(drill, *CROSS_C, tempo_bpm=tempo)[0][0] for tempo in (60, 150))
    assert quick.cost - slow.cost == 3
    assert slow.reeds == quick.reeds


def test_the_ways_of_a_tune_that_is_too_long_are_refused() -> None:
    [drill] = parse('drill "A"\n tune ((((1 5)x100)x100)x100)x100')
    with pytest.raises(PatternError, match="the most is 2,000"):
        ways(drill, *CROSS_C)


def test_no_notes_are_no_effort() -> None:
    [only] = fingerings(Harp("C"), [])
    assert (only.reeds, only.cost) == ((), 0)


def test_a_target_on_a_reed_of_its_own_has_no_other() -> None:
    blow_3 = Reed.parse("3")
    found = fingerings(Harp("C"), [Target(67, 1.0, reed=blow_3), Target(65, 1.0)])
    assert {way.reeds[0] for way in found} == {blow_3}


@pytest.mark.parametrize(
    ("targets", "cost"),
    [
        # On a C harp key 60 is blow 1 alone and key 96 blow 10 alone: nine holes away.
        ([Target(60, 1.0), Target(96, 1.0)], 9),
        ([Target(60, 1.0), Target(96, 1.0, after_rest=True)], 0),
        # Draw 1 (62) is in the same hole: only the breath turns.
        ([Target(60, 1.0), Target(62, 1.0)], 2),
        ([Target(60, 1.0), Target(62, 1.0, after_rest=True)], 0),
        # Draw 1 bent (61): the turn, a semitone of bend, and 3 more when it is quick.
        ([Target(60, 1.0), Target(61, 0.3)], 4),
        ([Target(60, 1.0), Target(61, 0.29)], 7),
        ([Target(60, 1.0), Target(61, 0.29, after_rest=True)], 5),
    ],
)
def test_what_a_way_costs_is_the_sum_of_the_table(targets: list[Target], cost: int) -> None:
    assert fingerings(Harp("C"), targets)[0].cost == cost


def test_silence_costs_nothing_and_a_note_the_harp_lacks_has_no_way() -> None:
    assert [(way.reeds, way.cost) for way in fingerings(Harp("C"), [])] == [((), 0)]
    assert fingerings(Harp("C"), [Target(60, 1.0), Target(59, 1.0)]) == []
    assert playable_until(Harp("C"), [Target(60, 1.0), Target(59, 1.0), Target(60, 1.0)]) == 1
    overblow_4 = Target(75, 1.0)  # Eb5, which is nothing but an overbend
    assert playable_until(Harp("C"), [overblow_4]) == len(fingerings(Harp("C"), [overblow_4])) == 0
    assert playable_until(Harp("C"), [overblow_4], overbends=True) == 1


@pytest.mark.parametrize(("tempo", "cost"), [(60, 2), (90, 5)])
def test_an_eighth_of_six_eight_is_quick_by_the_tempo_of_its_dotted_quarter(
    tempo: int, cost: int
) -> None:
    """At 60 it lasts a third of a second, at 90 two ninths; draw 3 bent is a semitone of bend."""
    [drill] = parse(f'drill "x"\n  meter 6/8\n  tempo {tempo}\n  tune b3\n')
    [[way, *_]] = ways(drill, Harp("C"), Position(2))
    assert [reed.tab for reed in way.reeds] == ["-3'"]
    assert way.cost == cost


# --- why ---


@pytest.mark.parametrize("seed", range(4))
def test_the_other_way_of_a_choice_is_one_and_costs_what_is_said(seed: int) -> None:
    """Two hundred phrases, against every way there is; what is as easy never goes unsaid."""
    chance = random.Random(seed)
    told = 0
    for _ in range(50):
        harp, phrase = any_phrase(chance)
        found = fingerings(harp, phrase.targets, overbends=phrase.overbends)
        for way in found:
            assert effort_of(way.reeds, phrase.targets).cost == way.cost
        if not found:
            continue
        best, every = found[0].reeds, {tabs: cost for cost, tabs in phrase.every_way()}
        choices = reed_choices(harp, phrase.targets, best, overbends=phrase.overbends)
        for each in choices:
            assert each.played == tuple((best[at],) for at in each.at)
            other = dict(zip(each.at, (reed for [reed] in each.instead), strict=True))
            tab = tuple(other.get(at, reed).tab for at, reed in enumerate(best))
            if each.decided is Decided.SLIDE:
                assert tab not in every
                continue
            assert every[tab] - found[0].cost == each.instead_effort.cost - each.effort.cost >= 0
            assert (each.decided is Decided.EQUAL) == (every[tab] == found[0].cost)
            told += 1
        if any(cost == found[0].cost for cost in list(every.values())[1:]):
            assert any(each.decided is Decided.EQUAL for each in choices)
    assert told > 15, "many phrases leave a choice"


def test_the_reasons_of_a_tune_are_told_note_by_note() -> None:
    """Draw 2 or blow 3, each after draw 4 or blow 4; worked out by hand from the table.

    After draw 4 draw 2 is 2 holes away, and blow 3 one hole and a turn.  At the end, from blow 4,
    home would be dearer by a hole and a turn: 1 and 2.  A slide from draw 2 bent leaves no choice.
    """
    [drill] = parse('drill "x"\n  meter 4/4\n  tune 5 1:2 r | 4 1 4 r | b7-~1 r 4 1\n')
    [why] = why_reeds(drill, *CROSS_C)
    assert (why.root.name, len(why.choices)) == ("G4", 4)
    assert [
        (str(each.starts[0]), holes_tab(each.choice.played[0]), holes_tab(each.choice.instead[0]),
         each.choice.decided.value, each.choice.instead_effort.cost - each.choice.effort.cost)
        for each in why.choices
    ] == [
        ("1", "-2", "3", "easier", 1), ("5", "3", "-2", "easier", 6), ("9", "-2", "3", "slide", 3),
        ("12", "-2", "3", "home", -3),
    ]  # fmt: skip


def test_the_reasons_name_all_holes_of_a_breath() -> None:
    """In solo tuning blow 4 and 5 are one C (common practice, no published source).

    From blow 3, alone, E and C over it lie in blow 2 and 4 or in blow 2 and 5: one hole is nearer,
    and one on the way back.  Which hole is below, the highest decides.
    """
    rows = ((0, 4, 7, 12, 12, 16, 19, 24, 24, 28), (2, 5, 9, 11, 14, 17, 21, 23, 26, 29))
    harp = Harp("C", "", Layout(printable("solo"), *rows))
    [drill] = parse('drill "x"\n  tune 5 3&1+ 5\n')
    [why] = why_reeds(drill, harp, Position(1))
    [data] = json.loads(json.dumps(why_data(why)))["choices"]
    assert (data["degrees"], data["played"], data["instead"]) == (["3&1+"], ["2&4"], ["2&5"])
    assert data["instead_effort"]["cost"] - data["effort"]["cost"] == 2
    told = why_these_reeds("x", why, Meter(4, 4))
    assert told.endswith("1:2       3&1+    2&4     2&5  2 holes nearer")
