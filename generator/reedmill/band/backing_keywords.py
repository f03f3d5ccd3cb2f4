"""The words of forms and feels, in one table: messages and the reference derive from it."""

from __future__ import annotations

from reedmill.base.ranges import TEMPI_IN_WORDS
from reedmill.base.text import MOST_DIGITS
from reedmill.language.words import Word

FORM_LINES = {
    word.name: word
    for word in (
        Word("about", "one sentence in quotes", 'about "The plain form."'),
        Word("positions", "the positions the form is meant for", "positions 2, 3"),
        Word("bars", "chords as degrees, with | between bars", "bars I7 x4 | IV7 x2 | I7 x2"),
        Word("turnaround", "the bars that lead round again", "turnaround I7 IV7 | I7 V7"),
        Word("ending", "the last bars of all", "ending I7 V7 | I7"),
        Word("stops", "the bars in which the band strikes its stops alone", "stops 1 to 4"),
        Word("breaks", "the bars in which the band is silent after one beat", "breaks 4"),
    )
}

FEEL_LINES = {
    word.name: word
    for word in (
        Word("about", "one sentence in quotes", 'about "Walking bass, chords off the beat."'),
        Word("meter", "beats and beat value, such as 4/4 or 12/8", "meter 12/8"),
        Word("tempo", f"beats a minute, {TEMPI_IN_WORDS}, or a range of them", "tempo 84 to 132"),
        Word("swing", "how long the first half of a beat is to the second", "swing 2 to 1"),
        Word(
            "sounds",
            "a player and the General MIDI name of the instrument in quotes",
            'sounds bass "Acoustic Bass", comp "Drawbar Organ"',
        ),
        Word("loudness", "a player and a velocity from 1 to 127", "loudness bass 96, comp 70"),
        Word(
            "loose", "timing in milliseconds and velocity, each the most it may be off",
            "loose timing 12, velocity 8",
        ),
        Word(
            "lean", "a player or a drum, milliseconds, and early or late",
            "lean snare 12 late, ride 4 early",
        ),
        Word(
            "accents", "the beats the band plays a little louder; the bass leans on one",
            "accents 2 4",
        ),
        Word("bass", "tones of the chord and the beats they are on", "bass root on 1, fifth on 3"),
        Word("comp", "the beats the chord is struck on", "comp on 2 4, short on 4&"),
        Word("drums", "drums and the beats they are on", "drums kick on 1 3, snare on 2 4"),
        Word("fill", "what the drums play before a new chorus", "fill snare on 3 3& 4 4&"),
        Word("stops", "the beats the band strikes in a bar with stops", "stops on 1"),
        Word("ending", "the beats the last chord is struck on", "ending on 1"),
    )
}  # fmt: skip

STARTS = {
    word.name: word
    for word in (
        Word("form", "the title in quotes", 'form "Twelve bars"'),
        Word("feel", "the title in quotes", 'feel "Medium shuffle"'),
    )
}

BASS_WORDS = {
    "root": "the root of the chord",
    "third": "its third, or the fourth of a suspended chord",
    "fifth": "its fifth",
    "sixth": "the sixth above its root",
    "seventh": "its seventh; where it has none its sixth, or else the root an octave up",
    "octave": "its root an octave up, as far as G3",
    "walk": "a line from the root of the chord, the last note of it a step from the next root",
    "low fifth": "the fifth below its root",
    "low sixth": "the sixth below its root, a third under it",
    "low seventh": "the seventh below its root",
    "lead": "a note a step from the root of the next chord",
}

COMP_WORDS = {
    "short": "a quarter of what the foot taps",
    "held": "until the next stroke or the next chord",
}

PLAYERS = ("bass", "comp", "drums")
SOUNDING = ("bass", "comp")  # the players whose sound may be chosen

AGAIN, REST = "%", "r"

MAX_BARS = 64  # of a form
MAX_CHORDS = 4  # in a bar
MAX_PATTERN_BARS = 8
MAX_STROKES = 64  # of one player in one bar
MAX_LINES = 16  # of one player
MAX_ON_A_FILE = 100  # forms and feels
MAX_SWING = 4  # times as long
SWING_PARTS = range(1, 13)
TIMINGS_MS = range(41)
VELOCITIES = range(1, 128)
VELOCITY_SPREAD = range(31)
CHORUSES = range(1, 51)
SEEDS = range(10**MOST_DIGITS)
MAX_NOTES = 60_000  # of an arrangement
LONGEST_S = 60 * 60
