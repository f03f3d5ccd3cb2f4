"""The harp: its reeds, bends and overbends, names, and what it refuses."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import music21
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oracles import degree_by_spelling
from reedmill.base.errors import InputError
from reedmill.harp import (
    HARP_KEYS,
    HOLES,
    LAYOUTS,
    RICHTER,
    Breath,
    Harp,
    Layout,
    Reed,
    ReedKind,
    bend_depth,
    bending_breath,
    layout_named,
    note_on_harp,
    overbend,
)
from reedmill.harp.habits import in_our_tab, tab_suggestion
from reedmill.theory.positions import Position

# The sequence A291810 in the On-Line Encyclopedia of Integer Sequences: semitones above
# hole 1 blow, blow and draw in turn from hole 1.
A291810 = [0, 2, 4, 7, 7, 11, 12, 14, 16, 17, 19, 21, 24, 23, 28, 26, 31, 29, 36, 33]

# Hole 1 blow: a C harp starts at middle C, harps in G to B lie below it and Db to F#
# above (encyclopaedia articles on the Richter-tuned harmonica); low and high harps are an
# octave away (common practice, no published source).  In music21's names.
HOLE_1 = {
    "G": "G3", "Ab": "A-3", "A": "A3", "Bb": "B-3", "B": "B3", "C": "C4", "Db": "D-4",
    "D": "D4", "Eb": "E-4", "E": "E4", "F": "F4", "F#": "F#4",
    "low F": "F3", "low D": "D3", "low C": "C3", "high G": "G4",
}  # fmt: skip

every_layout = pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
every_harp = pytest.mark.parametrize("name", HOLE_1)


def in_music21(name: str) -> Any:
    """The music21 pitch of a name of ours, whose flats are b where music21 writes -."""
    return music21.pitch.Pitch(name.replace("b", "-"))


def published_semitones(reed: Reed) -> int:
    """Semitones over hole 1 blow: A291810 for natural notes; bends and overbends from it.

    A bend lowers by its semitones; an overbend sounds one semitone above the hole's
    higher reed (common practice, no published source).
    """
    pair = A291810[2 * reed.hole - 2 : 2 * reed.hole]
    return max(pair) + 1 if reed.over else pair[reed.breath is Breath.DRAW] - reed.bend


# --- every note of every harp ---


@every_harp
@pytest.mark.parametrize("number", range(1, 13))
def test_every_note_agrees_with_music21(name: str, number: int) -> None:
    """Key number, frequency (ISO 16), spelling and degree, bends and overbends included."""
    harp, position = Harp.parse(name), Position(number)
    lowest = in_music21(HOLE_1[name].replace("-", "b"))
    root = lowest
    for _ in range(number - 1):
        root = root.transpose("P5")
    tonic = position.key(harp.fifths).name
    assert in_music21(tonic).pitchClass == root.pitchClass
    reeds = harp.reeds()
    assert len(reeds) == 39  # 20 natural notes, 12 bends, 7 overbends
    for reed in reeds:
        note = note_on_harp(harp, position, reed)
        theirs = in_music21(note.pitch.name)
        assert note.midi == harp.midi(reed) == lowest.midi + published_semitones(reed)
        assert theirs.midi == note.midi
        assert note.hz() == pytest.approx(theirs.frequency, rel=1e-12)
        assert note.hz(442.0) == pytest.approx(theirs.frequency * 442 / 440, rel=1e-12)
        assert note.degree.name == degree_by_spelling(tonic, note.pitch.note)
        assert note.degree.semitones == (note.midi - root.midi) % 12


def test_the_notes_of_a_c_harp() -> None:
    """Encyclopaedia articles on the Richter-tuned harmonica print this table."""
    harp = Harp.parse("C")
    blow = [harp.own_name(Reed(hole, Breath.BLOW)).name for hole in HOLES]
    draw = [harp.own_name(Reed(hole, Breath.DRAW)).name for hole in HOLES]
    assert blow == ["C4", "E4", "G4", "C5", "E5", "G5", "C6", "E6", "G6", "C7"]
    assert draw == ["D4", "G4", "B4", "D5", "F5", "A5", "B5", "D6", "F6", "A6"]
    naturals = {harp.midi(reed) for reed in harp.reeds() if reed.kind is ReedKind.NATURAL}
    assert len(naturals) == 19
    assert harp.midi(Reed.parse("-2")) == harp.midi(Reed.parse("3"))


@every_harp
def test_a_harp_spells_its_notes_in_its_own_key(name: str) -> None:
    harp = Harp.parse(name)
    scale = music21.scale.MajorScale(HOLE_1[name].rstrip("0123456789"))
    letters = {p.name.replace("-", "b") for p in scale.getPitches()}
    naturals = [reed for reed in harp.reeds() if reed.kind is ReedKind.NATURAL]
    assert {harp.own_name(reed).note for reed in naturals} == letters


@given(st.sampled_from(HARP_KEYS), st.integers(1, 12), st.data())
def test_a_register_is_an_octave_and_nothing_else(key: str, number: int, data: Any) -> None:
    middle, position = Harp(key), Position(number)
    reed = data.draw(st.sampled_from(middle.reeds()))
    for register, semitones in (("low", -12), ("high", 12)):
        note, moved = (
            note_on_harp(middle, position, reed),
            note_on_harp(Harp(key, register), position, reed),
        )
        assert moved.midi == note.midi + semitones
        assert (moved.pitch.note, moved.degree) == (note.pitch.note, note.degree)


# Common practice, no published source.
ROLES = {
    ("C", 2, "-3 -3' -3'' -3'''"): "3 b3 2 b2",
    ("C", 1, "-3 -3' -3'' -3'''"): "7 b7 6 b6",
    ("C", 3, "-3'''"): "b5",
    ("C", 3, "-1 -4 -8"): "1 1 1",
    ("C", 2, "-2 3 -1 -4"): "1 1 5 5",
    ("C", 2, "-2 -2' -2''"): "1 7 b7",
    ("A", 2, "-2 -3' -4"): "1 b3 5",
    ("low F", 1, "1 2 3 4"): "1 3 5 1",
    ("C", 12, "-5 -7"): "1 #4",
    ("C", 5, "2 -5"): "1 b2",
}


@pytest.mark.parametrize(("harp", "number", "tabs", "degrees"), [(*k, v) for k, v in ROLES.items()])
def test_what_players_call_the_notes(harp: str, number: int, tabs: str, degrees: str) -> None:
    heard = [
        note_on_harp(Harp.parse(harp), Position(number), Reed.parse(tab)) for tab in tabs.split()
    ]
    assert [note.degree.name for note in heard] == degrees.split()


# --- bends and overbends ---


def pair(layout: Layout, hole: int) -> tuple[int, int]:
    """The hole's two notes, lower first."""
    low, high = sorted((layout.blow[hole - 1], layout.draw[hole - 1]))
    return low, high


def check_bends_and_overbends(layout: Layout) -> None:
    """Bahnson, Antaki and Beery (1998), J. Acoust. Soc. Am. 103(4), doi 10.1121/1.421359.

    A bend's pitch lies between the hole's two notes, an overbend's outside them.
    """
    harp = Harp("C", layout=layout)
    for reed in harp.reeds():
        low, high = pair(layout, reed.hole)
        above = harp.midi(reed) - 60
        if reed.kind is ReedKind.BEND:
            assert low < above < high
        elif reed.over:
            assert not low <= above <= high
        else:
            assert above in (low, high)


@every_layout
def test_bends_lie_between_the_two_notes_and_overbends_outside(layout: Layout) -> None:
    check_bends_and_overbends(layout)


ten_notes = st.tuples(*[st.integers(-12, 48)] * 10)
layouts = st.builds(Layout, st.just("any"), ten_notes, ten_notes)


@given(layouts)
def test_so_they_do_on_any_layout(layout: Layout) -> None:
    check_bends_and_overbends(layout)


@given(layouts, st.sampled_from(HOLES))
def test_bends_fill_the_gap_between_the_two_notes(layout: Layout, hole: int) -> None:
    low, high = pair(layout, hole)
    harp = Harp("C", layout=layout)
    bends = [harp.midi(r) - 60 for r in harp.reeds() if r.hole == hole and r.kind is ReedKind.BEND]
    assert bends == list(range(high - 1, low, -1))
    assert bend_depth(layout, hole) == len(bends)


def test_bend_depths_of_a_richter_harp() -> None:
    """Strictly between the two notes of OEIS A291810, on the grid of semitones."""
    between = [
        abs(b - d) - 1 if b != d else 0 for b, d in zip(A291810[::2], A291810[1::2], strict=True)
    ]
    assert between == [1, 2, 3, 1, 0, 1, 0, 1, 1, 2]  # common practice, no published source
    assert [bend_depth(RICHTER, hole) for hole in HOLES] == between
    bending = [bending_breath(RICHTER, hole) for hole in HOLES]
    assert bending == [Breath.DRAW] * 6 + [Breath.BLOW] * 4


def test_bends_leave_six_notes_and_overbends_give_them() -> None:
    """Three octaves in semitones over hole 1 blow, from OEIS A291810."""
    harp = Harp.parse("C")
    plain = {harp.midi(reed) - 60 for reed in harp.reeds(overbends=False)}
    assert set(range(37)) - plain == {3, 15, 18, 22, 25, 32}
    over = {harp.midi(reed) - 60 for reed in harp.reeds() if reed.over}
    assert over == {3, 15, 18, 22, 25, 32, 37}  # and one over the top of hole 10


def test_which_holes_overblow_and_which_overdraw() -> None:
    """Common practice, no published source."""
    over = [found for hole in HOLES if (found := overbend(RICHTER, hole))]
    assert [reed.tab for reed in over] == ["1^", "4^", "5^", "6^", "-7^", "-9^", "-10^"]
    kinds = [reed.kind for reed in over]
    assert kinds == [ReedKind.OVERBLOW] * 4 + [ReedKind.OVERDRAW] * 3


@every_layout
def test_a_harp_accepts_exactly_the_reeds_it_lists(layout: Layout) -> None:
    harp = Harp("C", layout=layout)
    every_reed = {
        Reed(hole, breath, bend, over)
        for hole in range(12)
        for breath in Breath
        for bend in range(5)
        for over in (False, True)
        if not (bend and over)
    }
    assert {reed for reed in every_reed if harp.refusal(reed) is None} == set(harp.reeds())


@given(layouts, st.sampled_from(HOLES), st.sampled_from(Breath), st.integers(1, 5))
def test_every_remedy_for_a_bend_can_be_played(
    layout: Layout, hole: int, breath: Breath, bend: int
) -> None:
    harp = Harp("C", layout=layout)
    refusal = harp.refusal(Reed(hole, breath, bend))
    if refusal is not None:
        tab = refusal[1].split("Write ")[1].split(" for ")[0]
        assert harp.refusal(Reed.parse(tab)) is None


# --- tab ---

reeds = st.builds(Reed, st.integers(0, 99), st.sampled_from(Breath), st.integers(0, 6),
                  st.booleans())  # fmt: skip


@given(reeds)
def test_parsing_tab_gives_the_reed_back(reed: Reed) -> None:
    assert Reed.parse(reed.tab) == reed


@pytest.mark.parametrize(
    ("tab", "reed", "kind", "words"),
    [
        ("-3", Reed(3, Breath.DRAW), ReedKind.NATURAL, "draw 3"),
        ("3", Reed(3, Breath.BLOW), ReedKind.NATURAL, "blow 3"),
        ("+3", Reed(3, Breath.BLOW), ReedKind.NATURAL, "blow 3"),
        ("-3'", Reed(3, Breath.DRAW, 1), ReedKind.BEND, "draw 3 bent a semitone"),
        ("10''", Reed(10, Breath.BLOW, 2), ReedKind.BEND, "blow 10 bent two semitones"),
        ("-3'''", Reed(3, Breath.DRAW, 3), ReedKind.BEND, "draw 3 bent three semitones"),
        ("6^", Reed(6, Breath.BLOW, 0, True), ReedKind.OVERBLOW, "overblow 6"),
        ("-7^", Reed(7, Breath.DRAW, 0, True), ReedKind.OVERDRAW, "overdraw 7"),
        ("-2'''''", Reed(2, Breath.DRAW, 5), ReedKind.BEND, "draw 2 bent 5 semitones"),
    ],
)
def test_tab(tab: str, reed: Reed, kind: ReedKind, words: str) -> None:
    assert Reed.parse(tab) == reed
    assert (reed.kind, reed.words) == (kind, words)


@pytest.mark.parametrize("tab", ["", "-", "three", "3 '", "'3", "--3", "100", "3^'", "3^^", "-3\n"])
def test_other_words_are_no_tab(tab: str) -> None:
    with pytest.raises(ValueError, match="not tab"):
        Reed.parse(tab)


# --- names of harps ---

NAMES = {
    "C": Harp("C"), "c": Harp("C"), " D ": Harp("D"), "Bb": Harp("Bb"), "bb": Harp("Bb"),
    "b": Harp("B"), "F#": Harp("F#"), "f#": Harp("F#"),
    "low F": Harp("F", "low"), "LOW f": Harp("F", "low"), "low-F": Harp("F", "low"),
    "low_f#": Harp("F#", "low"), "low   Eb": Harp("Eb", "low"), "High g": Harp("G", "high"),
    # The other name of the same key: music21's enharmonics, checked below.
    "G#": Harp("Ab"), "A#": Harp("Bb"), "C#": Harp("Db"), "D#": Harp("Eb"), "Gb": Harp("F#"),
    "Cb": Harp("B"), "low Gb": Harp("F#", "low"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "harp"), NAMES.items())
def test_names(text: str, harp: Harp) -> None:
    assert Harp.parse(text) == harp
    assert Harp.parse(harp.name) == harp
    written = text.replace("_", " ").replace("-", " ").split()[-1].capitalize()
    assert in_music21(written).pitchClass == in_music21(harp.key).pitchClass


# How players, makers and German speakers name the same harps: common practice, no
# published source.
SAID = {
    "B\N{MUSIC FLAT SIGN}": "Bb", "low F\N{MUSIC SHARP SIGN}": "low F#",
    "B flat": "Bb", "b Flat": "Bb", "F sharp": "F#", "Bb major": "Bb", "C maj": "C",
    "C harp": "C", "a harmonica": "A", "LF": "low F", "LF#": "low F#", "HG": "high G",
    "lo Bb": "low Bb", "L F": "low F", "Ab low": "low Ab", "D high": "high D", "Fis": "F#",
    "Es": "Eb", "As": "Ab", "Des": "Db", "Ges": "F#", "H": "B", "low Es": "low Eb", "LEs": "low Eb",
    "low B flat major harp": "low Bb",
    "C natural minor": "C natural minor", "low d country": "low D country",
    "C Natural-Minor": "C natural minor", "B flat richter": "Bb",
}  # fmt: skip


@pytest.mark.parametrize(("text", "name"), SAID.items())
def test_harps_as_people_call_them(text: str, name: str) -> None:
    assert Harp.parse(text).full_name == name
    assert Harp.parse(Harp.parse(text).full_name) == Harp.parse(text)


@pytest.mark.parametrize("text", ["Am", "A minor", "a min", "A moll"])
def test_a_minor_key_is_answered_with_the_harp_that_is_sold_by_it(text: str) -> None:
    """Natural minor harps are sold by the key of draw 2, a fifth over the blow chord."""
    with pytest.raises(InputError, match=r"is here: D natural minor$"):
        Harp.parse(text)


@pytest.mark.parametrize("key", HARP_KEYS)
def test_what_a_minor_key_is_answered_with_plays_in_it(key: str) -> None:
    """In cross harp, on the harp that is named, the music is in that key: music21 counts."""
    with pytest.raises(InputError) as caught:
        Harp.parse(f"low {key}m")
    named = Harp.parse(str(caught.value).partition("is here: ")[2])
    assert named.register == "low"
    played = named.key_in(Position(2))
    assert (played.mode, in_music21(played.name).pitchClass) == (
        "minor",
        in_music21(key).pitchClass,
    )


def test_several_harps_in_one_text() -> None:
    found = Harp.parse_list("A and low F, B flat & D", "a", "C")
    assert [each.name for each in found] == ["A", "low F", "Bb", "D", "C"]
    with pytest.raises(InputError, match=r"Write commas between several: A, D$"):
        Harp.parse("A D")


@pytest.mark.parametrize("layout", LAYOUTS.values(), ids=LAYOUTS)
@pytest.mark.parametrize("number", range(1, 13))
def test_the_mode_follows_the_natural_notes(layout: Layout, number: int) -> None:
    """Of all major and minor keys on the root, music21's own scales decide by their third."""
    on = Harp("C", layout=layout)
    naturals = {on.midi(reed) % 12 for reed in on.reeds(overbends=False) if not reed.bend}
    root = music21.pitch.Pitch("C").transpose(
        music21.interval.Interval("P5").semitones * (number - 1)
    )
    thirds = {
        mode: scale(root.name).pitchFromDegree(3).pitchClass in naturals
        for mode, scale in (
            ("major", music21.scale.MajorScale),
            ("minor", music21.scale.MinorScale),
        )
    }
    minor = root.pitchClass in naturals and thirds["minor"] and not thirds["major"]
    assert on.key_in(Position(number)).mode == ("minor" if minor else "major")


def test_a_natural_minor_harp_is_minor_in_1st_and_2nd_position() -> None:
    """That is what it is made for, and what it is sold by; common practice."""
    on = Harp("C", layout=LAYOUTS["natural-minor"])
    assert [on.key_in(Position(n)).label for n in (1, 2)] == ["C minor", "G minor"]
    assert on.label == "C natural minor harp"


def test_twelve_keys() -> None:
    assert {in_music21(key).pitchClass for key in HARP_KEYS} == set(range(12))


WAY_OUT = (
    "Harps are G, Ab, A, Bb, B, C, Db, D, Eb, E, F, F#; put low or high before one for an "
    "octave under or over."
)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("X", ""),
        ("", ""),
        ("lowF", ' Did you mean "low F"?'),
        ("Bbb", ' Did you mean "Bb"?'),
        ("low low F", ' Did you mean "low F"?'),
        ("C lydian", ""),
    ],
)
def test_other_words_are_no_harp(text: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        Harp.parse(text)
    assert str(caught.value) == f'there is no harp "{text}".{hint} {WAY_OUT}'


def test_a_register_alone_is_no_harp() -> None:
    with pytest.raises(InputError, match='there is no harp "low"'):
        Harp.parse("low")


# --- refusals, in full ---

OVERBENDS = "Overbends that give a note of their own are: 1^ 4^ 5^ 6^ -7^ -9^ -10^."
REFUSALS = [
    ("C", "0", "there is no hole 0", "A harp has holes 1 to 10."),
    ("C", "-11'", "there is no hole 11", "A harp has holes 1 to 10."),
    ("C", "99^", "there is no hole 99", "A harp has holes 1 to 10."),
    (
        "C", "-5'",
        "hole 5 draw does not bend a semitone on a Richter harp",
        "There is no note between draw 5 (F5 on a C harp) and blow 5 (E5 on a C harp).\n"
        "  Write -5 for draw 5 (F5 on a C harp).",
    ),
    (
        "C", "5'",
        "hole 5 blow does not bend a semitone on a Richter harp",
        "There is no note between draw 5 (F5 on a C harp) and blow 5 (E5 on a C harp).\n"
        "  Write 5 for blow 5 (E5 on a C harp).",
    ),
    (
        "low F", "7''",
        "hole 7 blow does not bend a semitone on a Richter harp",
        "There is no note between blow 7 (F5 on a low F harp) and draw 7 (E5 on a low F harp).\n"
        "  Write 7 for blow 7 (F5 on a low F harp).",
    ),
    (
        "C", "3'",
        "hole 3 blow does not bend on a Richter harp",
        "Only the higher reed of a hole bends down: here draw 3 (B4 on a C harp), "
        "not blow 3 (G4 on a C harp).\n"
        "  Write -3' for draw 3 bent a semitone (Bb4 on a C harp).",
    ),
    (
        "Eb", "-10'''",
        "hole 10 draw does not bend on a Richter harp",
        "Only the higher reed of a hole bends down: here blow 10 (Eb7 on an Eb harp), "
        "not draw 10 (C7 on an Eb harp).\n"
        "  Write 10'' for blow 10 bent two semitones (Db7 on an Eb harp).",
    ),
    (
        "G", "-2'''",
        "-2''' bends too far: draw 2 bends at most 2 semitones",
        "A bend stops a semitone above the hole's other reed: here draw 2 (D4 on a G harp) "
        "and blow 2 (B3 on a G harp).\n"
        "  Write -2'' for draw 2 bent two semitones (C4 on a G harp).",
    ),
    ("C", "2^", "2^ cannot be played: hole 2 has no overblow on a Richter harp", OVERBENDS),
    ("C", "-6^", "-6^ cannot be played: hole 6 has no overdraw on a Richter harp", OVERBENDS),
    ("C", "-8^", "-8^ cannot be played: hole 8 has no overdraw on a Richter harp", OVERBENDS),
]  # fmt: skip


@pytest.mark.parametrize(("harp", "tab", "fact", "remedy"), REFUSALS)
def test_refusals_in_full(harp: str, tab: str, fact: str, remedy: str) -> None:
    assert Harp.parse(harp).refusal(Reed.parse(tab)) == (fact, remedy)


def test_refusals_name_another_tuning() -> None:
    harp = Harp.parse("C", layout_named("country"))
    assert harp.refusal(Reed.parse("-5'")) is None  # raised a semitone, it bends
    refusal = harp.refusal(Reed.parse("-7'"))
    assert refusal is not None
    assert refusal[0] == "hole 7 draw does not bend a semitone on a country harp"


# --- tunings ---


def test_the_richter_layout_is_the_published_one() -> None:
    assert list(RICHTER.blow) == A291810[::2]
    assert list(RICHTER.draw) == A291810[1::2]


def test_other_tunings_against_the_richter_harp() -> None:
    """Common practice, no published source: which reeds are moved, and by how much."""

    def moved(name: str) -> dict[str, int]:
        other, plain = Harp("C", layout=layout_named(name)), Harp("C")
        naturals = [Reed(hole, breath) for hole in HOLES for breath in Breath]
        steps = {reed.tab: other.midi(reed) - plain.midi(reed) for reed in naturals}
        return {tab: step for tab, step in steps.items() if step}

    assert moved("country") == {"-5": 1}
    assert moved("natural-minor") == {"2": -1, "-3": -1, "5": -1, "-7": -1, "8": -1}


ROWS = "blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 36]\ndraw = [2, 7, 11, 14, 17, 21, 23, 26, 29, 34]"


def test_a_tuning_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "my tuning.toml"
    path.write_text(ROWS)
    layout = layout_named(str(path))
    assert layout.name == "my tuning"
    assert layout.blow == (0, 4, 7, 12, 16, 19, 24, 28, 31, 36)
    assert layout.draw == (2, 7, 11, 14, 17, 21, 23, 26, 29, 34)
    assert bend_depth(layout, 10) == 1


def test_the_name_of_a_tuning_is_printable(tmp_path: Path) -> None:
    path = tmp_path / "a\x1bb.toml"
    path.write_text(ROWS)
    assert layout_named(str(path)).name == "a[U+001B]b"


def test_an_unknown_tuning() -> None:
    with pytest.raises(InputError) as caught:
        layout_named("richtr")
    assert str(caught.value) == (
        'there is no tuning "richtr". Did you mean "richter"? Choose from: '
        f"{', '.join(LAYOUTS)}, or give a .toml file with your own."
    )


def row_message(breath: str, value: str) -> str:
    return (
        f'"{breath}" needs ten whole numbers from -12 to 48, semitones above hole 1 blow, '
        f"one for each hole; this file has {value}."
    )


NINE = "[0, 1, 2, 3, 4, 5, 6, 7, 8]"
BAD_FILES = {
    "nothing in it": (b"", row_message("blow", "no such row")),
    "nine holes": (f"blow = {NINE}".encode(), row_message("blow", NINE)),
    "no draw": (ROWS.splitlines()[0].encode(), row_message("draw", "no such row")),
    "text": (b"blow = 'low'", row_message("blow", "'low'")),
    "fractions": (
        b"blow = [0.5, 4, 7, 12, 16, 19, 24, 28, 31, 36]",
        row_message("blow", "[0.5, 4, 7, 12, 16, 19, 24, 28, 31, 36]"),
    ),
    "true is not a number": (
        b"blow = [true, 4, 7, 12, 16, 19, 24, 28, 31, 36]",
        row_message("blow", "[True, 4, 7, 12, 16, 19, 24, 28, 31, 36]"),
    ),
    "too high": (
        b"blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 49]",
        row_message("blow", "[0, 4, 7, 12, 16, 19, 24, 28, 31, 49]"),
    ),
    "long values are cut to 80 characters": (
        b"blow = '" + b"x" * 500 + b"'", row_message("blow", "'" + "x" * 79)
    ),
}  # fmt: skip


@pytest.mark.parametrize(("content", "message"), BAD_FILES.values(), ids=BAD_FILES)
def test_files_that_are_no_tuning(content: bytes, message: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        layout_named(str(path))
    assert str(caught.value) == f"{path}: {message}"


AS_WRITTEN = "Write a tuning as two rows of ten whole numbers: blow = [0, 4, 7, 12,"
NO_TOML = {
    "unclosed": (b"blow = [\n", ":2:1: a list is not closed", AS_WRITTEN),
    "not UTF-8": (b"\xff\xfe", ":1:1: this is not UTF-8 text: byte 0xFF", "Save the file again"),
    "not TOML": (b"no toml", ":1:4: there is a word here without an equals sign", AS_WRITTEN),
    # seven letters and signs, then the 65th bracket
    "nested without end": (b"blow = " + b"[" * 10_000, ":1:72: brackets stand inside", AS_WRITTEN),
    "a name of 2,000 dots": (
        b"a" + b".a" * 2_000 + b" = 1", ":1:34: a name here has more than 16 dots", AS_WRITTEN
    ),
    "a number without end": (
        b"a = " + b"9" * 5_000, ":1:5: this number has too many digits", AS_WRITTEN
    ),
    "too large": (b"#" * 20_001, ": this file is larger than 20 kB.", "A tuning is two rows"),
}  # fmt: skip


@pytest.mark.parametrize(("content", "said", "remedy"), NO_TOML.values(), ids=NO_TOML)
def test_files_that_are_not_toml(content: bytes, said: str, remedy: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        layout_named(str(path))
    assert str(caught.value).startswith(f"{path}{said}")
    assert remedy in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    missing, folder = tmp_path / "none.toml", tmp_path / "folder.toml"
    folder.mkdir()
    for path, reason in ((missing, "it is not there"), (folder, "it is a folder")):
        with pytest.raises(InputError) as caught:
            layout_named(str(path))
        assert str(caught.value).startswith(f"{path}: cannot read this file: {reason}. ")
    with pytest.raises(InputError, match=r"a\[U\+0000\]b\.toml"):
        layout_named("a\0b.toml")


# --- tab as others write it ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "ours"),
    [
        ("4", []),  # is ours already
        ("-3'", []),
        ("play", []),
        ("3bbbbb", []),
        ("-3bb", ["-3''"]),
        ("3bb", ["-3''"]),  # hole 3 bends on the draw
        ("8b", ["8'", "8"]),  # one flat, or b for blow
        ("D4", ["-4"]),
        ("4B", ["4"]),
        ("6o", ["6^"]),
        ("7o", ["-7^"]),  # hole 7 bends on the blow, so it overbends on the draw
        ("\u21935'", ["-5'"]),
        ("11b", ["11"]),  # no such hole, but its breath is read
        ("D12", ["-12"]),
    ],
)
def test_other_ways_of_writing_tab_are_answered_in_ours(word: str, ours: list[str]) -> None:
    """Common practice: flats for bends, o for overblows, letters or arrows for the breath."""
    assert [reed.tab for reed in in_our_tab(word)] == ours


def test_what_is_not_tab_in_any_way_has_no_answer() -> None:
    assert tab_suggestion("play") == ""
    assert tab_suggestion("11o") == ""
    assert tab_suggestion("-3b") == "Write -3' for draw 3 bent a semitone."


# --- reeds in a row, and what the harp itself calls them --------------------------------------


def test_reeds_are_named_with_spaces_or_commas_between() -> None:
    reeds = Harp.parse("C").reeds_named(" 1 -3'',6^,  10'' ")
    assert [reed.tab for reed in reeds] == ["1", "-3''", "6^", "10''"]


@pytest.mark.parametrize(
    ("tab", "told"),
    [
        ("4 -5'", "hole 5 draw does not bend a semitone"),
        ("4 x", '"x" is not a reed. Write -3 for draw 3'),
        ("4 -3bb", "\"-3bb\" is not a reed. Write -3'' for draw 3"),
    ],
)
def test_a_word_that_is_not_a_reed_of_the_harp_is_refused(tab: str, told: str) -> None:
    with pytest.raises(InputError, match=re.escape(told)):
        Harp.parse("C").reeds_named(tab)


@pytest.mark.parametrize("harp", ["C", "D", "A", "Bb", "low F"])
@pytest.mark.parametrize(
    ("tab", "interval"), [("-2'", "d5"), ("-3'", "m7"), ("-3", "M7"), ("2", "M3")]
)
def test_a_harp_names_its_reeds_as_degrees_of_its_own_key(
    harp: str, tab: str, interval: str
) -> None:
    """In first position draw 2 bent is a flat five, draw 3 bent a flat seven."""
    tonic = Harp.parse(harp).key.replace("b", "-")
    expected = music21.pitch.Pitch(tonic).transpose(interval).name.replace("-", "b")
    named = Harp.parse(harp).own_name(Reed.parse(tab)).name
    assert named.rstrip("0123456789") == expected
