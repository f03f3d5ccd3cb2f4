"""The chord player: strikes every chord of a form, with voicings that lead into each other."""

from __future__ import annotations

from reedmill.band.chord_strokes import chord_strokes
from reedmill.band.feel import BandFeel
from reedmill.band.harmony import PlayedBar
from reedmill.band.hit import Hit
from reedmill.band.manners import struck_by
from reedmill.band.voice_leading import VoiceLeader


def comp(feel: BandFeel, bars: tuple[PlayedBar, ...], tonic: int, seed: int = 0) -> list[Hit]:
    """Return every chord that is struck; *tonic* is the pitch class of the key."""
    if not feel.comp:
        return []
    leader = VoiceLeader(feel, bars, tonic, seed)
    voiced = leader.voiced(chord_strokes(feel, bars, seed))
    return struck_by(leader.family, voiced, feel, tonic, seed)
