"""A drill over a form: every bar of both together, and what each note is in its chord.

music21 (from the registries) knows chords and keys on its own: what it hears in a chord
symbol is what a note is measured against.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from io import BytesIO
from itertools import pairwise

import mido
import music21
import pytest
import xmlschema
from hypothesis import given
from hypothesis import strategies as st

import bands
from oracles import beside
from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.band.arranger import arrange
from reedmill.band.shelf import find_feel, find_form, shipped_forms
from reedmill.base.errors import InputError
from reedmill.base.text import printable
from reedmill.expand import expand
from reedmill.expand.breath import without_breaths
from reedmill.expand.over import WAYS, choruses_for, laid_over_band
from reedmill.formats.data import score_data
from reedmill.formats.midi import midi_bytes
from reedmill.formats.musicxml import musicxml_bytes
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import find_drills, shipped, usual_position
from reedmill.score.arrangement import Arrangement
from reedmill.score.repeats import printed
from reedmill.score.score import Feel, Score
from reedmill.score.targets import chord_tone, is_target
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position
from tunes import score_from

SHUFFLE, SLOW, RUMBA = "Medium shuffle", "Slow twelve-eight", "Rumba"
TWELVE = "Twelve bars"
RIFF = """
drill "Riff"
  tempo 72
  play  -2 -2:1/2 -3':1/2 4 -4 | -3:2 -2:2
"""


def score_of(text: str = RIFF, harp: str = "C", position: int = 2) -> Score:
    return expand(parse(text)[0], Harp.parse(harp), Position(position))


def band_for(score: Score, form: str, feel: str, choruses: int | None = None) -> Arrangement:
    bars, played = find_form(form), find_feel(feel)
    many = choruses or choruses_for(score, len(bars.bars), played.meter)
    return arrange(bars, played, score.key, choruses=many)


def laid(
    form: str = TWELVE, feel: str = SHUFFLE, way: str = "loop", choruses: int | None = None,
    score: Score | None = None,
) -> Score:  # fmt: skip
    riff = score or score_of()
    return laid_over_band(riff, band_for(riff, form, feel, choruses), way)


def test_a_loop_fills_the_form_with_whole_copies() -> None:
    riff, whole = score_of(), without_breaths(laid())
    assert whole.bars == 12
    assert len(whole.notes) == len(riff.notes) * 6
    for at in range(6):
        part = whole.notes[at * 7 : at * 7 + 7]
        assert [(n.start - 8 * at, n.length, n.reed) for n in part] == [
            (n.start, n.length, n.reed) for n in riff.notes
        ]


def test_once_is_once_and_then_rest() -> None:
    assert laid(way="once").notes == score_of().notes
    assert laid(way="once").bars == 12


def test_a_riff_that_does_not_divide_the_form_is_cut_at_its_end() -> None:
    riff = score_of('drill "Five bars"\n  play (-2:4)x4 -3:4')
    whole = laid(form="Twelve bars", score=riff)
    assert whole.bars == 12
    assert whole.notes[-1].end == whole.length == 48
    assert [note.reed.tab for note in whole.notes[-2:]] == ["-2", "-2"]


@pytest.mark.parametrize(
    ("music", "starts", "lengths"),
    [
        ("-2:4 -3:8", (0, 4), (4, 4)),  # held over the bar line where the form ends
        ("-2:4 -3:4 -4:4", (0, 4), (4, 4)),  # the next would begin there
        ("-2:3 -3:1", (0, 3, 4, 7), (3, 1, 3, 1)),
    ],
)
def test_no_note_goes_on_or_begins_where_the_form_has_ended(
    music: str, starts: tuple[int, ...], lengths: tuple[int, ...]
) -> None:
    """A form of two bars of 4/4."""
    notes = laid_over_band(score_from(music), by_hand((0, "I"), beats=8)).notes
    assert [int(note.start) for note in notes] == list(starts)
    assert [int(note.length) for note in notes] == list(lengths)


def test_a_long_drill_takes_as_many_choruses_as_it_needs() -> None:
    riff = score_of('drill "Thirteen bars"\n  play (-2:4)x13')
    assert choruses_for(riff, 12, riff.meter) == 2


MOVES = 'drill "Moves"\n  tempo 72\n  play -2 -2:1/2 4:1/2 -4:2 | -2:2 -1:2'
"""Root, fourth and fifth alone: from every chord of the form these have reeds."""


@pytest.mark.parametrize("harp", ["C", "A", "F#"])
@pytest.mark.parametrize("form", [TWELVE, "Twelve bars, quick change", "Eight bars"])
def test_every_bar_is_answered_from_the_root_of_its_chord(form: str, harp: str) -> None:
    """The same steps from the chord's root; roots after music21's Roman numerals."""
    riff = score_of(MOVES, harp=harp)
    whole = laid(form, way="chords", score=riff)
    assert whole.band is not None
    assert whole.warnings == ()
    key = music21.key.Key(riff.key.name.replace("b", "-"))
    roots = set()
    for note, own in zip(without_breaths(whole).notes, riff.notes * 99, strict=False):
        chord = whole.band.chord_at(note.start - note.start % 4)
        root = music21.roman.RomanNumeral(chord.name.rstrip("79"), key).root().pitchClass
        roots.add(root)
        at_home = (own.pitch.midi - riff.key.pitch_class) % 12
        assert (note.pitch.midi - root) % 12 == at_home, (chord.name, note)
        assert (note.length, note.accent) == (own.length, own.accent)
    assert len(roots) == 3


def test_a_riff_without_reeds_for_an_answer_says_which_note_and_stays() -> None:
    """Counted by hand on a C harp in cross harp: b3 over C is Eb, an overblow of hole 1 or 4."""
    riff = score_of('drill "Third"\n  play -2 -3\' -2:2')
    whole = laid(way="chords", score=riff)
    said = [each.fact for each in whole.warnings]
    assert said == [
        "over IV7 (bars 5, 6, 10) it needs Eb, which a C harp has only as an overbend (4^); "
        "there it stays as it is over I"
    ]
    assert [note.reed.tab for note in whole.notes[12:15]] == ["-2", "-3'", "-2"]


def test_a_third_that_a_minor_chord_lowers_is_missed_by_its_lowered_name() -> None:
    """Counted by hand: the third of C minor is Eb, which hole 4 has only as an overblow; E it has.

    B, the riff's own third, is a fourth under E; a C minor chord (iv in G) makes Eb of that.
    """
    laid = laid_over_band(score_from("-3 -3 -3 -3"), by_hand((0, "iv"), beats=4), "chords")
    [said, nothing] = laid.warnings
    assert nothing.fact == "nothing could be moved"
    assert said.span == nothing.span == laid.notes[0].span
    assert said.fact == (
        "over iv (bar 1) it needs Eb, which a C harp has only as an overbend (4^); "
        "there it stays as it is over I"
    )


def test_a_double_stop_is_moved_to_the_root_of_each_chord_with_both_its_holes() -> None:
    """Counted by hand on a C harp: G and B over G are C and E over C, neighbours as well."""
    riff = score_of('drill "Double"\n  play -2&3:2 slap -2:2')
    whole = laid(way="chords", score=riff)
    [first, single, *_] = (note for note in whole.notes if note.start >= 16)  # bar 5, IV
    assert [each.pitch.note for each in first.sounded] == ["C", "E"]
    low, high = first.reeds
    assert (high.hole - low.hole, low.breath) == (1, high.breath)
    assert (single.pitch.note, single.style.words) == ("C", ("slap",))


@pytest.mark.parametrize(
    ("music", "why"),
    [
        # C and E are F and A over C: holes 2 and 3 bent two semitones, too far for both at once
        ("1&2:4", "for 1&2 it needs F and A in one breath, which a C harp does not have"),
        # G becomes C, which is a blow note, and those of holes 1 to 6 do not bend
        ("scoop -2:4", "there is no reed for its scoop"),
        ("-3q:4", "it needs Eq, which a C harp does not have"),
    ],
)
def test_what_no_reed_gives_over_a_chord_stays_and_says_why(music: str, why: str) -> None:
    """Counted by hand on a C harp in cross harp, over IV (C)."""
    line = score_of(f'drill "Kept"\n  play {music}')
    whole = laid_over_band(line, by_hand((0, "IV"), beats=4), "chords")
    said = whole.warnings[0].fact
    assert said == f"over IV (bar 1) {why}; there it stays as it is over I"
    assert [note.tab for note in whole.notes] == [note.tab for note in line.notes]


def test_a_third_between_major_and_minor_stays_itself_over_a_minor_chord() -> None:
    line = score_of('drill "Between"\n  play -3q:4')
    whole = laid_over_band(line, by_hand((0, "i"), beats=4), "chords")
    assert [note.tab for note in whole.notes] == ["-3q"]
    assert whole.notes[0].hz == pytest.approx(479.82, abs=0.01)  # a quarter tone under B4


@pytest.mark.parametrize(("between", "moved"), [("r", "4 -2 -3"), ("-2", "4 4 3 -3")])
def test_after_a_rest_there_is_time_to_turn_the_breath(between: str, moved: str) -> None:
    """G D F# of a C harp over IV are C G B; G is blow 3 or draw 2, C is blow 4, B draw 3.

    By the table of costs (expand/fingering.py): from blow 4, blow 3 is a hole away and leaves
    a turn to draw 3 (1 + 2); draw 2 is a turn and two holes away, and leaves one (4 + 1).  After
    a rest only what follows counts: 2 against 1.
    """
    riff = score_from(f"-2 {between} -1 -2'")
    laid = laid_over_band(riff, by_hand((0, "IV"), beats=4), "chords")
    assert [note.reed.tab for note in laid.notes] == moved.split()


def test_when_nothing_can_be_moved_that_is_said() -> None:
    riff = score_of("drill \"Third\"\n  play -2 -3' -3'' -2")
    whole = laid("One chord", way="chords", score=riff)
    plain = laid("One chord", score=riff)
    assert (whole.notes, whole.warnings) == (plain.notes, plain.warnings)


def test_over_a_minor_chord_the_riffs_own_third_is_minor() -> None:
    riff = score_of('drill "Major"\n  play -2 -3 -4 -3', position=2)
    whole = laid(form="Twelve bars in minor", way="chords", score=riff)
    assert [note.degree.name for note in whole.notes[:4]] == ["1", "b3", "5", "b3"]


def test_four_four_goes_over_twelve_eight_in_threes() -> None:
    whole = laid(feel=SLOW)
    assert whole.meter.name == "12/8"
    assert whole.feel is Feel.STRAIGHT
    # quarter, two eighths as two and one, two quarters
    assert [n.start for n in whole.notes[:5]] == [0, 3, 5, 6, 9]
    assert [n.length for n in whole.notes[:5]] == [3, 2, 1, 3, 3]


@pytest.mark.parametrize(
    ("text", "feel", "said"),
    [
        ('drill "Three"\n  meter 3/4\n  play -2:3', SHUFFLE, "does not go over a feel in 4/4"),
        ('drill "Six"\n  meter 12/8\n  play -2:12', SHUFFLE, "does not go over a feel in 4/4"),
        ('drill "Fine"\n  play -2:1/4 -2:3/4 -2:3', SLOW, "does not go over a feel in 12/8"),
        ('drill "Up"\n  pickup 1\n  play -2 | -2:4', SHUFFLE, "begins with a pick-up"),
    ],
)
def test_what_does_not_fit_is_refused_in_words(text: str, feel: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        laid(feel=feel, score=score_of(text), choruses=1)


def test_another_way_is_refused_with_the_nearest_one() -> None:
    with pytest.raises(InputError, match='Did you mean "chords"'):
        laid(way="chord")


def test_choruses_are_printed_once_with_an_ending_for_the_last() -> None:
    whole = laid(choruses=4)
    shown = printed(whole)
    assert len(shown) == 14  # ten bars, two at the end of three choruses, two at the last
    assert [bar.ending for bar in shown if bar.ending] == [(1, 2, 3), (4,)]


@cache
def heard(symbol: str) -> frozenset[int]:
    """The pitch classes music21 hears in a chord symbol."""
    written = symbol.replace("b", "-", 1) if symbol[1:2] == "b" else symbol
    return frozenset(pitch.pitchClass for pitch in music21.harmony.ChordSymbol(written).pitches)


@pytest.mark.parametrize("feel", [SHUFFLE, SLOW])
@pytest.mark.parametrize("form", [each.title for each in shipped_forms()])
def test_a_note_is_of_its_chord_when_music21_hears_it_there(form: str, feel: str) -> None:
    whole = laid(form, feel)
    assert whole.band is not None
    targets = 0
    for note in whole.notes:
        symbol = whole.band.chord_at(note.start).symbol(whole.key)
        inside = note.pitch.midi % 12 in heard(symbol)
        assert inside == (chord_tone(whole, note) is not None), (symbol, note)
        targets += is_target(whole, note)
        assert inside or not is_target(whole, note)
    assert targets


@cache
def musicxml_4() -> xmlschema.XMLSchema:
    """The standard's own schema."""
    return xmlschema.XMLSchema(beside("musicxml", "generate_classes/musicxml_4_0.xsd"))


def test_musicxml_has_the_chords_and_music21_reads_them() -> None:
    for form in shipped_forms():
        whole = laid(form.title)
        content = musicxml_bytes(whole)
        musicxml_4().validate(content.decode().partition("?>")[2])
        read = music21.converter.parseData(content, format="musicxml")
        chords = list(read.recurse().getElementsByClass(music21.harmony.ChordSymbol))
        assert whole.band is not None
        meant = [
            (float(start), frozenset((whole.key.pitch_class + chord.root.semitones + step) % 12
                                     for _, step in chord.tones))
            for start, chord in whole.band.chords
        ]  # fmt: skip
        got = [
            (
                each.getOffsetInHierarchy(read.parts[0]),
                frozenset(p.pitchClass for p in each.pitches),
            )
            for each in chords
        ]
        assert got == meant, form.title


def test_json_says_the_chords_and_what_to_aim_at() -> None:
    data = score_data(laid())
    assert data["over"] == {"form": TWELVE, "feel": SHUFFLE, "choruses": 1}
    assert data["chords"][0] == {"start": "0", "chord": "I7", "symbol": "G7"}
    first, *_ = data["notes"]
    assert (first["in_chord"], first["target"]) == ("1", True)
    assert "over" not in score_data(score_of())


@given(st.sampled_from([each.drill.title for each in shipped()]), st.sampled_from(WAYS))
def test_every_drill_fits_or_says_why_not(title: str, way: str) -> None:
    [drill] = find_drills(title)
    reasons: list[str] = []
    for feel in (SHUFFLE, SLOW):
        score = expand(drill, Harp("C"), usual_position(drill))
        try:
            whole = laid(feel=feel, way=way, score=score)
        except InputError as error:
            reasons.append(str(error))
            continue
        assert whole.length == Fraction(whole.bars * whole.meter.beats)
        assert all(note.end <= whole.length for note in whole.notes)
        assert all(a.end <= b.start for a, b in zip(whole.notes, whole.notes[1:], strict=False))
        joined = [note for note in whole.notes if note.joined]
        assert not joined or way != "once" or len(joined) == sum(n.joined for n in score.notes)
    assert all("pick-up" in said or "does not go over" in said for said in reasons)


def test_a_tempo_the_feel_is_not_meant_for_is_said_and_played() -> None:
    riff = score_of()
    whole = accompanied(riff, Accompaniment(TWELVE, SHUFFLE))
    assert whole.tempo_bpm == 72
    said = [each.fact for each in whole.warnings]
    assert said == ['tempo 72 is slower than "Medium shuffle" is meant for, 92 to 138.']
    assert accompanied(replace(riff, tempo_bpm=100), Accompaniment(TWELVE, SHUFFLE)).warnings == ()


def test_midi_has_the_band_in_place_of_drone_and_click() -> None:
    names = [
        track.name
        for track in mido.MidiFile(file=BytesIO(midi_bytes(laid())), charset="utf-8").tracks
    ]
    assert names == ["Riff", "Guide", "Chords", "Bass", "Comp", "Drums"]


# --- over chords made by hand ----------------------------------------------------------------

BAR = "-2 -3 4 -4"


def by_hand(*chords: tuple[int, str], beats: int = 16, choruses: int = 1) -> Arrangement:
    """A band in 4/4 whose chords start at these beats."""
    changes = tuple((Fraction(at), Chord.parse(name)) for at, name in chords)
    made = replace(bands.arrangement(beats=beats), chords=changes, choruses=choruses)
    return replace(made, bars_a_chorus=beats // 4 // choruses)


def stretches(*places: tuple[int, int]) -> tuple[tuple[Fraction, Fraction], ...]:
    """Beats from and to, exact as a score has them."""
    return tuple((Fraction(start), Fraction(end)) for start, end in places)


@pytest.mark.parametrize(
    ("third", "fourth", "passes"),
    [
        ("I", "IV", ((8, 8), (16, 16))),
        ("I", "V", ((4, 8), (12, 16))),  # the second bar is an ending
        ("V", "IV", None),  # nothing is alike from the start
    ],
)
def test_choruses_are_a_repeat_as_far_as_they_begin_alike(
    third: str, fourth: str, passes: tuple[tuple[int, int], ...] | None
) -> None:
    """Two choruses of two bars: the first over I and IV, the second over what is given."""
    under = by_hand((0, "I"), (4, "IV"), (8, third), (12, fourth), choruses=2)
    laid = laid_over_band(score_from(BAR), under)
    if passes is None:
        assert laid.repeats == ()
        return
    [repeat] = laid.repeats
    assert repeat.start == 0
    assert repeat.passes == stretches(*passes)


@pytest.mark.parametrize(
    ("music", "passes"),
    [
        ("-2:4 -3:4", ((8, 8), (16, 16))),
        ("-2:4 -3:4 -2:4 -4:4", ((4, 8), (12, 16))),  # the second bars differ
        ("-2:4 -3:4 -4:4", None),  # the second chorus begins with the third bar
        ("-2:4 -3:4 -2:3 r -3:4", None),  # as high and as early, and shorter
    ],
)
def test_choruses_are_a_repeat_as_far_as_the_same_is_played(
    music: str, passes: tuple[tuple[int, int], ...] | None
) -> None:
    """Two choruses of two bars over one chord."""
    laid = laid_over_band(score_from(music), by_hand((0, "I"), (8, "I"), choruses=2))
    expected = [stretches(*passes)] if passes else []
    assert [repeat.passes for repeat in laid.repeats] == expected


@pytest.mark.parametrize(
    ("played", "beats", "echoes"),
    [
        ("-2:2", 8, ((2, 4), (6, 8))),
        ("-2:4", 16, ((4, 8), (12, 16))),
        ("-2:4", 12, ((4, 8),)),  # the next would begin where the form ends
        ("-2:6", 20, ((6, 12), (18, 20))),  # cut at the end
    ],
)
def test_each_time_has_its_echo_as_far_as_the_form_goes(
    played: str, beats: int, echoes: tuple[tuple[int, int], ...]
) -> None:
    riff = score_of(f'drill "Call"\n  echo\n  play {played}\n')
    assert laid_over_band(riff, by_hand((0, "I"), beats=beats)).echoes == stretches(*echoes)


def test_over_the_chord_at_home_a_riff_keeps_the_reeds_it_is_written_on() -> None:
    """Draw to draw would be less work than draw to blow 3; the writer chose blow 3."""
    riff = score_from("-1 3 -1 -3")
    laid = laid_over_band(riff, by_hand((0, "I"), (4, "IV"), beats=8), "chords")
    assert [note.reed.tab for note in laid.notes[:4]] == ["-1", "3", "-1", "-3"]


@pytest.mark.parametrize(
    ("way", "beats", "said"),
    [("once", 4 * 1000, "has 1,001 bars; 1,000 is the most"), ("loop", 2000, "more than 2,000")],
)
def test_a_drill_over_a_form_has_1000_bars_and_2000_notes_at_most(
    way: str, beats: int, said: str
) -> None:
    """Those of a drill alone (patterns/README.md): 500 bars of four notes have 2,000."""
    riff = score_from(BAR)
    most = laid_over_band(riff, by_hand((0, "I"), beats=beats), way)
    assert most.length == beats
    assert len(most.notes) == (4 if way == "once" else 2000)
    with pytest.raises(InputError, match=said):
        laid_over_band(riff, by_hand((0, "I"), beats=beats + 4), way)


def test_one_chorus_is_no_repeat() -> None:
    assert laid_over_band(score_from(BAR), by_hand((0, "I"))).repeats == ()


def test_sections_are_named_where_the_drill_is_played_once() -> None:
    """Heard again and again, a name would stand over the first time alone."""
    score = replace(score_from(BAR), sections=((Fraction(0), printable("Theme")),))
    assert laid_over_band(score, by_hand((0, "I")), "once").sections == score.sections
    assert laid_over_band(score, by_hand((0, "I")), "loop").sections == ()


def test_a_bar_of_rest_stays_one_over_any_chord() -> None:
    laid = laid_over_band(score_from(f"{BAR} r:4"), by_hand((0, "I"), (4, "IV"), beats=8), "chords")
    assert [note.start for note in laid.notes] == [0, 1, 2, 3]
    assert laid.length == 8


@pytest.mark.parametrize(("second", "slid"), [("I", True), ("IV", False), ("V", False)])
def test_no_slide_leads_over_from_the_reeds_of_another_chord(second: str, slid: bool) -> None:
    riff = score_from("-2 -2 -2 -3 ~-3' -2 -2 -2")
    laid = laid_over_band(riff, by_hand((0, "I"), (4, second), beats=8), "chords")
    assert [note.joined for note in laid.notes] == [False] * 4 + [slid] + [False] * 3
    assert [note.start for note in laid.notes] == list(range(8))
    intervals = [note.pitch.midi - laid.notes[4].pitch.midi for note in laid.notes[4:]]
    assert intervals == [0, -3, -3, -3]  # from the flat third down to the root, on any chord


def test_a_drill_takes_the_feel_of_its_band() -> None:
    assert laid(feel=SHUFFLE).feel is Feel.SHUFFLE
    assert laid(feel="Straight eighths").feel is Feel.STRAIGHT


def test_over_a_form_a_drill_is_breathed_at_the_tempo_and_for_the_bars_of_the_band() -> None:
    """A long draw, which alone has a breath after each time, over four times as many bars."""
    long = 'drill "Long"\n level 1\n tempo 60\n play -2:4 | -3:4 |'
    alone = score_of(long)
    assert [each.rest for each in alone.breaths] == [1]
    laid = accompanied(alone, Accompaniment(TWELVE, RUMBA, "loop", 1, 0))
    assert laid.notes[0].length + laid.breaths[0].rest == 4, "the drill's own value, then its rest"
    silent_s, since = Fraction(1, 2), Fraction(0)
    for note, after in pairwise(laid.notes):
        gap_s = laid.seconds(laid.performed(after.start) - laid.silent_from(note))
        if gap_s >= silent_s:
            assert laid.seconds(note.end - since) <= 6
            since = after.start
    assert laid.seconds(laid.length - since) <= 6
    assert len(laid.breaths) >= 5
