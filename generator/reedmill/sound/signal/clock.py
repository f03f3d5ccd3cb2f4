"""From exact beats to sample numbers: the one place where the sound rounds time."""

from __future__ import annotations

from fractions import Fraction

from reedmill.base.errors import InputError
from reedmill.practice.practice import Pass, RecordingPlan

RATE = 44_100
"""Samples a second, unless the caller asks for another rate."""

TAIL_S = Fraction(3, 10)
"""Seconds after the last bar, in which the drone fades and the ear lets go."""

_RATES = range(22_050, 192_001)


def checked_rate(sample_rate: int) -> int:
    """Return *sample_rate*; ``InputError`` for a rate no audio file should have.

    Below 22,050 the highest overbends of a high harp could not be expressed.
    """
    if sample_rate not in _RATES:
        raise InputError(
            f"a sample rate of {sample_rate} cannot be used. "
            f"Choose {_RATES[0]} to {_RATES[-1]}; {RATE} is usual."
        )
    return sample_rate


def sample_at(heard: Pass, beats: Fraction, rate: int) -> int:
    """Return the sample nearest to when notated *beats* is played, rounded once."""
    return sample_of(heard.at_s(beats), rate)


def sample_of(at_s: Fraction, rate: int) -> int:
    """Return the sample nearest to *at_s* seconds from the start of a recording."""
    return round(at_s * rate)


def sample_count(plan: RecordingPlan, rate: int) -> int:
    """Return the samples in every stem of *plan*: its bars and the tail."""
    return round((plan.length_s + TAIL_S) * rate)
