"""What bass and comp play, bar by bar: lines that go somewhere, and chords that lead on.

Chords and their notes are read by music21 from the symbols in the key.  The rules are those that
bass players, pianists, organists and guitarists are taught: common practice, no published source,
where none is named.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, cached_property
from itertools import pairwise, product
from statistics import mean

import music21
import pytest

from harmonies import tones_of, written_place
from reedmill.band.arranger import BandSet, arrange_set
from reedmill.band.backing_parser import parse_band
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.set_plan import plan_named
from reedmill.band.shelf import find_feel, find_form, shipped_feels, shipped_forms
from reedmill.band.voicing import Family, Hand, voicings
from reedmill.score.arrangement import Arrangement, Part, Struck
from reedmill.score.score import Meter
from reedmill.theory.chords import QUALITIES, Chord
from reedmill.theory.positions import Key
from sampling import part_of

KEYS = tuple(Key(sharps, minor=False) for sharps in range(-6, 6))
C = Key(0, minor=False)
SHUFFLE = "Medium shuffle"  # in which the bass walks


@dataclass(frozen=True)
class Heard:
    """An arrangement, with what two of its players strike at each written place."""

    music: Arrangement
    bass: dict[Fraction, list[Struck]]
    comp: dict[Fraction, list[Struck]]
    key: Key

    def symbol(self, place: Fraction) -> str:
        """Return the chord at *place* as a lead sheet names it."""
        return self.music.chord_at(place).symbol(self.key)

    def bars(self) -> Iterator[Fraction]:
        """Yield where each bar starts."""
        beats = self.music.meter.beats
        yield from (Fraction(start) for start in range(0, int(self.music.length), beats))

    def line(self, bar: Fraction) -> tuple[int, ...]:
        """The keys of the bass in a bar."""
        beats = self.music.meter.beats
        return tuple(
            note.key
            for place in sorted(self.bass)
            if bar <= place < bar + beats
            for note in self.bass[place]
        )

    @cached_property
    def down(self) -> dict[Fraction, frozenset[int]]:
        """The keys of the comp that are down just after each of its strokes."""
        found: dict[Fraction, frozenset[int]] = {}
        held: list[Struck] = []
        for place, notes in sorted(self.comp.items()):
            at = notes[0].start
            held = [note for note in held if note.start + note.length > at] + notes
            found[place] = frozenset(note.key for note in held)
        return found


@cache
def heard(form: str, feel: str, key: Key = C, choruses: int = 2, **asked: object) -> Heard:
    plan = plan_named(str(asked.pop("plan"))) if "plan" in asked else ()
    wanted = BandSet(choruses, looseness=0, plan=plan, **asked)  # type: ignore[arg-type]
    music = arrange_set(find_form(form), find_feel(feel), key, wanted)
    found: dict[Part, dict[Fraction, list[Struck]]] = defaultdict(lambda: defaultdict(list))
    for note in music.notes:
        found[note.part][written_place(note.start, music.swing)].append(note)
    return Heard(music, found[Part.BASS], found[Part.COMP], key)


@cache
def sample(whole: bool) -> tuple[Heard, ...]:
    """Every form with a feel, every feel with a form, each pair in a key of its own.

    All pairs with ``--whole``.
    """
    forms, feels = [each.title for each in shipped_forms()], [f.title for f in shipped_feels()]
    pairs = {
        (form, feel)
        for at, form in enumerate(forms)
        for feel in part_of(feels, at, len(feels), whole=whole)
    } | {(forms[at % len(forms)], feel) for at, feel in enumerate(feels)}
    return tuple(heard(form, feel, KEYS[at % 12]) for at, (form, feel) in enumerate(sorted(pairs)))


def is_crushed(notes: list[Struck], after: Fraction | None) -> bool:
    """Return True for a lone short note that falls into the next chord."""
    return len(notes) == 1 and after is not None and notes[0].length < Fraction(1, 2)


def is_scratch(notes: list[Struck], meter: Meter) -> bool:
    """Return True for a soft, dead stroke over two or three strings, which is no chord."""
    soft = max(note.velocity for note in notes) < 50
    return soft and len(notes) <= 3 and max(n.length for n in notes) <= meter.pulse / 12


@cache
def scale_over(root: int, *, minor: bool) -> frozenset[int]:
    """The pitch classes of the dorian or mixolydian mode on *root*, by music21."""
    mode = music21.scale.DorianScale if minor else music21.scale.MixolydianScale
    return frozenset(each.pitchClass for each in mode(music21.pitch.Pitch(root)).pitches)


# --- the bass -------------------------------------------------------------------------


def test_every_chord_of_the_chart_begins_with_its_root_in_the_bass(whole: bool) -> None:
    for each in sample(whole):
        if not each.bass:
            continue
        for start, chord in each.music.chords:
            _, root = tones_of(chord.symbol(each.key))
            assert each.bass[start][0].key % 12 == root, (each.music.form, each.music.feel, start)


def test_a_bass_has_tones_of_the_chord_on_strong_beats_and_walks_in_its_scale() -> None:
    """The scale by music21: mixolydian, or dorian over a minor seventh."""
    for form in ("Twelve bars", "Twelve bars in minor", "Two and five", "One chord"):
        for key in KEYS[::4]:
            each = heard(form, SHUFFLE, key, choruses=2, plan="even")
            for place, [note] in each.bass.items():
                symbol = each.symbol(place)
                inside, root = tones_of(symbol)
                if place % 2 == 0:
                    assert note.key % 12 in inside, (symbol, place)
                elif each.symbol(place + 1) == symbol:
                    scale = scale_over(root, minor="m" in symbol)
                    leading = {abs(note.key - n.key) for n in each.bass.get(place + 1, [])}
                    assert note.key % 12 in scale or leading <= {1, 2}, (symbol, place)


def test_a_walking_bass_says_third_and_fifth_in_any_two_bars_of_a_chord() -> None:
    for form in ("Twelve bars", "Twelve bars in minor", "Sixteen bars", "One chord"):
        for key in KEYS[1::4]:
            each = heard(form, SHUFFLE, key, choruses=2, plan="even")
            for one, two in pairwise(each.bars()):
                within = each.music.changing(one + 1, two + 4)
                if within or two + 4 >= each.music.length:
                    continue
                symbol = each.symbol(one)
                _, root = tones_of(symbol)
                classes = {note % 12 for bar in (one, two) for note in each.line(bar)}
                third, fifth = root + (3 if "m" in symbol else 4), root + 7
                assert {third % 12, fifth % 12} <= classes, (symbol, one)


def test_no_bar_of_a_walking_bass_comes_three_times_in_a_row_nor_any_chorus_again() -> None:
    for form in ("Twelve bars", "One chord"):
        for seed in (0, 5):
            each = heard(form, SHUFFLE, choruses=5, seed=seed, plan="even")
            lines = [each.line(bar) for bar in each.bars()]
            assert not any(
                a == b == c for a, b, c in zip(lines, lines[1:], lines[2:], strict=False)
            )
            size = each.music.bars_a_chorus
            choruses = [tuple(lines[at : at + size]) for at in range(0, len(lines), size)]
            assert len(set(choruses)) == 5
            for chorus in choruses[:-1]:
                ways = {tuple(b > a for a, b in pairwise(line)) for line in chorus}
                assert len(ways) >= 4


def test_a_walking_bass_rises_and_falls_over_bars_and_uses_its_range() -> None:
    """From a fifth to two octaves in each line of four bars; E1 to E3, now and then beyond."""
    each = heard("One chord", SHUFFLE, choruses=6, plan="even")
    lines = [each.line(bar) for bar in each.bars()][:-1]
    keys = [key for line in lines for key in line]
    assert 28 <= min(keys) <= 33
    assert mean(28 <= key <= 52 for key in keys) > 0.95
    for at in range(0, len(lines) - 4, 4):
        span = [key for line in lines[at : at + 4] for key in line]
        assert 9 <= max(span) - min(span) <= 24
    steps = [abs(b - a) for a, b in pairwise(keys)]
    assert max(steps) <= 12
    assert mean(steps) <= 4


def test_a_fast_walking_bass_is_simpler() -> None:
    """Fewer notes from outside the chord than at a tempo in which there is time for them."""

    def outside(tempo: int) -> int:
        each = heard("Twelve bars", SHUFFLE, choruses=6, tempo_bpm=tempo, plan="even")
        return sum(
            note.key % 12 not in tones_of(each.symbol(place))[0]
            for place, notes in each.bass.items()
            for note in notes
        )

    assert outside(230) < 0.9 * outside(120)


def music_of(feel: str, form: str = "I7 x3 | IV7 | I7", key: Key = C) -> Arrangement:
    [chords] = parse_band(f'form "x"\n bars {form}')
    [band] = parse_band(f'feel "x"\n {feel}')
    assert isinstance(chords, Form)
    assert isinstance(band, BandFeel)
    return arrange_set(chords, band, key, BandSet(1, looseness=0))


def test_what_is_struck_between_two_steps_of_a_walking_bass_repeats_the_first_softly() -> None:
    notes = music_of("bass walk on 1 2 2& 3 4").of(Part.BASS)
    skips = [(a, b) for a, b in pairwise(notes) if b.start % 1]
    assert len(skips) == 4
    for step, skip in skips:
        assert skip.key == step.key
        assert skip.velocity < step.velocity - 10


def test_a_figure_of_the_bass_keeps_its_shape_in_every_key() -> None:
    """Semitones above the root by the words themselves, for a dominant seventh."""
    feel = "bass root on 1 4, third on 1&, fifth on 2, sixth on 2&, seventh on 3, octave on 3&"
    for key in KEYS:
        notes = music_of(feel, "I7 | IV7 | bVII7 | V7 | I7", key).of(Part.BASS)
        for at in range(0, 28, 7):
            shape = [note.key - notes[at].key for note in notes[at : at + 7]]
            assert shape == [0, 4, 7, 9, 10, 12, 0], key.name


def test_low_words_lie_below_the_root() -> None:
    feel = "bass root on 1, low fifth on 2, low sixth on 3, low seventh on 4"
    for key in KEYS:
        notes = music_of(feel, "I7 | IV7 | I7", key).of(Part.BASS)
        for at in (0, 4):
            assert [n.key - notes[at].key for n in notes[at : at + 4]] == [0, -5, -3, -2]


def test_a_note_that_leads_is_near_the_one_before_it() -> None:
    feel = "bass root on 1, third on 2, fifth on 3, lead on 4"
    for key in KEYS:
        notes = music_of(feel, "I7 x2 | IV7 | V7 | I7", key).of(Part.BASS)
        for at in range(3, 16, 4):  # the fourth beat of each bar
            assert 0 < abs(notes[at].key - notes[at - 1].key) <= 7
            assert abs(notes[at + 1].key - notes[at].key) in (1, 2, 5, 7)


def test_bass_and_comp_are_silent_after_a_stop() -> None:
    each = heard("Twelve bars", SHUFFLE, choruses=3, plan="stops, breaks, even")
    stopped, broken = [0, 4, 8, 12], [12 * 4 + 10 * 4]
    for part in (Part.BASS, Part.COMP):
        for bar in stopped + broken:
            inside = [n for n in each.music.of(part) if bar <= n.start < bar + 4]
            assert {n.start for n in inside} == {bar}
            assert max(n.length for n in inside) <= Fraction(2, 3)  # half a beat, swung


# --- the comp -------------------------------------------------------------------------


def guide_tones(symbol: str) -> set[int]:
    """Third and seventh of a chord, or the tone that stands for the third."""
    _, root = tones_of(symbol)
    third = (
        5 if "sus" in symbol else 3 if "m" in symbol.replace("maj", "") or "dim" in symbol else 4
    )
    found = {(root + third) % 12}
    if "7" in symbol:
        found.add((root + (9 if "dim7" in symbol else 11 if "maj7" in symbol else 10)) % 12)
    return found


def fits(keys: frozenset[int], symbol: str) -> bool:
    """Are these the chord, with its guide tones; sevenths may have ninth and (major) thirteenth."""
    inside, root = tones_of(symbol)
    colours: set[int] = set()
    if "7" in symbol and "maj" not in symbol and "dim" not in symbol:
        colours = {(root + 2) % 12} | ({(root + 9) % 12} if "m" not in symbol else set())
    classes = {key % 12 for key in keys}
    return guide_tones(symbol) <= classes <= inside | colours


def sways(keys: frozenset[int], symbol: str) -> bool:
    """Is this the neighbour of a chord of the root: its root, fourth and sixth."""
    _, root = tones_of(symbol)
    return {key % 12 for key in keys} == {root, (root + 5) % 12, (root + 9) % 12}


def test_the_comp_strikes_every_chord_and_nothing_else(whole: bool) -> None:
    """On it, after it, or half a beat ahead and into it; between two strokes it may sway."""
    for each in sample(whole):
        pulse, struck = each.music.meter.pulse, set[Fraction]()
        starts = [start for start, _ in each.music.chords]
        places = sorted(each.comp)
        for place, after in zip(places, [*places[1:], None], strict=True):
            if is_crushed(each.comp[place], after) or is_scratch(
                each.comp[place], each.music.meter
            ):
                continue
            keys, here = each.down[place], max(s for s in starts if s <= place)
            coming = next((s for s in starts if place < s <= place + pulse / 2), None)
            if fits(keys, each.symbol(place)):
                struck.add(here)
            elif coming is not None and fits(keys, each.symbol(coming)):
                if max(note.start + note.length for note in each.comp[place]) > coming:
                    struck.add(coming)
            else:
                assert sways(keys, each.symbol(place)), (each.music.form, each.music.feel, place)
                assert place % each.music.meter.beats % (2 * pulse), "a strong beat"
        if places:
            missed = set(starts) - struck
            assert not missed, (each.music.form, each.music.feel, sorted(map(float, missed))[:5])


def test_the_comp_never_has_home_on_top_and_stays_below_the_harp(whole: bool) -> None:
    """Home is where a student's anchor is; C3 to B4, mostly below G4, never all below E3.

    The notes of an organ sound an octave lower too: they are G3 and higher, and mostly below A4.
    """
    tops: list[int] = []
    organ: list[bool] = []
    low = 0
    for each in sample(whole):
        is_organ = dict(each.music.programs)[Part.COMP] in range(16, 24)
        for place, notes in each.comp.items():
            if len(notes) > 1:
                sounding = each.down[place]
                tops.append(max(sounding))
                assert tops[-1] % 12 != each.key.pitch_class, (each.music.form, each.music.feel)
                assert min(sounding) >= 48
                organ.append(is_organ)
                low += is_organ and min(sounding) < 55
    assert min(tops) >= 52
    assert max(tops) <= 71
    assert low < 0.06 * sum(organ)  # a chord that cannot be laid out otherwise
    assert mean(top < 67 for top, is_organ in zip(tops, organ, strict=True) if not is_organ) > 0.8
    assert mean(top < 69 for top, is_organ in zip(tops, organ, strict=True) if is_organ) > 0.8


@pytest.mark.parametrize("feel", [SHUFFLE, "Slow twelve-eight", "Rumba", "Two-beat"])
def test_voicings_change_by_chorus_and_lead_with_small_moves(feel: str) -> None:
    each = heard("Twelve bars", feel, choruses=12)
    strokes = [each.down[place] for place, notes in sorted(each.comp.items()) if len(notes) > 1]
    assert len(set(strokes)) >= 8
    # A tone is what a hand keeps within while chords change, a third where it moves up or down.
    moves = [
        mean(abs(a - b) for a, b in zip(sorted(one)[::-1], sorted(two)[::-1], strict=False))
        for one, two in pairwise(strokes)
        if one != two
    ]
    assert mean(moves) <= 3
    assert max(moves) <= 9
    starts = [each.music.chorus_start(at) for at in range(12)] + [each.music.length]
    choruses = {
        tuple(each.down[place] for place in sorted(each.comp) if a <= place < b)
        for a, b in pairwise(starts)
    }
    assert len(choruses) == 12


def test_a_hand_has_voicings_for_every_quality_of_chord() -> None:
    for quality, place in product(QUALITIES, ("I", "IV", "bVI", "vii")):
        chord = Chord(Chord.parse(place).root, quality)
        symbol = chord.symbol(C)
        for family, voices in product(Family, (3, 4)):
            found = voicings(chord, 0, Hand(family, voices, coloured=False))
            assert found, (symbol, family, voices)
            for keys in found:
                classes = {key % 12 for key in keys}
                assert keys[-1] % 12, (symbol, keys)  # home, which is C
                assert classes <= tones_of(symbol)[0], (symbol, keys)
                assert guide_tones(symbol) <= classes, (symbol, keys)


def test_a_guitar_is_held_by_four_fingers() -> None:
    """Standard tuning by music21's names; at most four frets apart, open strings apart."""
    strings = [music21.pitch.Pitch(name).midi for name in ("E2", "A2", "D3", "G3", "B3", "E4")]
    for name in ("I7", "IV7", "V7", "ii7", "I6"):
        for keys in voicings(Chord.parse(name), 4, Hand(Family.GUITAR, 4, coloured=True)):
            grips = [
                [key - string for key, string in zip(keys, strings[at:], strict=False)]
                for at in range(3)
            ]
            assert any(
                min(grip) >= 0 and max(filter(None, grip)) - min(filter(None, grip)) <= 4
                for grip in grips
            )


def test_strings_are_struck_one_after_the_other_down_and_up() -> None:
    feel = 'sounds comp "Electric Guitar (clean)"\n comp on 1 2&'
    [form] = parse_band('form "x"\n bars I7 x4')
    [band] = parse_band(f'feel "x"\n {feel}')
    assert isinstance(form, Form)
    assert isinstance(band, BandFeel)
    music = arrange_set(form, band, C, BandSet(1, tempo_bpm=60, looseness=1))
    down, up = (
        sorted(
            (n for n in music.notes if abs(n.start - at) < Fraction(1, 4)), key=lambda n: n.start
        )
        for at in (0, Fraction(3, 2))
    )
    assert [n.key for n in down] == sorted(n.key for n in down)
    assert [n.key for n in up] == sorted((n.key for n in up), reverse=True)
    assert max(n.velocity for n in up) < min(n.velocity for n in down)
    for strokes in (down, up):
        spread = float(music.seconds(strokes[-1].start - strokes[0].start)) * 1000
        assert 8 <= spread <= 20
    exact = arrange_set(form, band, C, BandSet(1, tempo_bpm=60, looseness=0))
    assert {n.start % Fraction(1, 2) for n in exact.notes} == {0}


def test_an_organ_holds_what_two_chords_have_in_common_and_is_played_evenly() -> None:
    [form] = parse_band('form "x"\n bars I7 | IV7 | I7 | IV7 | I7')
    [band] = parse_band(
        'feel "x"\n sounds comp "Drawbar Organ"\n loose timing 0, velocity 20\n comp held on 1'
    )
    assert isinstance(form, Form)
    assert isinstance(band, BandFeel)
    notes = arrange_set(form, band, C, BandSet(2, looseness=2)).notes
    held = [note for note in notes if note.length > 4]
    assert held
    for note in held:  # no key is struck while it is held
        assert not [
            n
            for n in notes
            if n.key == note.key and note.start < n.start < note.start + note.length
        ]
    first = [n.velocity for n in notes if n.start == 0]
    assert len(set(first)) == 1


# --- the comp: what it leaves, and where its top voice goes ---------------------------


def chords_struck(each: Heard) -> list[Fraction]:
    """The places of the strokes that are chords, in time order."""
    places = sorted(each.comp)
    return [
        place
        for place, after in zip(places, [*places[1:], None], strict=True)
        if not is_crushed(each.comp[place], after)
        and not is_scratch(each.comp[place], each.music.meter)
    ]


def test_what_is_struck_just_before_another_chord_is_that_chord_and_rings_into_it() -> None:
    """In threes, pickups into a chord that is struck may be of the one before."""
    seen = 0
    for each in sample(whole=False):
        meter = each.music.meter
        changes = [two for (_, a), (two, b) in pairwise(each.music.chords) if a != b]
        struck = chords_struck(each)
        for change in changes:
            on_time = change in struck
            for place in (p for p in struck if change - meter.pulse / 2 <= p < change):
                if on_time and meter.compound:
                    continue
                seen += 1
                assert not on_time, (each.music.feel, place)
                assert fits(each.down[place], each.symbol(change)), (each.music.feel, place)
                assert max(n.start + n.length for n in each.comp[place]) > change
    assert seen > 50


def test_a_neighbour_chord_comes_once_in_a_bar_and_over_one_and_four_alone() -> None:
    for each in sample(whole=False):
        starts, beats = [start for start, _ in each.music.chords], each.music.meter.beats
        bars: list[int] = []
        for place in chords_struck(each):
            after = next((s for s in starts if place < s), place)
            if not any(fits(each.down[place], each.symbol(at)) for at in (place, after)):
                bars.append(int(place // beats))
                _, root = tones_of(each.symbol(place))
                assert (root - each.key.pitch_class) % 12 in (0, 5)
        assert len(set(bars)) == len(bars), each.music.feel


def test_no_off_beat_of_a_riff_comes_three_bars_running() -> None:
    for feel in ("Jump swing", "Soft jazz swing", "Medium shuffle", "Rumba", "Second line"):
        each = heard("Twelve bars", feel, choruses=8, seed=6)
        struck = chords_struck(each)
        bars = [{p - bar for p in struck if bar <= p < bar + 4 and p % 1} for bar in each.bars()]
        assert not any(a & b & c for a, b, c in zip(bars, bars[1:], bars[2:], strict=False)), feel


def test_the_top_voice_moves_by_small_steps_in_every_mood() -> None:
    """A line of its own under the harp: no leap over a fifth, and steps as soon in quiet bars."""
    for feel, plan in product(("Jump swing", "Gospel", "Funk sixteenths"), ("quiet", "full")):
        each = heard("Twelve bars", feel, KEYS[9], choruses=4, plan=plan)
        tops = [max(each.down[place]) for place in chords_struck(each)]
        moves = [abs(a - b) for a, b in pairwise(tops) if a != b]
        assert max(moves) <= 7
        assert mean(moves) <= 3
        assert len(set(tops)) >= 4
        bars = defaultdict[int, set[int]](set)
        for place in chords_struck(each):
            bars[int(place // each.music.meter.beats)].add(max(each.down[place]))
        threes = zip(*(list(bars.values())[at:] for at in range(3)), strict=False)
        assert mean(len(set().union(*three)) == 1 for three in threes) <= 0.05, (feel, plan)


def test_a_ghost_of_a_guitar_is_a_scratch_over_the_chord_before_it() -> None:
    feel = 'sounds comp "Electric Guitar (clean)"\n comp on 1 (1e) 2 (2e) 3 (4a)'
    notes = [n for n in music_of(feel, "I7 | IV7 | I7").of(Part.COMP) if n.start < 8]
    ghosts = [n for n in notes if n.start % 1 in (Fraction(1, 4), Fraction(3, 4))]
    assert len(ghosts) == 6 * 2
    for ghost in ghosts:
        start = max(n.start for n in notes if n.start < ghost.start and n not in ghosts)
        assert ghost.length <= Fraction(8, 100)
        assert ghost.key in {n.key for n in notes if n.start == start}
        assert ghost.velocity < 40


# --- what a bass player minds -------------------------------------------------------------


def test_no_bass_note_is_the_minor_third_of_a_chord_with_a_major_one() -> None:
    """Chords and their tones by music21; not in the half beat in which the next may be struck."""
    for each in sample(whole=False):
        half = each.music.meter.pulse / 2
        for place, notes in each.bass.items():
            inside, root = tones_of(each.symbol(place))
            if (root + 4) % 12 in inside and each.symbol(place + half) == each.symbol(place):
                assert notes[0].key % 12 != (root + 3) % 12, (each.music.feel, each.music.form)


def test_a_bass_keeps_to_a_minor_key_and_to_the_tones_of_a_diminished_chord() -> None:
    for feel in shipped_feels()[::4]:
        minor = heard("Twelve bars in minor", feel.title, choruses=3)
        assert 4 not in {n.key % 12 for notes in minor.bass.values() for n in notes}, feel.title
        jazz = heard("Twelve bars, jazz changes", feel.title, choruses=3)
        pulse = jazz.music.meter.pulse
        for place, notes in jazz.bass.items():
            symbol = jazz.symbol(place)
            if "dim" in symbol and jazz.symbol(place + pulse) == symbol:
                assert notes[0].key % 12 in tones_of(symbol)[0], (feel.title, place)


def test_a_set_ends_on_the_lowest_root_there_is() -> None:
    """On the lowest string or within an octave of it: E1 is the lowest note of a bass."""
    for each in sample(whole=False):
        if each.bass:
            final = each.bass[max(each.bass)][-1].key
            assert final % 12 == each.key.pitch_class
            assert 28 <= final < 40, (each.music.form, each.music.feel)


def test_a_walking_bass_speaks_note_by_note_and_skips_now_and_then() -> None:
    """Lengths from 0.85 to 0.95 of a beat; a skip or dead note in four to six bars or so."""
    for form in ("Twelve bars", "Sixteen bars"):
        notes = heard(form, "Jump swing", choruses=12, plan="even").music.of(Part.BASS)
        skips = [note for note in notes if note.start % 1]
        bars = len(notes) / 4
        assert 1 / 8 < len(skips) / bars < 1 / 3
        plain = [a for a, b in pairwise(notes) if b.start - a.start == 1]
        assert all(0.84 <= note.length <= 0.96 for note in plain)


def test_the_bass_says_the_third_where_its_style_has_it() -> None:
    """In two bars of a chord; not roots and fifths alone, nor a drone (common practice)."""
    roots = {"Two-beat", "Train beat", "Waltz", "Hill-country drone", "Straight rock"}
    for feel in shipped_feels()[1::2]:
        if feel.title in roots | {"Funk sixteenths"}:
            continue
        each = heard("Twelve bars", feel.title, choruses=4, seed=2)
        told = [
            (root + 4) % 12 in {note % 12 for note in (*each.line(one), *each.line(two))}
            for one, two in pairwise(each.bars())
            for root in [tones_of(each.symbol(one))[1]]
            if not each.music.changing(one + 1, two + each.music.meter.beats)
        ]
        assert mean(told) >= 0.95, feel.title
