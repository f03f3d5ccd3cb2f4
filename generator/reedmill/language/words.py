"""The table of the words of the pattern language; messages and help derive from it."""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.base.ranges import TEMPI_IN_WORDS
from reedmill.score.style import Mark


@dataclass(frozen=True, slots=True)
class Word:
    """One kind of line of a drill: its first word, what follows, and a line that works."""

    name: str
    takes: str  # completes "the <name> line takes ..."
    example: str


TOPICS = {
    "the drill": (
        Word("drill", "the title in quotes", 'drill "Home from every rung"'),
        Word("from", "the title of another drill, in quotes", 'from "Home from every rung"'),
        Word("move", "up or down and a number of holes", "move down 1"),
    ),
    "what for": (
        Word("about", "one sentence in quotes", 'about "Step off the root and come home."'),
        Word("listen", "what to listen for, in quotes", 'listen "The root never moves."'),
        Word("level", "a number from 1 (easiest) to 5", "level 1"),
        Word("positions", "the positions the drill is meant for", "positions 1, 2, 3"),
        Word("over", "chords of a form, turnaround or ending, with commas between", "over I, IV"),
    ),
    "the beat": (
        Word("tempo", f"beats a minute, {TEMPI_IN_WORDS}, or a range of them", "tempo 56 to 84"),
        Word("meter", "beats and beat value, such as 4/4 or 12/8", "meter 4/4"),
        Word("feel", "straight or shuffle", "feel shuffle"),
        Word("pickup", "the beats before the first whole bar", "pickup 1"),
        Word("length", "the usual length of a note in beats", "length 1/2"),
    ),
    "the harp": (
        Word("anchor", "the reed to come home to, or root", "anchor -2"),
        Word("rungs", "reeds, or all of / bends of a reed", "rungs -3 -3' -3''"),
        Word("order", "down, up or listed, with commas between", "order down, up"),
        Word("allow", "overbends", "allow overbends"),
        Word("octave", "low, middle or high, where a tune lies on the harp", "octave middle"),
        Word(
            "embouchure",
            "lips, tongue left or tongue right, with or between plans",
            "embouchure lips or anchors tongue left, rungs lips",
        ),
    ),
    "the music": (
        Word("phrase", "what is played for every rung", "phrase anchor rung"),
        Word("ending", "what is played once at the end", "ending anchor:2"),
        Word("play", "the music, as reeds", "play -2 -3' -2:2"),
        Word("tune", "the music, as degrees of the key", "tune 1 b3 4 5 b7 1+:2"),
        Word("echo", "nothing more", "echo"),
        Word("section", "the name of the section in quotes", 'section "Long tones"'),
    ),
}

LINES = {word.name: word for words in TOPICS.values() for word in words}

MUSIC_LINES = ("phrase", "ending", "play", "tune")

ROLES = {
    "anchor": "the anchor",
    "rung": "the rung whose turn it is",
    "previous": "the rung played before this one (at the first, that rung itself)",
    "next": "the rung played after this one (at the last, that rung itself)",
    "first": "the first rung of the rungs line",
    "last": "the last rung of the rungs line",
}

DIRECTIONS = {
    "down": "from the highest rung to the lowest",
    "up": "from the lowest rung to the highest",
    "listed": "as the rungs line lists them",
}

REST = "r"

STYLES = tuple(mark.value for mark in Mark)
"""The words before a note that say how it is shaped."""

OTHER_STYLES = {
    "trill": "shake", "warble": "shake", "tremolo": "vibrato", "wobble": "vibrato",
    "wah": "mute", "glissando": "~", "gliss": "~", "slide": "~",
}  # fmt: skip
"""Words from elsewhere for what has one here."""

# The words that may follow the first word of a line, and what each means.
VALUES = {
    "move": {"up": "towards hole 10", "down": "towards hole 1"},
    "feel": {"straight": "both halves of a beat alike", "shuffle": "the first half twice as long"},
    "allow": {"overbends": "overblows and overdraws, where a tune needs them"},
    "octave": {
        "low": "the root of a tune lies from blow 1 up to below blow 4",
        "middle": "an octave higher: from blow 4 up to below blow 7",
        "high": "from blow 7 up",
    },
    "over": {
        "turnaround": "the last two bars of a chorus that goes round again",
        "ending": "the last two bars of all",
    },
    "anchor": {"root": "the root of the position that lies nearest to the rungs"},
    "order": DIRECTIONS,
    "embouchure": {
        "lips": "lip purse",
        "tongue left": "tongue block, the tongue to the left of the hole",
        "tongue right": "tongue block, the tongue to the right of the hole",
    },
}

# The words that hold others together.
JOINING = {
    "tempo": ("to",),
    "rungs": ("all of", "bends of", "down to"),
    "embouchure": ("or", "anchors", "rungs"),
}

TRIPLET = "triplet"

# What one small file may ask for.  Generous for teaching, small for a computer.
MAX_FILE_BYTES = 200_000
MAX_TITLE = 120
MAX_TEXT = 600
MAX_NOTES = 2_000
MAX_FILE_NOTES = 10_000  # or one for each character of a longer file
MAX_BARS = 1_000  # of a drill, an echo's and those over a form among them
MAX_RUNGS = 200  # written; a run such as "all of -3" is one
MAX_PLANS = 9  # of the mouth: every hold alone, and every two of them
MAX_REPEATS = 100
MAX_NESTING = 6
MAX_LENGTH_BEATS = 64
MAX_DRILLS = 500
LEVELS = range(1, 6)
METER_BEATS = range(1, 17)
METER_UNITS = (2, 4, 8)
LENGTH_PARTS = (1, 2, 3, 4, 6, 8)  # denominators that can be written and counted
