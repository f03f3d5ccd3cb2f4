"""Sound: tones in our own reed voice, a drone and a click, as WAV, FLAC, OGG or MP3.

Everything is synthesised here from sums of harmonics, so that a tone sounds exactly
the frequency its note carries.  ``record`` makes the files of a recording, ``mix`` the
samples, ``read_back`` reads finished files; this package itself imports nothing, because
NumPy is slow to load.
"""
