"""The ear: a recorded take in, a verdict on every note out.

>>> import numpy as np
>>> from reedmill.ear import Take
>>> Take.of(np.zeros(16_000)).seconds
1.0

``hear(read_take(path), score)`` is the whole way; ``take_data`` makes its record for JSON.
"""

from reedmill.ear.advice import by_rung
from reedmill.ear.best_fit import ScoreFit, fits
from reedmill.ear.harp_tuning import SAME_HARP_CENTS
from reedmill.ear.hear import AnotherDrillError, hear
from reedmill.ear.heard_take import Extra, HeardNote, HeardPass, HeardTake, Rung, SoundFacts
from reedmill.ear.measured_harp import WORN_CENTS, HarpTested, ReedHeard, hear_harp
from reedmill.ear.take import LONGEST_S, SHORTEST_S, Take, read_take
from reedmill.ear.take_json import HARP_TEST_SCHEMA, TAKE_SCHEMA, take_data, tested_data
from reedmill.ear.track import PitchTrack
from reedmill.score.verdicts import Tolerance, Verdict

__all__ = [
    "HARP_TEST_SCHEMA",
    "LONGEST_S",
    "SAME_HARP_CENTS",
    "SHORTEST_S",
    "TAKE_SCHEMA",
    "WORN_CENTS",
    "AnotherDrillError",
    "Extra",
    "HarpTested",
    "HeardNote",
    "HeardPass",
    "HeardTake",
    "PitchTrack",
    "ReedHeard",
    "Rung",
    "ScoreFit",
    "SoundFacts",
    "Take",
    "Tolerance",
    "Verdict",
    "by_rung",
    "fits",
    "hear",
    "hear_harp",
    "read_take",
    "take_data",
    "tested_data",
]
