"""What the band plays: every form with every feel in all twelve keys, by musicians' rules.

Chords and their notes are read by music21 from the symbols in the key; instruments and
drums are those of General MIDI 1, as pretty_midi lists them.  Where a rule has no
published source, it says so.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise

import music21
import pytest
from pretty_midi import constants

from harmonies import tones_of, written_place
from reedmill.band.arranger import arrange
from reedmill.band.backing_keywords import LONGEST_S, MAX_NOTES
from reedmill.band.backing_parser import parse_band
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form, chorus_text
from reedmill.band.instruments import DRUMS, PROGRAMS
from reedmill.band.shelf import shipped_feels, shipped_forms
from reedmill.base.errors import InputError
from reedmill.score.arrangement import Arrangement, Part, Struck
from reedmill.theory.positions import Key
from sampling import part_of

KEYS = tuple(Key(sharps, minor=False) for sharps in range(-6, 6))  # all twelve
FORMS: dict[str, Form] = {form.title: form for form in shipped_forms()}
FEELS: dict[str, BandFeel] = {feel.title: feel for feel in shipped_feels()}
C = Key(0, minor=False)

# Bars and chords as they are commonly played; common practice, no published source.
PUBLISHED = {
    "Twelve bars": "I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7",
    "Twelve bars, quick change": "I7 IV7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7",
    "Twelve bars in minor": "i7 i7 i7 i7 iv7 iv7 i7 i7 bVI7 V7 i7 i7",
    "Twelve bars in minor, two and five": ("i7 iv7 i7 i7 iv7 iv7 i7 i7 iim7b5 V7 i7 iim7b5+V7"),
    "Twelve bars, jazz changes": ("I7 IV7 I7 I7 IV7 #ivdim7 I7 VI7 ii7 V7 I7+VI7 ii7+V7"),
    "Twelve bars, stop-time": "I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7",
    "Twelve bars with a break": "I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7",
    "Eight bars": "I7 V7 IV7 IV7 I7 V7 I7 V7",
    "Eight bars, quick change": "I7 IV7 I7 I7 IV7 I7 V7 I7",
    "Eight bars, up to the six": "I7 I7 IV7 #ivdim7 I7 VI7 II7+V7 I7",
    "Eight bars, gospel": "I III7 vi7 I7 IV #ivdim7 I+V7 I",
    "Sixteen bars": "I7 I7 I7 I7 I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 I7",
    "Sixteen bars, gospel": "I I7 IV I I vi7 II7 V7 I I7 IV #ivdim7 I V7 I+IV I",
    "Sixteen bars, three chords": "I I IV I I I V7 V7 I I IV IV I V7 I I",
    "Sixteen bars, round the fifths": (
        "I I VI7 VI7 II7 II7 V7 V7 I I7 IV #ivdim7 I+VI7 II7+V7 I I"
    ),
    "Twenty-four bars": (
        "I7 I7 I7 I7 I7 I7 I7 I7 IV7 IV7 IV7 IV7 I7 I7 I7 I7 V7 V7 IV7 IV7 I7 I7 I7 I7"
    ),
    "Thirty-two bars with a bridge": (
        2 * "I6 vi7 ii7 V7 I7 IV6 I6+V7 I6 " + "III7 III7 VI7 VI7 II7 II7 V7 V7 "
        "I6 vi7 ii7 V7 I7 IV6 I6+V7 I6"
    ),
    "One and four": "I IV I IV I IV V+IV I",
    "One, six, two, five": 2 * "I6 vi7 ii7 V7 ",
    "Two-bar turnarounds": 4 * "I7+VI7 ii7+V7 ",
    "Mixolydian vamp": 2 * "I I bVII IV ",
    "Minor coming down": 2 * "i bVII bVI V7 ",
}
LENGTHS = {"One chord": 8, "Two and five": 8, "Dorian vamp": 8} | {
    title: len(row.split()) for title, row in PUBLISHED.items()
}

# Open strings and reach of a bass, and C3 to C5, as music21 numbers them.
BASS_RANGE = range(music21.pitch.Pitch("E1").midi, music21.pitch.Pitch("G3").midi + 1)
COMP_RANGE = range(music21.pitch.Pitch("C3").midi, music21.pitch.Pitch("C5").midi + 1)
GUITARS = range(24, 32)  # General MIDI programs, from 0
PERCUSSION_MAP = range(35, 82)  # General MIDI System Level 1, percussion key map

every_form = pytest.mark.parametrize("title", FORMS)
every_feel = pytest.mark.parametrize("name", FEELS)


@cache
def played(form: str, feel: str, key: Key = C, seed: int = 0) -> Arrangement:
    return arrange(FORMS[form], FEELS[feel], key, choruses=2, seed=seed, looseness=0)


def played_with(form: str, *, whole: bool) -> Sequence[tuple[str, Key]]:
    """Feels and keys to play a form with: all of both somewhere; with ``--whole`` each with all."""
    number = list(FORMS).index(form)
    pairs = [
        (name, key)
        for at, name in enumerate(FEELS)
        for key in (KEYS if whole else [KEYS[(5 * number + at) % len(KEYS)]])
    ]
    return part_of(pairs, number, 5, whole=whole)


def alone(form: Form, arrangement: Arrangement) -> set[Fraction]:
    """Where a bar starts in which the band is silent: those of a break after its first."""
    count = len(form.bars)
    silent = {at for chorus in (0, count) for at in (chorus + n for n in form.breaks[1:])}
    return {Fraction(at * arrangement.meter.beats) for at in silent}


@cache
def struck(form: str, feel: str, key: Key = C) -> dict[Part, dict[Fraction, list[Struck]]]:
    """What each player strikes at each written place, in time order."""
    found: dict[Part, dict[Fraction, list[Struck]]] = {part: defaultdict(list) for part in Part}
    arrangement = played(form, feel, key)
    for note in arrangement.notes:
        found[note.part][written_place(note.start, arrangement.swing)].append(note)
    return found


def bars(arrangement: Arrangement) -> list[Fraction]:
    return [Fraction(start) for start in range(0, int(arrangement.length), arrangement.meter.beats)]


# --- forms ----------------------------------------------------------------------------


def test_the_promised_forms_and_feels_are_there() -> None:
    assert set(FORMS) == set(LENGTHS), (
        f"{', '.join(sorted(set(FORMS) ^ set(LENGTHS)))}: every form of patterns/forms has its "
        "bars in LENGTHS of tests/band/test_band.py, or in PUBLISHED where its chords are published"
    )
    assert len(FORMS) >= 20
    assert len(FEELS) >= 16


@every_form
def test_a_form_has_its_usual_number_of_bars(title: str) -> None:
    assert len(FORMS[title].bars) == LENGTHS[title]


@pytest.mark.parametrize("title", PUBLISHED)
def test_a_form_has_its_usual_chords(title: str) -> None:
    assert chorus_text(FORMS[title].bars) == " | ".join(PUBLISHED[title].split()).replace("+", " ")


@every_form
def test_bars_add_up_and_chords_are_those_of_the_form_in_every_key(title: str, whole: bool) -> None:
    form = FORMS[title]
    for name, key in played_with(title, whole=whole):
        arrangement = played(title, name, key)
        beats = arrangement.meter.beats
        assert arrangement.length == 2 * LENGTHS[title] * beats
        assert arrangement.bars_a_chorus == LENGTHS[title]
        starts = [start for start, _ in arrangement.chords]
        assert starts == sorted(set(starts))
        for at, start in enumerate(bars(arrangement)):
            chorus = form.chorus(last=at >= LENGTHS[title])
            first = chorus[at % LENGTHS[title]][0].chord
            assert arrangement.chord_at(start) == first


def test_turnaround_and_ending_stand_where_they_belong() -> None:
    arrangement = played("Twelve bars", "Medium shuffle")
    told = [(int(start), chord.symbol(C)) for start, chord in arrangement.chords]
    assert [each for each in told if 40 <= each[0] < 48] == [
        (40, "C7"), (42, "F7"), (44, "C7"), (46, "G7"),
    ]  # fmt: skip
    assert [each for each in told if each[0] >= 88] == [
        (88, "C7"), (90, "G7"), (92, "C7"),
    ]  # fmt: skip


def test_a_change_falls_on_a_tap_of_the_foot() -> None:
    """In 12/8 three parts and one are nine eighths and three; in 3/4 a half is two beats."""
    [form] = parse_band('form "x"\n bars I7:3 V7 | IV7 V7 | I7')
    assert isinstance(form, Form)
    for meter, starts in {"12/8": [0, 9, 12, 18, 24], "3/4": [0, 2, 3, 5, 6]}.items():
        [feel] = parse_band(f'feel "x"\n meter {meter}\n bass root on 1')
        assert isinstance(feel, BandFeel)
        found = arrange(form, feel, C, choruses=1)
        assert [start for start, _ in found.chords] == starts


# --- bass -----------------------------------------------------------------------------


@every_form
def test_the_bass_is_on_a_chord_tone_on_every_downbeat_and_never_long_off_the_root(
    title: str, whole: bool
) -> None:
    for name, key in played_with(title, whole=whole):
        arrangement, bass = played(title, name, key), struck(title, name, key)[Part.BASS]
        silent = alone(FORMS[title], arrangement)
        on_root: list[bool] = []
        for start in [each for each in bars(arrangement) if each not in silent]:
            note = bass[start][0]
            inside, root = tones_of(arrangement.chord_at(start).symbol(key))
            assert note.key % 12 in inside
            on_root.append(note.key % 12 == root)
        assert all(one or other for one, other in pairwise(on_root))
        changing = [each for each in arrangement.chords if each[0] not in silent]
        for start, chord in changing:  # a new chord begins with its root
            assert bass[start][0].key % 12 == tones_of(chord.symbol(key))[1]


@every_form
def test_a_walking_bass_steps_into_each_bar(title: str) -> None:
    """By a semitone, a whole tone or from the fifth; over the same chord also by a third or fourth.

    As bass players are taught (common practice).
    """
    for key in KEYS[::2]:
        arrangement = played(title, "Medium shuffle", key)
        bass = struck(title, "Medium shuffle", key)[Part.BASS]
        count = len(FORMS[title].bars)
        stopped = {*FORMS[title].stops, *FORMS[title].breaks}  # where nobody walks
        walked = [at for at in range(1, 2 * count) if (at - 1) % count not in stopped]
        for start in [Fraction(at * arrangement.meter.beats) for at in walked]:
            away = abs(bass[start][0].key - bass[start - 1][0].key)
            near = {1, 2, 5, 7} if arrangement.changes_at(start) else set(range(1, 6))
            assert away in near, (key.name, start)


def test_a_chord_that_starts_where_the_feel_has_no_stroke_still_gets_its_root() -> None:
    [form] = parse_band('form "x"\n bars I7 IV7 | I7')
    [feel] = parse_band('feel "x"\n bass fifth on 2, root on 1')
    assert isinstance(form, Form)
    assert isinstance(feel, BandFeel)
    notes = arrange(form, feel, C, choruses=1).notes
    assert [(int(note.start), note.key % 12) for note in notes] == [(0, 0), (1, 7), (2, 5), (4, 0)]


def test_each_word_of_the_bass_is_the_tone_it_says() -> None:
    """Over Dm7 by hand: D F A B C, the octave, and a step from the G that follows."""
    [form] = parse_band('form "x"\n bars ii7 | V7 | I')
    [feel] = parse_band(
        'feel "x"\n bass root on 1, third on 1&, fifth on 2, sixth on 2&, seventh on 3, '
        "octave on 3&, lead on 4 | root on 1"
    )
    assert isinstance(form, Form)
    assert isinstance(feel, BandFeel)
    keys = [note.key for note in arrange(form, feel, C, choruses=1).of(Part.BASS)]
    assert [key % 12 for key in keys[:6]] == [2, 5, 9, 11, 0, 2]
    assert keys[5] - keys[0] == 12
    assert abs(keys[6] - keys[7]) in (1, 2)
    assert keys[7] % 12 == 7


# --- comp (more in test_band_lines.py) --------------------------------------------------


def test_voices_do_not_drift_away_over_many_choruses() -> None:
    form = next(iter(parse_band('form "x"\n bars I7 | bVII7 | bVI7 | V7 | I7')))
    assert isinstance(form, Form)
    notes = arrange(form, FEELS["Rumba"], C, choruses=50).of(Part.COMP)
    tenth = len(notes) // 10
    first, last = (sum(n.key for n in some) / tenth for some in (notes[:tenth], notes[-tenth:]))
    assert abs(first - last) <= 2


# --- drums ----------------------------------------------------------------------------


def test_programs_are_the_general_midi_sound_set() -> None:
    """The names pretty_midi has from the General MIDI specification, but for their spaces."""

    def plain(names: tuple[str, ...] | list[str]) -> list[str]:
        return [re.sub("[^a-z0-9]", "", name.lower()) for name in names]

    assert plain(PROGRAMS) == plain(constants.INSTRUMENT_MAP)


# Our words for the drums and the names of the percussion key map, by hand.
IN_THE_MAP = {
    "kick": "Bass Drum 1", "snare": "Acoustic Snare", "clap": "Hand Clap",
    "crash": "Crash Cymbal 1",
    "ride": "Ride Cymbal 1", "floor tom": "High Floor Tom", "mid tom": "Low-Mid Tom",
    "closed hat": "Closed Hi Hat", "pedal hat": "Pedal Hi Hat", "open hat": "Open Hi Hat",
    "high bongo": "Hi Bongo", "mute conga": "Mute Hi Conga", "high conga": "Open Hi Conga",
    "high block": "Hi Wood Block", "low block": "Low Wood Block", "triangle": "Open Triangle",
}  # fmt: skip


@pytest.mark.parametrize("word", DRUMS)
def test_a_drum_is_the_one_of_the_percussion_key_map(word: str) -> None:
    name = constants.DRUM_MAP[DRUMS[word] - 35]
    assert name.lower() == IN_THE_MAP.get(word, word).lower()


@every_form
def test_every_note_lies_in_the_range_of_its_instrument(title: str, whole: bool) -> None:
    ranges = {Part.BASS: BASS_RANGE, Part.COMP: COMP_RANGE, Part.DRUMS: PERCUSSION_MAP}
    for name, key in played_with(title, whole=whole):
        arrangement = played(title, name, key)
        for note in arrangement.notes:
            assert note.key in ranges[note.part]
            assert 1 <= note.velocity <= 127
            assert note.length > 0
            assert note.start >= 0
        starts = [note.start for note in arrangement.notes]
        assert starts == sorted(starts)


@every_form
def test_no_key_is_struck_while_it_sounds(title: str, whole: bool) -> None:
    for name, key in played_with(title, whole=whole):
        until: dict[tuple[Part, int], Fraction] = {}
        for note in played(title, name, key).notes:
            assert until.get((note.part, note.key), Fraction(0)) <= note.start
            until[note.part, note.key] = note.start + note.length


@every_feel
def test_a_fill_leads_to_the_new_chorus_and_a_crash_opens_it(name: str) -> None:
    arrangement, drums = played("Twelve bars", name), struck("Twelve bars", name)[Part.DRUMS]
    beats = arrangement.meter.beats
    filled = range(11 * beats, 12 * beats)
    usual = range(2 * beats, 3 * beats)

    def bar(of: range) -> set[tuple[Fraction, int]]:
        return {
            (at - of.start, note.key)
            for at, notes in drums.items()
            if of.start <= at < of.stop
            for note in notes
        }

    assert bar(filled) != bar(usual)
    written = FEELS[name].fills.even
    fills = [{(stroke.at, DRUMS[stroke.word]) for stroke in fill} for fill in written]
    heard = [fill for fill in fills if fill <= bar(filled)]
    firsts = [min(at for at, _ in fill) for fill in heard]
    assert any(
        {each for each in bar(filled) if each[0] >= first} == fill
        for fill, first in zip(heard, firsts, strict=True)
    )
    crashes = [at for at, notes in drums.items() if any(n.key == DRUMS["crash"] for n in notes)]
    assert crashes[0] == 12 * beats
    assert DRUMS["kick"] in {note.key for note in drums[Fraction(12 * beats)]}


# --- the ending -----------------------------------------------------------------------


@every_form
def test_the_last_bar_is_struck_together_and_held_to_its_end(title: str, whole: bool) -> None:
    for name, key in played_with(title, whole=whole):
        check_last_bar(title, name, key)


def check_last_bar(title: str, name: str, key: Key) -> None:
    arrangement, here = played(title, name, key), struck(title, name, key)
    last_bar = bars(arrangement)[-1]
    places = {part: sorted(at for at in here[part] if at >= last_bar) for part in Part}
    assert places[Part.BASS] == places[Part.COMP] == places[Part.DRUMS]
    assert places[Part.BASS][0] == last_bar
    final = places[Part.BASS][-1]
    assert arrangement.chord_at(final).root.semitones == 0
    for part in (Part.BASS, Part.COMP):
        assert {note.start + note.length for note in here[part][final]} == {arrangement.length}
    assert here[Part.BASS][final][0].key % 12 == key.pitch_class
    assert {note.key for note in here[Part.DRUMS][final]} == {DRUMS["kick"], DRUMS["crash"]}


# --- swing and looseness --------------------------------------------------------------


@every_feel
def test_half_beats_are_where_the_swing_puts_them(name: str) -> None:
    feel = FEELS[name]
    inside = {note.start % 1 for note in played("Twelve bars", name).of(Part.DRUMS)}
    if feel.meter.compound:  # an eighth is a beat there
        assert inside == {0}
    elif feel.swing == 1:
        assert inside <= {0, Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)}
        assert Fraction(1, 2) in inside
    else:
        assert inside == {0, feel.swing / (feel.swing + 1)}


def test_a_fast_swing_is_played_more_evenly() -> None:
    """Its short half lasts some 100 ms: 2 to 1 at 200 beats a minute, 3 to 2 at 240.

    A. Friberg and A. Sundström, Music Perception 19 (2002), from memory.
    """
    feel = FEELS["Soft jazz swing"]
    assert [feel.swing_at(bpm) for bpm in (92, 200, 240)] == [2, 2, Fraction(3, 2)]
    assert 1 < feel.swing_at(300) < Fraction(4, 3)
    music = arrange(FORMS["Eight bars"], feel, C, choruses=1, tempo_bpm=240, looseness=0)
    assert music.swing == Fraction(3, 2)
    assert {note.start % 1 for note in music.of(Part.DRUMS)} == {0, Fraction(3, 5)}


@every_feel
@pytest.mark.parametrize("looseness", [1, 2, 3])
def test_players_stay_within_what_a_feel_says_of_their_time(name: str, looseness: int) -> None:
    feel, shares = FEELS[name], (0, 1, 1.5, 2.5)
    exact = arrange(FORMS["Eight bars"], feel, C, choruses=2, seed=7, looseness=0)
    loose = arrange(FORMS["Eight bars"], feel, C, choruses=2, seed=7, looseness=looseness)
    assert loose == arrange(FORMS["Eight bars"], feel, C, choruses=2, seed=7, looseness=looseness)

    def sorted_notes(arrangement: Arrangement) -> list[Struck]:
        return sorted(arrangement.notes, key=lambda n: (n.part.value, n.key, n.start))

    words = {key: word for word, key in DRUMS.items()}
    moved = 0
    for plain, off in zip(sorted_notes(exact), sorted_notes(loose), strict=True):
        assert (plain.part, plain.key) == (off.part, off.key)
        shift = off.start - plain.start
        drum = words[plain.key] if plain.part is Part.DRUMS else ""
        leans = feel.late_ms(drum, plain.part.value.lower())
        within = feel.timing_ms * shares[looseness] + 0.1
        strummed = 20 if plain.part is Part.COMP and feel.programs[1][1] in GUITARS else 0
        late = float(exact.seconds(shift)) * 1000
        most = feel.meter.pulse / 32
        assert abs(shift) <= most
        if plain.start in (0, exact.length / 2):  # the first beat of each chorus
            assert shift >= 0
        elif abs(shift) < most:
            assert leans - within <= late <= leans + within + strummed
        assert abs(off.velocity - plain.velocity) <= feel.velocity * shares[looseness] + 1
        moved += shift != 0
    assert moved > len(exact.notes) / 2
    assert loose.length == exact.length


@every_feel
def test_another_seed_makes_other_choices_and_an_equal_one_equal(name: str) -> None:
    def notes(seed: int) -> list[tuple[Part, Fraction, int]]:
        found = arrange(
            FORMS["Twelve bars"], FEELS[name], C, choruses=3, seed=seed, looseness=0
        ).notes
        return [(note.part, note.start, note.key) for note in found]

    assert notes(1) == notes(1)
    assert notes(1) != notes(2)


# --- limits ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"choruses": 0}, "a length of 0 choruses cannot be played; write 1 to 50."),
        ({"choruses": 51}, "a length of 51 choruses"),
        ({"tempo_bpm": 19}, "a tempo of 19 beats a minute cannot be played; write 20 to 300."),
        ({"seed": -1}, "a seed of -1 cannot be played"),
    ],
)
def test_numbers_out_of_range_are_refused(asked: dict[str, int], said: str) -> None:
    with pytest.raises(InputError, match=re.escape(said)):
        arrange(FORMS["One chord"], FEELS["Rumba"], C, **{"choruses": 1, **asked})


def test_what_would_be_too_long_is_refused_before_it_is_made() -> None:
    [form] = parse_band('form "x"\n bars I7 x64')
    assert isinstance(form, Form)
    with pytest.raises(InputError, match="last 640 minutes; a backing lasts at most 60"):
        arrange(form, FEELS["Slow twelve-eight"], C, choruses=50, tempo_bpm=20)
    places = " ".join(f"{beat}{part}" for beat in range(1, 5) for part in ("", *"e&a"))
    [feel] = parse_band(f'feel "x"\n comp on {places}\n tempo 300')
    assert isinstance(feel, BandFeel)
    with pytest.raises(InputError, match=f"a backing has at most {MAX_NOTES}"):
        arrange(form, feel, C, choruses=50)
    assert LONGEST_S == 3600


def test_every_form_feel_and_key_is_tried() -> None:
    tried = [pair for title in FORMS for pair in played_with(title, whole=False)]
    assert {name for name, _ in tried} == set(FEELS)
    assert {key for _, key in tried} == set(KEYS)
