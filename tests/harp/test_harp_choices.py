"""Which harp for the song, against music21: transposition, scales and key signatures.

The reeds are the published Richter layout (OEIS A291810, in ``oracles``); the two other layouts are
restated from common practice (no published source): country raises draw 5 a semitone, natural
minor lowers every third and seventh of the blow chord's key.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import product

import music21
import pytest

from oracles import A291810, HOLE_1, POSITIONS, root
from reedmill.base.errors import InputError
from reedmill.harp import HARP_KEYS, LAYOUTS, Harp
from reedmill.harp.harp_choices import (
    choices_for,
    choices_in,
    harp_for,
    keys_of_case,
    left_out_words,
    position_for,
)
from reedmill.harp.harp_places import HarpPlace, SongFit
from reedmill.harp.reeds import Reed
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import SongKey
from together import together

ROWS = {
    "richter": A291810,
    "country": [each + (n == 9) for n, each in enumerate(A291810)],
    "natural-minor": [each - (each % 12 in (4, 11)) for each in A291810],
}
SCALES = {
    "ionian": music21.scale.MajorScale, "dorian": music21.scale.DorianScale,
    "phrygian": music21.scale.PhrygianScale, "lydian": music21.scale.LydianScale,
    "mixolydian": music21.scale.MixolydianScale, "aeolian": music21.scale.MinorScale,
    "locrian": music21.scale.LocrianScale, "harmonic minor": music21.scale.HarmonicMinorScale,
}  # fmt: skip
EVERY_KEY = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@cache
def notes_of(scale: str, tonic: int) -> frozenset[int]:
    """The pitch classes of a scale, by music21."""
    pitches = SCALES[scale](music21.pitch.Pitch(tonic)).getPitches("C3", "C5")
    return frozenset(each.pitchClass for each in pitches)


def lowest(harp: str) -> int:
    """The pitch class of hole 1 blow."""
    return int(music21.pitch.Pitch(HOLE_1[harp]).pitchClass)


def naturals(harp: str, layout: str) -> set[int]:
    """The pitch classes of the natural notes of a harp."""
    return {(lowest(harp) + each) % 12 for each in ROWS[layout]}


def sounded(harp: str, layout: str, reed: Reed) -> int:
    """The pitch class of a natural note or a bend, by its tab."""
    row = 2 * reed.hole - 2 + reed.tab.startswith("-")
    return (lowest(harp) + ROWS[layout][row] - reed.tab.count("'")) % 12


def every_place() -> Iterator[tuple[str, str, int, HarpPlace]]:
    """Layout, harp and position, every one of them, and what we say of it."""
    for layout, harp, position in product(ROWS, HARP_KEYS, POSITIONS):
        on = Harp(harp, layout=LAYOUTS[layout])
        yield layout, harp, position, HarpPlace(on, Position(position))


def test_scales_homes_and_thirds_of_every_place_are_music21s() -> None:
    """12 harps, 12 positions, all layouts."""
    assert set(ROWS) == set(LAYOUTS)
    for layout, harp, position, place in every_place():
        where, home = (layout, harp, position), root(harp, position).pitchClass
        there = naturals(harp, layout)
        assert place.root == home, where
        assert set(place.scales) == {
            each for each in SCALES if notes_of(each, home) <= there and home in there
        }, where
        assert {sounded(harp, layout, reed) for reed in place.home} == {home} & there, where
        assert {sounded(harp, layout, reed) for reed in place.bent_thirds} <= {
            root(harp, position).transpose("m3").pitchClass
        }, where
        degrees = [music21.pitch.Pitch(each).pitchClass for each in sorted(there)]
        assert len(place.degrees) == (len(degrees) if home in there else 0), where
        minor, major = (
            home in there and root(harp, position).transpose(each).pitchClass in there
            for each in ("m3", "M3")
        )
        said = {(True, True): "both", (True, False): "minor", (False, True): "major"}
        assert place.third == said.get((minor, major), ""), where
        fifth = root(harp, position).transpose("P5").pitchClass
        assert (place.fit is SongFit.HARD) == (not {home, fifth} <= there), where


def test_the_signature_of_a_mode_is_that_of_the_harp() -> None:
    """``key.Key(tonic, mode).sharps`` of music21, on a Richter harp."""
    for layout, harp, position, place in every_place():
        if layout == "richter" and place.scales:
            own = music21.key.Key(harp.replace("b", "-")).sharps
            tonic = place.harp.key_in(place.position).name.replace("b", "-")
            mode = music21.key.Key(tonic, place.scale).sharps
            assert (mode - own) % 12 == 0, (harp, position)


def test_the_harp_for_a_song_is_fifths_under_its_key() -> None:
    for song, position in product(EVERY_KEY, POSITIONS):
        key, there = SongKey.parse(song), Position(position)
        harp = harp_for(key, there)
        assert harp.name in HARP_KEYS  # of the usual register
        wanted = music21.pitch.Pitch(song.replace("b", "-")).pitchClass
        assert root(harp.name, position).pitchClass == wanted, (song, position)
        assert position_for(key, harp) == there


# By hand, as a player counts: E is a fifth over A, a whole tone over D, a sixth over G.
CHOICES = [
    ("E", ["A 2", "E 1", "D 3"]),
    ("E blues", ["A 2", "D 3", "E 1"]),
    ("E major", ["E 1", "A 2", "B 12"]),
    ("E minor", ["D 3", "G 4", "A 2", "C 5"]),
    ("E dorian", ["D 3"]),
    ("E phrygian", ["C 5"]),
    ("Bb", ["Eb 2", "Bb 1", "Ab 3"]),
    ("F# minor", ["E 3", "A 4", "B 2", "D 5"]),
    ("Db", ["F# 2", "Db 1", "B 3"]),
]


@together(("song", "choices"), CHOICES)
def test_the_harps_to_take(song: str, choices: list[str]) -> None:
    found = choices_for(SongKey.parse(song))
    assert [f"{each.harp.name} {each.position.number}" for each in found] == choices


def test_a_natural_minor_harp_is_taken_in_cross_harp_for_a_song_in_minor() -> None:
    """Sold by the key of draw 2: common practice, no published source."""
    found = choices_for(SongKey.parse("E minor"), LAYOUTS["natural-minor"])
    first = found[0]
    assert (first.harp.key, first.position.number, first.scale) == ("A", 2, "aeolian")


def test_of_a_case_only_what_is_in_it_and_ready_is_offered() -> None:
    case = Harp.parse_list("C, A, low A, F")
    found = choices_in(SongKey.parse("E"), case)
    assert [(each.harp.name, each.position.number) for each in found] == [
        ("A", 2), ("low A", 2), ("C", 5),
    ]  # fmt: skip
    assert choices_in(SongKey.parse("Ab"), case) == ()


def test_a_case_of_all_twelve_has_every_key_and_one_harp_six() -> None:
    """One harp is ready in 1st to 5th and 12th position, three of them in major."""
    full = keys_of_case(tuple(map(Harp, HARP_KEYS)))
    assert left_out_words(full) == ("Every key is there, major and minor.",)
    assert left_out_words(keys_of_case([Harp("C")])) == (
        "Not on these harps: major Db (C#), D, Eb (D#), E, F# (Gb), Ab (G#), A, Bb (A#), B; minor "
        "C, Db (C#), Eb (D#), F, F# (Gb), G, Ab (G#), Bb (A#), B.",
        "Only with care: major F; minor E.",
    )


# --- the key of a song as it is typed ---------------------------------------------------------

# Flats and sharps in the German way are music21's own (``Pitch.german``); H and B are read as
# harps are: B is B, because the package speaks English.
GERMAN = [
    (music21.pitch.Pitch(name).german, name)
    for name in ("C", "C#", "D-", "D", "D#", "E-", "E", "F", "F#", "G-", "G", "G#", "A-", "A")
]
SPELLED = [
    ("E", "E", ""), ("e", "E", ""), ("Em", "E", "minor"), ("e minor", "E", "minor"),
    ("EMINOR", "E", "minor"), ("E min", "E", "minor"), ("e-moll", "E", "minor"),
    ("E-Dur", "E", "major"), ("Emaj7", "E", "major"), ("E7", "E", ""), ("Em7", "E", "minor"),
    ("Bb", "B-", ""), ("bb", "B-", ""), ("B flat", "B-", ""), ("b-flat minor", "B-", "minor"),
    ("B\u266d", "B-", ""), ("bbm", "B-", "minor"), ("F sharp minor", "F#", "minor"),
    ("F#m", "F#", "minor"), ("F\u266f minor", "F#", "minor"), ("G blues", "G", "blues"),
    ("Bblues", "B", "blues"), ("the key of G", "G", ""), ("in Ab", "A-", ""),
    ("D dorian mode", "D", "dorian"), ("A natural minor", "A", "aeolian"),
    ("G# major", "A-", "major"), ("A# minor", "B-", "minor"), ("Cb", "B", ""),
    ("H", "B", ""), ("  E  ", "E", ""),
]  # fmt: skip


@together(("typed", "tonic", "kind"), SPELLED)
def test_a_key_is_read_as_players_type_it(typed: str, tonic: str, kind: str) -> None:
    song = SongKey.parse(typed)
    assert (song.name.replace("b", "-"), song.kind) == (tonic, kind)
    assert song.pitch_class == music21.pitch.Pitch(tonic).pitchClass


@together(("typed", "name"), GERMAN)
def test_a_key_is_read_in_german(typed: str, name: str) -> None:
    for said in (typed, f"{typed}-Dur", f"{typed.lower()}-moll", f"{typed}m"):
        assert SongKey.parse(said).pitch_class == music21.pitch.Pitch(name).pitchClass, said


def test_no_key_needs_more_than_six_sharps_or_flats() -> None:
    """``key.Key(tonic, mode).sharps`` of music21."""
    for letter, sign, kind in product("ABCDEFG", ("", "b", "#"), ("major", "minor", "dorian")):
        song = SongKey.parse(f"{letter}{sign} {kind}")
        assert abs(music21.key.Key(song.name.replace("b", "-"), kind).sharps) <= 6, song


EXAMPLE = 'Write for example: E, Bb, "F# minor" or "G blues".'
REFUSED = [
    ("", f"no key is named. {EXAMPLE}"),
    ("x", 'there is no key "x". Keys are A to G, alone or with flat or sharp. ' + EXAMPLE),
    ("E blus", f'there is no key "E blus". Did you mean "E blues"? {EXAMPLE}'),
    ("E mjaor", f'there is no key "E mjaor". Did you mean "E major"? {EXAMPLE}'),
    ("Ebb", f'there is no key "Ebb". {EXAMPLE}'),
    ("EM", '"EM" may be major or minor. Write E for major, Em for minor.'),
    ("C D", '"C D" is several keys. Write commas between them: C, D'),
    ("2nd", f'"2nd" is a position, and a key is a note. {EXAMPLE}'),
    (
        "low F",
        '"low F" is a harp, not the key of a song. For a song in F write F.',
    ),
    (
        "low x",
        f'"low x" is a harp, not the key of a song. {EXAMPLE}',
    ),
]


@together(("typed", "message"), REFUSED)
def test_what_is_not_a_key_is_told_what_to_write(typed: str, message: str) -> None:
    with pytest.raises(InputError) as refused:
        SongKey.parse(typed)
    assert str(refused.value) == message
