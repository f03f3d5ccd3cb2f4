"""The drummer: patterns, a fill before each new chorus, and a crash that opens it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from reedmill.band.feel import ACCENT, BandFeel
from reedmill.band.harmony import PlayedBar
from reedmill.band.hit import Hit, strokes_of
from reedmill.band.instruments import DRUMS
from reedmill.score.arrangement import Part

_RINGS = Fraction(1, 4)  # of what the foot taps: a drum stops by itself
_TIMEKEEPERS = {DRUMS["ride"], DRUMS["closed hat"], DRUMS["open hat"]}  # the hand of the crash


def drum_hits(feel: BandFeel, bars: tuple[PlayedBar, ...]) -> list[Hit]:
    """Return every stroke of the drums."""
    if not feel.drums:
        return []
    hits: list[Hit] = []
    for bar in bars:
        if bar.last:
            hits += _last_bar(feel, bar)
            continue
        here = list(_bar(feel, bar))
        if bar.opens:
            here = [hit for hit in here if hit.start > bar.start or hit.key not in _TIMEKEEPERS] + [
                _hit(feel, bar.start, "crash", ACCENT)
            ]
            if not any(hit.start == bar.start and hit.key == DRUMS["kick"] for hit in here):
                here.append(_hit(feel, bar.start, "kick", 0))
        hits += here
    return _once(hits)


def _bar(feel: BandFeel, bar: PlayedBar) -> Iterator[Hit]:
    """Yield the patterns of a bar, up to the fill where there is one."""
    fill = feel.fill if bar.leads_on else ()
    until = fill[0].at if fill else feel.meter.beats
    for pattern in feel.drums:
        for stroke in strokes_of(pattern, bar):
            if stroke.at < until:
                yield _hit(feel, bar.start + stroke.at, stroke.word, stroke.louder)
    for stroke in fill:
        yield _hit(feel, bar.start + stroke.at, stroke.word, stroke.louder)


def _last_bar(feel: BandFeel, bar: PlayedBar) -> Iterator[Hit]:
    """Yield the last bar: kick and snare with the whole band, and a crash at the end."""
    places = {stroke.at for stroke in feel.ending}
    places |= {stretch.start - bar.start for stretch in bar.stretches}
    for at in sorted(places):
        final = at == max(places)
        for drum in ("kick", "crash" if final else "snare"):
            yield _hit(feel, bar.start + at, drum, ACCENT)


def _hit(feel: BandFeel, start: Fraction, drum: str, louder: int) -> Hit:
    return Hit(Part.DRUMS, start, start + _RINGS * feel.meter.pulse, DRUMS[drum], louder)


def _once(hits: list[Hit]) -> list[Hit]:
    """Keep one stroke where a drum is struck twice at a time: the louder."""
    found: dict[tuple[Fraction, int], Hit] = {}
    for hit in hits:
        there = found.get((hit.start, hit.key))
        if there is None or hit.louder > there.louder:
            found[hit.start, hit.key] = hit
    return list(found.values())
