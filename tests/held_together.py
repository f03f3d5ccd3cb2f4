"""A drill with several holes at once, quarter tones, slow slides and every mark of style."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.score import Score
from reedmill.theory.positions import Position

PLAY = (
    "-1&4 -2&3:2 slap -2 shake -4&5:2 scoop -3q fall -4 pull 5 mute -1&2&3 vibrato4 -4:2 "
    "-3:1~:2 -3'':3 slap (-2 -3~-3')x2 2&3&4! r"
)


def on_a_harp(play: str, harp: str = "C", *, meter: str = "4/4", tempo: int = 60) -> Score:
    """The music of a play line in 2nd position."""
    text = f'drill "Together"\n  tempo {tempo}\n  meter {meter}\n  play {play}\n'
    return expand(parse(text)[0], Harp.parse(harp), Position(2))


def all_of_it(harp: str = "C") -> Score:
    """The drill with everything."""
    return on_a_harp(PLAY, harp, tempo=72)


PIECES = (
    "-2&3:3/2", "slap -1&4", "fall -4:3", "shake5 -4&5:5", "-3 ~:1/2 -3''", "pull 5", "scoop -3q",
    "mute vibrato3 2&3&4!:2", "r", "-2&3 ~-2'&3'", "vibrato2 -4:6", "-3 ~:3 fall -3'':7/2",
    "6&9:1/2", "slap scoop -3:1/2", "r:3/2", "4:1/3 -4:1/3 5&6:1/3", "pull -2&5:4", "-10",
    "1&2&3&4&5:5/2", "-4:3/2 ~-1&2&3&4:2", "1&4 ~mute 1&2&3&4:3 ~pull 4", "-3' ~-3:1/2 ~-2&3 ~-2",
)  # fmt: skip


@st.composite
def much_together(draw: st.DrawFn) -> Score:
    """Music with chords, ties, triplets, slides, lifts and marks, over bar lines too."""
    play = " ".join(draw(st.lists(st.sampled_from(PIECES), min_size=1, max_size=9)))
    return on_a_harp(play, meter=draw(st.sampled_from(["4/4", "3/4", "5/4", "2/4"])))


def beats(score: Score) -> list[tuple[Fraction, object]]:
    """All that is played, and when."""
    return [(note.start, note.as_played) for note in score.notes]
