"""The shipped forms and feels together: what every one of them has, and what they cover.

How players lean and how fast a style is played are common practice; there is no published source.
"""

from __future__ import annotations

from itertools import product

import pytest

from reedmill.band.feel import GHOST, BandFeel, Layers
from reedmill.band.shelf import shipped_feels, shipped_forms
from reedmill.library import whole_library
from reedmill.score.arrangement import Part
from reedmill.theory.meter import Meter

FORMS, FEELS = shipped_forms(), shipped_feels()
ABOUT = {form.title: form.about for form in FORMS} | {feel.title: feel.about for feel in FEELS}
FOUR = Meter(4, 4)
TEMPI = range(40, 241)  # from the slowest ballad to the fastest two-beat

every_feel = pytest.mark.parametrize("feel", FEELS, ids=lambda feel: feel.title)


def tempi(feel: BandFeel) -> range:
    assert feel.tempo_goal_bpm is not None, feel.title
    return range(feel.tempo_bpm, feel.tempo_goal_bpm + 1)


@every_feel
def test_every_player_has_ways_to_choose_from_and_plays_by_mood(feel: BandFeel) -> None:
    assert max(len(feel.bass.even), len(feel.comp.even)) >= 2
    assert feel.bass.quiet
    for player in (feel.comp, feel.drums, feel.fills):
        assert player.even
        assert player.quiet
        assert player.full
    assert 2 <= len(feel.fills.even) <= 3


@every_feel
def test_the_drums_are_softer_in_a_quiet_chorus_and_busier_in_a_full_one(feel: BandFeel) -> None:
    def struck(layers: Layers) -> float:
        """The velocities of a bar together, as a measure of how much there is to hear."""
        loud = feel.loud(Part.DRUMS)
        return sum(
            sum(loud + stroke.louder for bar in layer for stroke in bar) / len(layer)
            for layer in layers
        )

    drums = feel.drums
    quiet, even, full = (struck(ways[0]) for ways in (drums.quiet, drums.even, drums.full))
    assert quiet < even < full


@every_feel
def test_players_lean_and_drift_as_people_do(feel: BandFeel) -> None:
    """Up to 40 ms: what is later than that is heard as a mistake (common practice)."""
    assert feel.leans
    assert all(0 < abs(lean.late_ms) <= 40 for lean in feel.leans)
    assert 0 < feel.timing_ms <= 40
    assert feel.velocity > 0
    assert feel.accents
    played = [stroke for ways in feel.drums for layer in ways for bar in layer for stroke in bar]
    assert any(stroke.louder == GHOST for stroke in played)


@pytest.mark.parametrize("swung", [False, True], ids=["straight", "swung"])
def test_there_is_a_feel_in_four_for_every_tempo(swung: bool) -> None:
    for tempo in TEMPI:
        fitting = [
            feel.title
            for feel in FEELS
            if feel.meter == FOUR and (feel.swing > 1) == swung and tempo in tempi(feel)
        ]
        assert fitting, tempo


def test_every_drill_has_a_feel_of_its_meter_at_every_tempo_it_is_practised_at() -> None:
    for drill in [shelved.drill for shelved in whole_library()]:
        ends = (drill.tempo_bpm, drill.tempo_goal_bpm or drill.tempo_bpm)
        for tempo in ends:
            assert any(
                feel.meter == (drill.meter or FOUR) and tempo in tempi(feel) for feel in FEELS
            ), (drill.title, drill.meter, tempo)


def test_every_form_says_how_it_comes_home_and_goes_round() -> None:
    """A vamp goes round by itself, and one chord needs no ending."""
    for form in FORMS:
        [*_, last] = form.chorus(last=True)
        assert last[-1].chord.root.semitones == 0, form.title
        assert form.ending or form.title == "One chord"
        goes_round = form.bars[-1][-1].chord.root.semitones != 0  # it leads on by itself
        vamp = len(set(form.bars)) <= 4
        assert form.turnaround or goes_round or vamp, form.title


def test_every_sentence_fits_a_line_of_the_list_in_eighty_columns() -> None:
    assert [title for title, about in ABOUT.items() if len(about) > 76] == []


def test_every_title_is_told_from_every_other() -> None:
    titles = [title.casefold() for title in ABOUT]
    assert len(titles) == len(FORMS) + len(FEELS)
    for one, other in product(titles, titles):
        assert one == other or one.replace(",", "") != other.replace(",", "")
