"""The ways into a set and out of it: bars before its first chorus and at its end."""

from __future__ import annotations

from enum import Enum

from reedmill.band.form import Form, FormBar


class Intro(Enum):
    """A way into the first chorus; the value is the word for it."""

    NONE = "none"
    FIVE = "five"
    TURNAROUND = "turnaround"
    DRUMS = "drums"


class Ending(Enum):
    """An ending of the last chorus; the value is the word for it."""

    WRITTEN = "written"
    TAG = "tag"
    HELD = "held"


INTRO_WORDS = {
    Intro.NONE: "the first chorus starts at once",
    Intro.FIVE: "the last four bars of the form, which come from the five in most",
    Intro.TURNAROUND: "the last two bars of the form, which lead home",
    Intro.DRUMS: "two bars of drums",
}
ENDING_WORDS = {
    Ending.WRITTEN: "as the form ends",
    Ending.TAG: "the way home is played twice more before the end",
    Ending.HELD: "the last chord is held for two more bars",
}
"""What each word asks for, in a player's words."""

_TURNAROUND, _FIVE = 2, 4  # bars
HELD_BARS = 2
"""Bars for which the last chord is held beyond its own."""


def intro_bars(form: Form, intro: Intro) -> tuple[FormBar, ...]:
    """Return the bars of *intro* for *form*: never more than the form has."""
    whole = form.chorus(last=False)
    if intro is Intro.NONE:
        return ()
    if intro is Intro.DRUMS:
        return whole[:1] * _TURNAROUND
    return whole[-(_FIVE if intro is Intro.FIVE else _TURNAROUND) :]


def last_chorus(form: Form, ending: Ending) -> tuple[FormBar, ...]:
    """Return the bars of the last chorus of *form*, with those a tag puts before the end."""
    if ending is not Ending.TAG:
        return form.chorus(last=True)
    again = form.chorus(last=False)
    return again + again[-_TURNAROUND:] + form.chorus(last=True)[-_TURNAROUND:]
