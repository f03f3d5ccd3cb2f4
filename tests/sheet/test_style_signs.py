"""Several holes, quarter tones and marks of style on a sheet: heads, rows, map, ladder and key."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from held_together import all_of_it, on_a_harp
from reedmill.score.notation import bars, staff_pitch
from reedmill.score.score import Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.harp_map import harp_map, map_height
from reedmill.sheet.hole_row import tab_extent, tab_mark
from reedmill.sheet.look import Look
from reedmill.sheet.music import music
from reedmill.sheet.page import pages
from reedmill.sheet.pitch_ladder import LadderFigure, ladder_figure
from reedmill.sheet.style_signs import key_phrases, sign_key, signs_over
from reedmill.theory.pitch import Pitch
from together import together

SVG = "{http://www.w3.org/2000/svg}"


def staff_of(play: str, harp: str = "C", show: str = "both") -> str:
    """The staff as LilyPond input without its marks, the rows left out."""
    text = music(on_a_harp(play, harp), show=show).split("\\new Lyrics")[0]
    return re.sub(r"\s+", " ", re.sub(r"\^ \\markup .*", "", text))


# In LilyPond's English names, by hand from the layout of a C harp: draw 1 to 4 are D G B D.
STAVES = {
    "a third": ("-2&3:4", "<g' b'>1"),
    "an octave": ("-1&4:4", "<d' d''>1"),
    "a quarter tone": ("-3q:4", "bqf'1"),
    "three quarters of a tone": ("-3'q:4", "btqf'1"),
    "a quarter tone under a sharp": ("-2'q:4", "fqs'1"),
}


@together(("play", "heads"), STAVES.values())
def test_holes_are_heads_of_one_chord_in_their_spelling(play: str, heads: str) -> None:
    assert f" {heads} " in staff_of(play)


def test_on_a_single_line_a_chord_has_one_head() -> None:
    """All of them would stand on one another."""
    assert " b'1 " in staff_of("-2&3:4", show="tab")


def test_what_sounds_on_through_a_lift_is_tied_and_no_line_leads_to_it() -> None:
    staff = staff_of("-4:2~-1&2&3&4 r | 1&4:2~4 r | -3'~-3~-2&3 r |")
    assert re.findall(r"(\S+) ~", staff) == ["d''2", "c''>2", "b'4"]
    assert staff.count("\\glissando") == 1  # of -3'~-3 alone


pitches = st.builds(
    Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(1, 7), st.booleans()
)


@given(pitches)
def test_a_staff_has_a_sign_for_every_quarter_tone(pitch: Pitch) -> None:
    """Signs lower by three quarters of a tone at the most; the pitch remains what it is."""
    shown = staff_pitch(pitch)
    assert (shown.midi, shown.quarter) == (pitch.midi, pitch.quarter)
    assert not shown.quarter or shown.alter - 0.5 >= -1.5
    assert shown == pitch or (pitch.quarter and pitch.alter == -2)


@pytest.fixture(scope="module")
def heads() -> list[dict[str, str]]:
    """Every named head of the drill with everything, as LilyPond drew it."""
    with Engraver(svg=True) as engraver:
        engraver.feed(pages([all_of_it()], Look(), ids=True))
        [sheet] = engraver.pictures(1, "svg")
    return [
        {**each.attrib, "y": _height(each)}
        for page in sheet
        for each in ET.fromstring(page).iter(f"{SVG}g")  # noqa: S314  our own file
        if "data-hole" in each.attrib
    ]


def _height(head: ET.Element) -> str:
    moved = re.search(r"translate\([\d.]+, ([\d.]+)\)", head[0].attrib["transform"])
    assert moved
    return moved[1]


def test_every_head_of_a_chord_says_its_hole_and_has_an_id_of_its_own(
    heads: list[dict[str, str]],
) -> None:
    found = [(int(each["data-hole"]), each["data-breath"], each["data-bend"]) for each in heads]
    assert sorted(found) == sorted(
        (reed.hole, reed.breath.value, f"{reed.bend}.5" if reed.quarter else str(reed.bend))
        for note in all_of_it().notes
        for reed in note.reeds
    )
    names = [each["id"] for each in heads]
    assert len(set(names)) == len(names)
    assert {"note-1", "note-1-hole-1", "note-8", "note-8-hole-1", "note-8-hole-2"} <= set(names)


def test_the_named_head_of_a_chord_is_the_one_it_says(heads: list[dict[str, str]]) -> None:
    """Draw 2 and 3 are a third: one staff space apart, the higher hole above."""
    [low] = [float(each["y"]) for each in heads if each["id"] == "note-2-hole-2"]
    [high] = [float(each["y"]) for each in heads if each["id"] == "note-2"]
    assert low - high == pytest.approx(1.0)


def marks_of(score: Score) -> list[list[str]]:
    """The signs over each written head, the lowest first."""
    return [signs_over(each) for bar in bars(score) for each in bar if each.note]


# Over the first head stands how a note begins, over the last how it ends.
SIGNS = {
    "each mark by its word": ("slap -2 vibrato4 -3 shake3 -4&5 -2", [["slap"], ["vibrato4"],
                              ["shake3"], []]),
    "a slow slide": ("-3 ~:2 -3'':3", [[], ["~:2"]]),
    "a tie": ("scoop fall -4:6 r:2", [["scoop"], ["fall"]]),
    "a vibrato over a tie": ("vibrato4 -4:6 r:2", [["vibrato4"], []]),
}  # fmt: skip


@together(("play", "signs"), SIGNS.values())
def test_signs_stand_over_the_head_they_shape(play: str, signs: list[list[str]]) -> None:
    assert marks_of(on_a_harp(play)) == signs


@pytest.mark.parametrize("show", ["both", "tab", "notation"])
def test_every_look_of_the_music_has_every_sign(show: str) -> None:
    """Words are letters there; drawn signs are lines that a plain drill has none of."""
    text = music(all_of_it(), show=show)
    for word in ("slap", "pull", "mute", "~:2"):
        assert f'"{word}"' in text
    assert text.count("\\markup \\overlay { \\translate #'(0.65") == sum(
        bool(each) for each in marks_of(all_of_it())
    )


def squares(mark: str) -> int:
    """Filled shapes with four sharp corners."""
    return len(re.findall(r"\(moveto [^)]*\) (\(lineto [^)]*\) ){3}\(closepath", mark))


# The numbers from left to right, and the holes that the tongue covers.
HOLES = {
    "-2&3:4": (["2", "3"], 0), "-1&4:4": (["1", "4"], 2), "7&10:4": (["7", "10"], 2),
    "-1&5:4": (["1", "5"], 3), "1&2&3&4&5:4": (["1", "2", "3", "4", "5"], 0),
}  # fmt: skip


@together(("play", "holes", "covered"), [(play, *row) for play, row in HOLES.items()])
def test_holes_stand_side_by_side_with_a_square_for_each_under_the_tongue(
    play: str, holes: list[str], covered: int
) -> None:
    [note] = on_a_harp(play).notes
    mark = tab_mark(1.0, 1.0, 1.0, note)
    assert re.findall(r'"(\d+)"', mark) == holes
    places = [float(x) for x in re.findall(r"\(([-\d.]+) \. 0\) \\center-align \\bold", mark)]
    assert places == sorted(places)
    assert squares(mark) == covered
    left, right = tab_extent(note)
    assert left >= -places[0]
    assert right >= places[-1]


def test_a_hole_alone_takes_the_room_it_always_had() -> None:
    """Half a digit of 1.55 at each side, and a tick of 1.0 for each semitone."""
    assert [tab_extent(note) for note in on_a_harp("-3 -3'' 10").notes] == [
        pytest.approx((0.775, 0.775)), pytest.approx((0.775, 2.775)), pytest.approx((1.55, 1.55)),
    ]  # fmt: skip


def test_the_map_has_a_row_of_quarter_tones_where_the_drill_has_some() -> None:
    plain, shaded = on_a_harp("-3 -3'"), on_a_harp("-3 -3q -3' 8q")
    assert "\u00bd" not in harp_map(plain, 100)
    assert harp_map(shaded, 100).count("bend \u00bd") == 2  # one of draw 3, one of blow 8
    row = map_height(on_a_harp("-3q")) - map_height(plain)
    assert map_height(shaded) - map_height(plain) == pytest.approx(2 * row)


def test_the_map_fills_all_holes_of_a_chord() -> None:
    """What a drill uses is printed in the colour of the paper on a filled ground."""

    def filled(play: str) -> int:
        return len(re.findall(r"\\with-color #paperColour \\bold", harp_map(on_a_harp(play), 100)))

    assert [filled(play) for play in ("-2", "-2&3&4", "-2 -2&3")] == [1, 3, 2]


def ladders(play: str, width: float = 100.0) -> LadderFigure:
    found = ladder_figure(on_a_harp(play), width)
    assert found is not None
    return found


def test_the_ladder_is_of_a_bent_hole_in_a_chord_and_has_quarter_rungs() -> None:
    assert ladders("-2&3 ~-2'&3 -4").holes == (2,)
    shaded = ladders("-3 -3q -3'")
    assert '"-3q"' in shaded.drawn()
    assert '"-3q"' not in ladders("-3 -3'").drawn()
    assert shaded.height > ladders("-3 -3'").height


def test_each_hole_that_is_bent_has_a_ladder_as_far_as_the_page_is_wide() -> None:
    """The widths are those of A4, of A4 in large print and of half a page, in staff spaces."""
    play = "-4 -4' -3 -3' -3'' 8' -2 -2'"
    assert ladders(play).holes == (2, 3, 4)  # of hole 3 most, and of the others the lowest
    assert ladders(play, 84.4).holes == (2, 3)
    assert ladders(play, 50.0).holes == (3,)
    drawn = ladders(play).drawn()
    assert [f"hole {hole} draw" in drawn for hole in (2, 3, 4, 8)] == [True, True, True, False]
    assert ladder_figure(on_a_harp("-5 -4"), 100.0) is None


def test_the_key_explains_the_signs_a_sheet_has_and_no_others() -> None:
    assert sign_key(on_a_harp("-2 -3' 4"), 100) == key_phrases(on_a_harp("-2 -3' 4")) == []
    [key] = sign_key(on_a_harp("vibrato3 -4 slap -2"), 100)
    assert '"  vibrato: 3 waves a beat"' in key
    assert '"  a chord for an instant, then the note"' in key
    assert not re.search("shake|scoop|tongue|quarter", key)
    assert len(key_phrases(all_of_it())) == 11
