"""Numeric ranges that the language, files, options and data share, with their wording.

This module imports nothing: the command line's help reads it.
"""

TEMPI_BPM = range(20, 301)
"""Beats a minute: slower is not felt as a beat, faster cannot be breathed (common practice)."""

TEMPI_IN_WORDS = f"{TEMPI_BPM[0]} to {TEMPI_BPM[-1]}"

REFERENCES_HZ = (390.0, 490.0)
"""A4, from more than a whole tone below 440 Hz to nearly one above, the ends included."""

REFERENCES_IN_WORDS = f"{REFERENCES_HZ[0]:g} to {REFERENCES_HZ[1]:g}"

LEAD_IN_S = 0.3
"""Silence at the start of a sound file, unless more or none is asked for: what speakers without a
wire and players of files swallow (common practice, no published source)."""

MOST_LEAD_IN_S = 5
"""The longest silence there may be."""

EVENING_MINUTES = range(3, 121)
"""What an evening of practice may last, rests included."""
