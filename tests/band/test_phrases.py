"""Phrases of two bars, and the choruses that are made from them.

What is a tone of which chord comes from music21, which knows chords and keys on its own; the laws
of asking and answering in fours are common practice, no published source.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import mido
import music21
import pytest

from air import air_of
from reedmill.band.phrased import ChorusPlan, PhrasedChorus, phrased
from reedmill.band.shelf import find_form, shipped_forms
from reedmill.base.errors import InputError, PatternError
from reedmill.expand import expand
from reedmill.formats.data import score_data
from reedmill.formats.midi import midi_bytes
from reedmill.harp import Harp, Reed
from reedmill.language import Drill, parse
from reedmill.library import Wanted, find_drills, search, shipped, shipped_phrases
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from sampling import part_of

FILES = {
    "on-the-one": 18, "on-the-four": 17, "on-the-five": 16, "turnaround": 16, "ending": 25,
    "on-the-two": 6, "on-the-six": 6, "on-the-three": 7,
}  # fmt: skip
PHRASES = [each.drill for each in shipped_phrases()]
BY_TITLE = {drill.title: drill for drill in PHRASES}

# The chords that each place may begin over, and the one it ends on: a turnaround goes from home to
# the five, and an ending comes home, from home itself or from the five; common practice.
UNDER = {"turnaround": (("I7",), "V7"), "ending": (("I7", "V7"), "I7")}

# From which level a reed may be asked for, the easier ones first: common practice of teachers,
# no published source.
FROM_LEVEL = {
    "-4'": 1, "-1'": 1, "-6'": 1, "-3'": 2, "8'": 2, "9'": 2, "-3''": 3, "-2'": 3, "-2''": 3,
    "-3'''": 4, "10'": 4, "10''": 4,
}  # fmt: skip


@cache
def chord_tones(chord: str, tonic: str) -> frozenset[int]:
    """The pitch classes of a chord of the blues: a seventh is small whatever the key has.

    music21's Roman numerals take their sevenths from the key, so each is spelled as a chord symbol
    over the root that music21 finds.
    """
    key = music21.key.Key(tonic.replace("b", "-"))
    numeral = chord.rstrip("0123456789")
    root = music21.roman.RomanNumeral(numeral, key).root().name
    minor = numeral.lstrip("b#").islower()
    ending = chord[len(numeral) :]
    figure = f"{root}{'m' if minor else ''}{ending}"
    return frozenset(music21.harmony.ChordSymbol(figure).pitchClasses)


def level_of(reed: Reed) -> int:
    if reed.over:
        return 5
    plain = reed.tab.rstrip("q")
    return max(3 if reed.quarter else 1, FROM_LEVEL.get(plain, 1) if "'" in plain else 1)


def each_played() -> list[tuple[Drill, Score]]:
    return [
        (drill, expand(drill, Harp("C"), Position(number)))
        for drill in PHRASES
        for number in drill.positions
    ]


def chorus(
    form: str = "Twelve bars", *, harp: str = "C", position: int = 2,
    phrases: list[Drill] | None = None, **plan: Any,
) -> PhrasedChorus:  # fmt: skip
    wanted = ChorusPlan(form, **plan)
    return phrased(phrases or PHRASES, Harp.parse(harp), Position(position), wanted)


@pytest.fixture(autouse=True)
def each_phrase_is_expanded_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many choruses are made of the same phrases, which takes most of the time."""
    monkeypatch.setattr("reedmill.band.phrased.expand", expanded_once)


_EXPANDED: dict[tuple[object, ...], Score] = {}


def expanded_once(drill: Drill, harp: Harp, position: Position, **plan: Any) -> Score:
    key = (drill, harp.full_name, position.number, *plan.items())
    if key not in _EXPANDED:
        _EXPANDED[key] = expand(drill, harp, position, **plan)
    return _EXPANDED[key]


def titles(filled: PhrasedChorus) -> list[str]:
    return [each.phrase.drill.title for each in filled.picked]


# --- the phrases -----------------------------------------------------------------------------


def test_each_place_has_phrases_in_the_positions_that_forms_are_for() -> None:
    """The 4th and 5th position are for minor forms, whose roads do not go round the fifths."""
    files = Counter(Path(drill.span.file).stem for drill in PHRASES)
    assert files == FILES
    assert {drill.level for drill in PHRASES} == set(range(1, 6))
    asked = {number for form in shipped_forms() for number in form.positions}
    assert {number for drill in PHRASES for number in drill.positions} == asked | {1, 2, 3}
    for number in asked | {1, 2, 3}:
        away = () if number in (4, 5) else ("II", "VI", "III")
        for place in ("I", "IV", "V", "turnaround", "ending", *away):
            found = search(Wanted(over=place, position=number, level=1))
            assert len(found) >= 2, (place, number)


def test_each_phrase_has_two_bars_ends_on_a_strong_beat_and_leaves_time_to_breathe() -> None:
    """A beat of rest at the end is more than half a second up to 112 beats a minute."""
    for drill, score in each_played():
        assert score.bars == 2, drill.title
        last = score.notes[-1]
        assert last.start % 2 == 0, drill.title
        assert score.length - last.end >= 1, drill.title
        assert float(score.seconds(Fraction(1))) * score.tempo_bpm / 112 > 0.5
        assert score.warnings == ()
        most = 6 if drill.level in (1, 2) else 10
        found = air_of(score_data(score))
        assert max(found.one_way_s, found.net_s) <= most, drill.title


def test_each_phrase_begins_and_ends_on_tones_of_its_chord() -> None:
    for drill, score in each_played():
        first = next(note for note in score.notes if note.start % 2 == 0)
        for place in drill.over:
            own = f"{place.name}7"
            begins, ends = UNDER.get(place.name, ((own,), own))
            tonic = score.key.name
            tones = frozenset.union(*(chord_tones(chord, tonic) for chord in begins))
            assert first.pitch.midi % 12 in tones, (drill.title, place)
            assert score.notes[-1].pitch.midi % 12 in chord_tones(ends, tonic), (drill.title, place)


def test_the_level_of_a_phrase_is_that_of_its_hardest_reed() -> None:
    hardest = Counter[str]()
    for drill, score in each_played():
        reeds = [reed for note in score.notes for reed in note.reeds]
        hardest[drill.title] = max(hardest[drill.title], *map(level_of, reeds))
    assert hardest == {drill.title: drill.level for drill in PHRASES}


def test_no_two_phrases_are_alike_and_none_is_among_the_drills() -> None:
    tunes = {(tuple((n.start, n.length, n.pitch.midi) for n in s.notes)) for d, s in each_played()
             if d.positions[0] == s.position.number}  # fmt: skip
    assert len(tunes) == len(PHRASES)
    assert not {each.drill.title for each in shipped()} & set(BY_TITLE)
    assert not any(each.drill.over for each in search(Wanted()))
    assert [drill.title for drill in find_drills("coal hole")] == ["Coal hole"]
    assert len(search(Wanted(topic="phrases"))) == len(PHRASES)


# --- which phrase comes where ------------------------------------------------------------------


def test_every_form_is_filled_by_its_chords(whole: bool) -> None:
    """Each phrase is meant for the chord of its first bar, or for turnaround and ending.

    Over other chords than these there are none; one whose strong notes fit is taken.
    """
    rows = [
        (form, position, easy)
        for form in shipped_forms()
        for position in sorted({1, 2, 3, *form.positions})
        for easy in (True, False)
    ]
    for number, (form, position, easy) in enumerate(part_of(rows, 2, 7, whole=whole)):
        plan: dict[str, Any] = {"level": 1, "rungs": ()} if easy else {}
        filled = chorus(form.title, position=position, choruses=2, seed=number, **plan)
        bars = len(form.bars)
        assert filled.score.length == filled.score.meter.beats * bars * 2
        assert len(filled.picked) == bars
        assert filled.score.warnings == ()
        for each in filled.picked:
            names = [place.name for place in each.phrase.drill.over]
            final = each.slot.bar == bars - 2
            word = "ending" if each.slot.chorus else "turnaround"
            if final and (word == "ending" or form.turnaround):
                assert word in names
            else:
                root = form.chorus(last=False)[each.slot.bar][0].chord.name.rstrip("0123456789")
                if root.upper() in ("I", "II", "III", "IV", "V", "VI"):
                    assert root.upper() in [name.upper() for name in names], (form.title, each.slot)


def test_level_and_rungs_are_kept() -> None:
    for level in (1, 2, 3):
        assert max(each.phrase.drill.level or 0 for each in chorus(level=level).picked) <= level
    learned = tuple(map(Reed.parse, ("-4'", "-3'")))
    natural = chorus(rungs=(), choruses=4)
    assert not any(reed.bend or reed.over for note in natural.score.notes for reed in note.reeds)
    bent = {reed.tab for seed in range(3) for note in chorus(rungs=learned, seed=seed).score.notes
            for reed in note.reeds if reed.bend or reed.over}  # fmt: skip
    assert bent == {"-4'", "-3'"}


def test_fours_ask_and_answer_and_the_second_repeats_the_first() -> None:
    """AAB: over sixteen bars the first eight are all at home, so the second four is the first."""
    for seed in range(4):
        filled = chorus("Sixteen bars", choruses=1, seed=seed)
        names = titles(filled)
        assert names[:2] == names[2:4]
        answer = filled.picked[1].phrase.score.notes[-1]
        assert answer.degree.name == "1"


def test_no_phrase_comes_three_times_in_a_row_nor_stands_where_it_stood_a_chorus_ago() -> None:
    for seed in range(3):
        filled = chorus("One chord", choruses=4, level=1, seed=seed)
        names = titles(filled)
        assert all(len(set(names[at : at + 3])) > 1 for at in range(len(names) - 2))
        first = [each.phrase.drill.title for each in filled.picked if each.slot.bar == 0]
        assert all(one != next_one for one, next_one in pairwise(first))


def test_a_phrase_begins_near_where_the_last_one_ended() -> None:
    """Within a major sixth, 9 semitones, in nine of ten joins: cross harp has low and high ones.

    Staying in one register is common practice, no published source.
    """
    leaps = [
        abs(after.phrase.score.notes[0].pitch.midi - before.phrase.score.notes[-1].pitch.midi)
        for seed in range(2)
        for before, after in pairwise(chorus(choruses=3, seed=seed).picked)
    ]
    assert sum(leap <= 9 for leap in leaps) >= 0.9 * len(leaps)


def test_equal_seeds_pick_alike_and_others_otherwise() -> None:
    assert chorus(seed=5).score == chorus(seed=5).score
    assert midi_bytes(chorus(seed=5).score) == midi_bytes(chorus(seed=5).score)
    assert len({tuple(titles(chorus(seed=seed))) for seed in range(1, 5)}) == 4


def test_over_minor_chords_there_is_no_major_third() -> None:
    """The band is in D minor on a C harp in 3rd position, in A harp's E minor in 2nd."""
    for position, harp in ((3, "C"), (2, "A")):
        score = chorus("Twelve bars in minor", harp=harp, position=position, choruses=3).score
        assert score.band is not None
        for note in score.notes:
            chord = score.band.chord_at(note.start).name
            if chord[0] in "iv":
                root = music21.roman.RomanNumeral(
                    chord.rstrip("7"), music21.key.Key(score.key.name.lower().replace("b", "-"))
                ).root()
                assert note.reed.quarter or (note.pitch.midi - root.pitchClass) % 12 != 4


MINE = """
drill "Mine one"
  over I
  play -2:4 | -4:2 -2:2 |
drill "Mine two"
  over I
  play -4:4 | -3:2 -2:2 |
drill "Mine end"
  over ending
  play -4:4 | -2:4 |
"""


def test_phrases_of_ones_own_fill_a_form_too() -> None:
    names = titles(chorus("One chord", phrases=list(parse(MINE)), choruses=1))
    assert names[-1] == "Mine end"
    assert set(names[:-1]) == {"Mine one", "Mine two"}


def test_in_a_form_of_an_odd_number_of_bars_one_stays_open(tmp_path: Path) -> None:
    path = tmp_path / "mine.form"
    path.write_text('form "Nine"\n  bars I7 x9\n')
    filled = chorus(str(path), choruses=1)
    assert [each.slot.bar for each in filled.picked] == [0, 2, 4, 7]
    assert not filled.score.between(Fraction(24), Fraction(28))


def test_for_a_chord_that_no_phrase_is_for_one_is_taken_with_its_tones(tmp_path: Path) -> None:
    """On the bVII of G, the notes of F7 after music21."""
    path = tmp_path / "mine.form"
    path.write_text('form "Away"\n  bars I7 x2 | bVII7 x2 | I7 x2\n')
    filled = chorus(str(path), choruses=1, seed=1)
    away = filled.picked[1]
    strong = [note for note in away.phrase.score.notes if note.start % 2 == 0]
    assert strong
    assert all(note.pitch.midi % 12 in chord_tones("bVII7", "G") for note in strong)


@pytest.mark.parametrize(
    ("bars", "phrases", "plan", "message"),
    [
        (
            "I7 x2 | IV7 x2 | I7 x2", MINE.replace("over I\n", "over I\n level 3\n"), {"level": 2},
            'no phrase fits over I7 (bars 1 and 2): "Mine one" is of level 3. Let more '
            "phrases in: a higher level, more rungs, or one of your own.",
        ),
        (
            "I7 x2 | I7 x2", MINE.replace("-4:4", "-4':4"), {"rungs": ()},
            'no phrase fits over the ending (bars 3 and 4): "Mine end" needs -4\'. '
            "Let more phrases in: a higher level, more rungs, or one of your own.",
        ),
        (
            "I7 x8", MINE.replace('drill "Mine two"\n  over I', 'drill "Mine two"\n  over V'), {},
            'no phrase fits over I7 (bars 5 and 6): only "Mine one" does, and it would come three '
            "times in a row. Let more phrases in: a higher level, more rungs, or one of your own.",
        ),
        (
            "I7 x2 | bII7 x2 | I7 x2", MINE, {},
            "no phrase fits over bII7 (bars 3 and 4): none here is meant for it. Write one "
            "with the line: over bII7",
        ),
        (
            "V7 x2 | I7 x2", MINE.replace('two"\n  over I', 'two"\n  over V'), {},
            None,
        ),
        (
            "I7", MINE, {}, '"Own" has one bar, and a phrase has two. Write its bar twice: x2',
        ),
    ],
)  # fmt: skip
def test_where_nothing_fits_it_says_why(
    tmp_path: Path, bars: str, phrases: str, plan: dict[str, Any], message: str | None
) -> None:
    path = tmp_path / "own.form"
    path.write_text(f'form "Own"\n  bars {bars}\n')

    def filled() -> PhrasedChorus:
        return chorus(str(path), phrases=list(parse(phrases)), choruses=1, **plan)

    if message is None:
        assert titles(filled()) == ["Mine two", "Mine end"]
        return
    with pytest.raises(InputError) as caught:
        filled()
    assert str(caught.value) == message


def test_a_position_that_no_phrase_is_for_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError) as caught:
        chorus(position=6)
    assert str(caught.value) == (
        "no phrase here is meant for 6th position; they are for 1st, 2nd, 3rd, 4th, 5th or 12th."
    )


def test_a_harp_that_lacks_a_note_leaves_out_what_needs_it_and_says_so() -> None:
    """A phrase with draw 5 bent: no Richter harp has it."""
    [odd] = parse('drill "Odd"\n over I\n play -2:4 | -5\':2 -2:2 |\n')
    filled = chorus(phrases=[*PHRASES, odd], choruses=1)
    [told] = [each.fact for each in filled.score.warnings]
    assert told == '"Odd" needs a note that a C harp does not have, and was left out'
    with pytest.raises(PatternError):
        chorus(phrases=list(parse('drill "Odd"\n over I\n play -2:3 | -2:4 |\n')))


# --- what is heard -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("harp", "form", "feel", "position"),
    [
        ("low F", "Twelve bars", "Medium shuffle", 2),
        ("A", "Eight bars", "Rumba", 1),
        ("C", "Twelve bars in minor", "Slow twelve-eight", 3),
    ],
)
def test_on_strong_beats_the_midi_file_has_tones_of_the_chords(
    harp: str, form: str, feel: str, position: int
) -> None:
    """Read by mido; every first strong note of a phrase, and four of five of all, fit the chord."""
    filled = chorus(form, harp=harp, position=position, feel=feel, choruses=2, seed=2)
    score = filled.score
    song = mido.MidiFile(file=BytesIO(midi_bytes(score)))
    taps = int(score.length / score.meter.pulse)
    a_tap = Fraction(song.ticks_per_beat) * score.meter.pulse * 4 / score.meter.unit
    heard: dict[int, int] = {}
    for track in song.tracks:
        now = 0
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity and "guide" in _named(track):
                heard[now] = message.note
    strong = {
        tap: heard[int(tap * a_tap)] for tap in range(0, taps, 2) if int(tap * a_tap) in heard
    }
    assert len(strong) >= len(filled.picked) * 2
    assert score.band is not None
    own = find_form(form)
    fitting = 0
    for tap, key in strong.items():
        bar, inside = divmod(tap, 4)
        chorus_number, place = divmod(bar, len(own.bars))
        slices = own.chorus(last=chorus_number == 1)[place]
        chord = slices[inside * len(slices) // 4].chord.name
        fitting += key % 12 in chord_tones(chord, score.key.name)
    assert fitting >= 0.8 * len(strong)


def _named(track: mido.MidiTrack) -> str:
    return " ".join(message.name for message in track if message.type == "track_name").lower()
