"""The sounds a band may use: the instruments and drums of General MIDI 1, by name.

The names and numbers are those of the General MIDI System Level 1 sound set and
percussion key map.  Drums have the words drummers use, and the key of the map.
"""

from __future__ import annotations

# Sixteen families of eight, numbered from 0 here and from 1 in the published list.
_FAMILIES = """
Acoustic Grand Piano, Bright Acoustic Piano, Electric Grand Piano, Honky-tonk Piano,
Electric Piano 1, Electric Piano 2, Harpsichord, Clavinet,
Celesta, Glockenspiel, Music Box, Vibraphone, Marimba, Xylophone, Tubular Bells, Dulcimer,
Drawbar Organ, Percussive Organ, Rock Organ, Church Organ, Reed Organ, Accordion, Harmonica,
Tango Accordion,
Acoustic Guitar (nylon), Acoustic Guitar (steel), Electric Guitar (jazz),
Electric Guitar (clean), Electric Guitar (muted), Overdriven Guitar, Distortion Guitar,
Guitar Harmonics,
Acoustic Bass, Electric Bass (finger), Electric Bass (pick), Fretless Bass, Slap Bass 1,
Slap Bass 2, Synth Bass 1, Synth Bass 2,
Violin, Viola, Cello, Contrabass, Tremolo Strings, Pizzicato Strings, Orchestral Harp, Timpani,
String Ensemble 1, String Ensemble 2, Synth Strings 1, Synth Strings 2, Choir Aahs, Voice Oohs,
Synth Choir, Orchestra Hit,
Trumpet, Trombone, Tuba, Muted Trumpet, French Horn, Brass Section, Synth Brass 1,
Synth Brass 2,
Soprano Sax, Alto Sax, Tenor Sax, Baritone Sax, Oboe, English Horn, Bassoon, Clarinet,
Piccolo, Flute, Recorder, Pan Flute, Blown Bottle, Shakuhachi, Whistle, Ocarina,
Lead 1 (square), Lead 2 (sawtooth), Lead 3 (calliope), Lead 4 (chiff), Lead 5 (charang),
Lead 6 (voice), Lead 7 (fifths), Lead 8 (bass + lead),
Pad 1 (new age), Pad 2 (warm), Pad 3 (polysynth), Pad 4 (choir), Pad 5 (bowed),
Pad 6 (metallic), Pad 7 (halo), Pad 8 (sweep),
FX 1 (rain), FX 2 (soundtrack), FX 3 (crystal), FX 4 (atmosphere), FX 5 (brightness),
FX 6 (goblins), FX 7 (echoes), FX 8 (sci-fi),
Sitar, Banjo, Shamisen, Koto, Kalimba, Bagpipe, Fiddle, Shanai,
Tinkle Bell, Agogo, Steel Drums, Woodblock, Taiko Drum, Melodic Tom, Synth Drum,
Reverse Cymbal,
Guitar Fret Noise, Breath Noise, Seashore, Bird Tweet, Telephone Ring, Helicopter, Applause,
Gunshot
"""
PROGRAMS = tuple(name.strip() for name in " ".join(_FAMILIES.split()).split(","))
"""The 128 instruments; the place in the list is the program number from 0."""

DRUMS = {
    "kick": 36, "side stick": 37, "snare": 38, "clap": 39,
    "floor tom": 43, "low tom": 45, "mid tom": 47, "high tom": 50,
    "closed hat": 42, "pedal hat": 44, "open hat": 46,
    "crash": 49, "ride": 51, "ride bell": 53,
    "tambourine": 54, "cowbell": 56,
    "high bongo": 60, "low bongo": 61,
    "mute conga": 62, "high conga": 63, "low conga": 64,
    "maracas": 70, "claves": 75, "high block": 76, "low block": 77, "triangle": 81,
}  # fmt: skip
"""Drums by the words of a feel, with their keys in the percussion map, 35 to 81."""

ALSO_CALLED = {
    "bass drum": "kick", "kick drum": "kick", "snare drum": "snare",
    "hi hat": "closed hat", "hihat": "closed hat", "hat": "closed hat", "hats": "closed hat",
    "closed hi hat": "closed hat", "open hi hat": "open hat", "pedal hi hat": "pedal hat",
    "foot hat": "pedal hat",
    "cross stick": "side stick", "rim": "side stick", "rim click": "side stick",
    "ride cymbal": "ride", "crash cymbal": "crash",
    "handclap": "clap", "hand clap": "clap", "cow bell": "cowbell", "clave": "claves",
}  # fmt: skip
"""What players call drums besides, each meaning one of DRUMS; a hyphen is as good as a space.

Common practice, no published source.
"""

SEVERAL = {
    "tom": ("high tom", "mid tom", "low tom"), "toms": ("high tom", "mid tom", "low tom"),
    "cymbal": ("crash", "ride"), "cymbals": ("crash", "ride"),
    "bongo": ("high bongo", "low bongo"), "bongos": ("high bongo", "low bongo"),
    "conga": ("high conga", "low conga"), "congas": ("high conga", "low conga"),
    "wood block": ("high block", "low block"), "block": ("high block", "low block"),
    "shaker": ("maracas",),
}  # fmt: skip
"""Names that leave open which of DRUMS is meant, and what they may mean."""


def drum_named(text: str) -> str:
    """Return the name in DRUMS that *text* means, or nothing.

    >>> drum_named("hi-hat"), drum_named("side-stick"), drum_named("cymbal")
    ('closed hat', 'side stick', '')
    """
    words = text.replace("-", " ")
    found = ALSO_CALLED.get(words, words)
    return found if found in DRUMS else ""


BASS_KEYS = range(28, 56)
"""E1 to G3: the open low string of a bass to the highest note that still is one."""

COMP_KEYS = range(48, 73)
"""C3 to C5: over the bass, and under most of what a harp plays."""
