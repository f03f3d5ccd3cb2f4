"""Hearing: a recorded take in, the verdict on every note out.

>>> import numpy as np
>>> from reedmill.ear import Take
>>> Take.of(np.zeros(16_000)).seconds
1.0

``hear(read_take(path), score)`` is the whole way; ``take_data`` makes its record for JSON.
"""

from reedmill.ear.hear import hear
from reedmill.ear.take import LONGEST_S, SHORTEST_S, Take, read_take
from reedmill.ear.take_json import TAKE_SCHEMA, take_data
from reedmill.ear.track import PitchTrack
from reedmill.ear.heard_take import (
    Extra,
    HeardNote,
    HeardPass,
    HeardTake,
    Rung,
    SoundFacts,
    Tolerance,
    Verdict,
)

__all__ = [
    "LONGEST_S",
    "SHORTEST_S",
    "TAKE_SCHEMA",
    "Extra",
    "HeardNote",
    "HeardPass",
    "HeardTake",
    "PitchTrack",
    "Rung",
    "SoundFacts",
    "Take",
    "Tolerance",
    "Verdict",
    "hear",
    "read_take",
    "take_data",
]
