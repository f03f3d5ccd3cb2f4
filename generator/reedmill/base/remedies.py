"""Remedies of errors: the domain names one, and each edge has its own words for it.

A rule is refused with its fact.  What to write instead depends on where it was asked: an
option of the command line, a key of a course file, an argument in Python.  Each of these edges
has a table with words for every ``Remedy``: ``cli/command_remedies.py``,
``pack/course/course_remedies.py`` and ``api.py``.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum, auto


class Remedy(Enum):
    """A remedy that an error may have; in brackets, the values that fill its words."""

    # how a drill is gone through and recorded
    REPEAT_TO_FADE = auto()
    LADDER_TO_PART = auto()
    DRONE_TO_LOOP = auto()
    TONES_TO_VERIFY = auto()
    SOMETHING_TO_HEAR = auto()
    SOMETHING_BESIDE = auto()
    TYPE_WITH_BITS = auto()
    TYPES_NAMED = auto()
    REPEAT_RECORDING = auto()
    LOOPED_OVER_FORM = auto()
    TEMPO_OF_FEEL = auto()
    KIND_OF_SOUND = auto()  # kind
    FORMAT_OF_ENDING = auto()  # format
    HARP_HEARD = auto()  # harp, and as it is typed
    OTHER_ENCODER = auto()
    ANOTHER_VOICE = auto()
    # what can be looked up
    RUNGS_TO_ASK = auto()
    CHORDS_NAMED = auto()
    NOTES_OF_HARP = auto()
    FIND_DRILL = auto()
    FIND_ON_TOPIC = auto()  # topic
    # what a file of another kind is for
    USE_DRILL = auto()  # file, quoted for a shell
    USE_FORM = auto()  # file
    USE_FEEL = auto()  # file
    USE_COURSE = auto()  # file
    USE_TUNING = auto()  # file
    USE_OWN_HARP = auto()  # file
    USE_SOUNDFONT = auto()
    USE_TAKE = auto()
    FORM_INSTEAD = auto()  # asked: the file, and perhaps the title in it
    FEEL_INSTEAD = auto()  # asked
    # where files go
    FILE_IN_THE_WAY = auto()
    FOLDER_OF_PACK = auto()
    LINK_IN_THE_WAY = auto()
    OTHER_PACK_THERE = auto()
    STRANGE_FILE_THERE = auto()
    # what a take is of
    HEAR_INSTALLED = auto()
    NAME_DRILL = auto()
    DRILL_OF_TAKE = auto()  # file, quoted for a shell
    # how a pack is built
    ZIP_OR_LESSON = auto()
    ONE_JOB = auto()
    ONE_DRAWN_ALONE = auto()
    DASK_INSTALLED = auto()
    DASK_STARTED = auto()


Words = Mapping[Remedy, str]
"""What an edge says for each remedy, as a template for ``str.format``.

``{fact}`` stands for the fact and ``{stem}`` for the fact without its full stop; where the fact
names what was asked for, an edge may say it in its own names.  A line break begins a new line of
the message.
"""


def said(words: Words, remedy: Remedy, fact: str, values: Mapping[str, str]) -> list[str]:
    """Return the lines of *remedy* in *words*; values that fill a template are never read as one.

    >>> said({Remedy.ONE_JOB: "{fact} Try one{n}."}, Remedy.ONE_JOB, "It {died}.", {"n": "!"})
    ['It {died}. Try one!.']
    """
    filled = {**values, "fact": fact, "stem": fact.removesuffix(".")}
    return [line.format_map(filled).strip() for line in words[remedy].split("\n")]
