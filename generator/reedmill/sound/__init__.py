"""Sound: reference tones in our own reed voice, a root drone and a click, as WAV.

Everything is synthesised here from sums of harmonics, so that a tone sounds exactly
the frequency its note carries.  Import ``reedmill.sound.mix`` to render; this package
itself imports nothing, because NumPy is slow to load.
"""
