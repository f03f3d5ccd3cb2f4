"""A player's own harp: its file is read back as it was written, and refused value by value."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill import api
from reedmill.base.errors import InputError, PatternError
from reedmill.harp import HOLES, Breath, Harp, OwnHarp, OwnReeds, Reed
from reedmill.harp.own_harp import own_harp_text, read_own_harp

NATURALS = [Reed(hole, breath) for hole in HOLES for breath in Breath]
HEAD = 'harp = "C"\ntuning = "richter"\nreference = 441\n[cents]\n'


def kept(folder: Path, text: str) -> Path:
    path = folder / "mine.toml"
    path.write_text(text, "utf-8")
    return path


cents = st.floats(-60, 60).map(lambda value: round(value, 1))


@given(
    st.fixed_dictionaries(dict.fromkeys(NATURALS, cents)),
    st.sampled_from(["C", "low F", "Bb"]),
    st.floats(391, 489).map(lambda hz: round(hz, 1)),
)
def test_a_harp_is_read_back_as_it_was_kept(
    tmp_path_factory: pytest.TempPathFactory, out: dict[Reed, float], harp: str, hz: float
) -> None:
    own = OwnHarp(harp, "richter", hz, OwnReeds.of("mine", out))
    read = read_own_harp(kept(tmp_path_factory.mktemp("harp"), own_harp_text(own)))
    assert (read.harp, read.tuning, read.reference_hz) == (harp, "richter", hz)
    assert {reed: read.reeds.cents(reed) for reed in NATURALS} == pytest.approx(out)


def test_a_reed_that_is_not_named_is_in_its_place(tmp_path: Path) -> None:
    reeds = read_own_harp(kept(tmp_path, HEAD + '"-3" = -12.5\n')).reeds
    assert [reeds.cents(reed) for reed in NATURALS if reeds.cents(reed)] == [-12.5]


@pytest.mark.parametrize(
    ("tab", "follows"),
    [("-3'''", "-3"), ("-4'", "-4"), ("8'", "8"), ("10''", "10"), ("6^", "-6"), ("-7^", "7")],
)
def test_a_bend_follows_its_reed_and_an_overbend_the_one_it_sounds_above(
    tab: str, follows: str
) -> None:
    """An overblow opens the draw reed (Bahnson, Antaki and Beery, JASA 103(4), 1998)."""
    reeds = OwnReeds.of("mine", {Reed.parse(follows): 17.0})
    assert reeds.cents(Reed.parse(tab)) == 17


def test_the_notes_of_a_drill_follow_the_reeds() -> None:
    [drill] = api.find_drills("Home from every rung")
    own = OwnHarp("C", "richter", 440.0, OwnReeds.of("mine", {Reed.parse("-3"): 30.0}))
    plain, moved = (
        api.expand(drill, harp, api.Position(2)) for harp in (Harp("C"), Harp("C").kept(own))
    )
    for before, after in zip(plain.notes, moved.notes, strict=True):
        up = 30 if before.reed.hole == 3 else 0
        assert after.hz == pytest.approx(before.hz * 2 ** (up / 1200), rel=1e-12)


WRONG = [
    ("[cents]\n\"1\" = 0\n", '"harp" is missing', 1, 1,
     'Write for example: harp = "C"'),
    (HEAD.replace('"C"', '"H flat flat"') + '"1" = 0', 'there is no harp "H flat flat"', 1, 8, ""),
    (HEAD.replace("441", "4410") + '"1" = 0', '"reference" cannot be 4410', 3, 13,
     "Write A4 in Hz, from 390 to 490."),
    (HEAD.replace("441", "true") + '"1" = 0', '"reference" cannot be True', 3, 13,
     "Write A4 in Hz, from 390 to 490."),
    (HEAD + '"1" = 0\n"11" = 3\n', '"11" is not a natural note of a harp', 6, 1,
     'Write "1" to "10" for the blows and "-1" to "-10" for the draws. Did you mean "1"?'),
    (HEAD + '"-3\'" = 3\n', '"-3\'" is not a natural note of a harp', 5, 1,
     'Write "1" to "10" for the blows and "-1" to "-10" for the draws. Did you mean "-3"?'),
    (HEAD + '"-3" = 61\n', "a reed cannot be 61 cents from its place", 5, 8,
     "Write a number from -60 to 60; a reed further off is another note, or broken."),
    (HEAD + '"-3" = nan\n', "a reed cannot be nan cents from its place", 5, 8,
     "Write a number from -60 to 60; a reed further off is another note, or broken."),
    (HEAD + '"-3" = "12"\n', 'a reed cannot be "12" cents from its place', 5, 8,
     "Write a number from -60 to 60; a reed further off is another note, or broken."),
    (HEAD.replace("reference", "referenz") + '"1" = 0', '"referenz" is not known here', 3, 1,
     'A harp has harp, tuning, reference and cents. Did you mean "reference"?'),
    (HEAD, '"cents" cannot be {}', 4, 1,
     'Write a heading [cents] and under it lines like "-3" = 4'),
    (HEAD + '"1" 4\n', "there is a word here without an equals sign", 5, 5,
     'Write a harp as: harp = "C", tuning = "richter", reference = 440, and under [cents] a line '
     'for each reed: "-3" = -12.5'),
]  # fmt: skip


@pytest.mark.parametrize(("text", "fact", "line", "column", "remedy"), WRONG)
def test_a_wrong_value_is_shown_where_it_is(
    tmp_path: Path, text: str, fact: str, line: int, column: int, remedy: str
) -> None:
    path = kept(tmp_path, text)
    with pytest.raises(PatternError) as caught:
        read_own_harp(path)
    error = caught.value
    assert error.lines[0] == f"{path}:{line}:{column}: {fact}"
    if text.count("\n") > 3:
        assert error.lines[2].rstrip("^").endswith(" " * column) or column == 1
        assert "^" in error.lines[2]
    assert not remedy or error.remedy == remedy


@pytest.mark.parametrize(
    ("name", "layout", "told"),
    [
        ("A", "richter", "this file is of a harp in C, and one in A is asked for"),
        ("C", "country",
         'this file is of a harp with the tuning "richter", and "country" is asked for'),
    ],
)  # fmt: skip
def test_another_harp_than_the_one_that_was_measured_is_refused(
    tmp_path: Path, name: str, layout: str, told: str
) -> None:
    own = read_own_harp(kept(tmp_path, HEAD + '"1" = 0\n'))
    with pytest.raises(PatternError) as caught:
        Harp.parse(name, api.layout_named(layout)).kept(own)
    assert caught.value.fact == told
    assert "^^^" in str(caught.value)


def test_a_file_of_another_kind_is_called_what_it_is(tmp_path: Path) -> None:
    path = kept(tmp_path, "blow = [0]\n")
    with pytest.raises(InputError, match=r"this is a tuning .*, not a harp of your own"):
        read_own_harp(path)
    path.write_text("harp = 1\n" + "# " + "x" * 30_000, "utf-8")
    with pytest.raises(InputError, match="larger than 20 kB"):
        read_own_harp(path)
    with pytest.raises(InputError, match=r"this is a harp of your own .*, not a tuning"):
        api.layout_named(str(path))


def test_a_hostile_name_is_fit_to_be_read() -> None:
    reeds = OwnReeds.of("x\x1b[31m\n", {})
    assert reeds.name == "x[U+001B][31m "
