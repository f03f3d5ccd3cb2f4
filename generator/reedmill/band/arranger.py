"""Arrange a form and a feel in a key: every stroke the band plays."""

from __future__ import annotations

from fractions import Fraction

from reedmill.band.backing_keywords import CHORUSES, LONGEST_S, MAX_NOTES, SEEDS
from reedmill.band.bass import bass_line
from reedmill.band.comping import comp
from reedmill.band.drumming import drum_hits
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.harmony import PlayedBar, changes, chorus_bars
from reedmill.band.performing import performed
from reedmill.base.errors import InputError
from reedmill.base.ranges import TEMPI_BPM
from reedmill.score.arrangement import Arrangement
from reedmill.theory.positions import Key

_VOICES = 4  # notes of one stroke of the comp


def arrange(
    form: Form,
    feel: BandFeel,
    key: Key,
    *,
    choruses: int,
    tempo_bpm: int | None = None,
    seed: int = 0,
) -> Arrangement:
    """Arrange *choruses* of *form*, played with *feel* in *key*.

    *tempo_bpm* counts pulses a minute, the middle of the feel's range when it is not
    given.  *seed* 0 plays exactly as written; any other makes the band loose within the
    bounds of the feel, always in the same way.  Raises ``InputError`` for a number out of
    range, or more music than can be made.
    """
    tempo = feel.usual_tempo_bpm if tempo_bpm is None else tempo_bpm
    _check("a seed", "", seed, SEEDS)
    check_amount(form, feel, choruses, tempo)
    bars = chorus_bars(form, feel.meter, choruses)
    tonic, length = key.pitch_class, Fraction(len(bars) * feel.meter.beats)
    hits = [*bass_line(feel, bars, tonic), *comp(feel, bars, tonic), *drum_hits(feel, bars)]
    return Arrangement(
        form=form.title,
        feel=feel.title,
        key=key,
        meter=feel.meter,
        tempo_bpm=tempo,
        choruses=choruses,
        seed=seed,
        bars_a_chorus=len(form.bars),
        chords=changes(bars),
        notes=performed(hits, feel, tempo, seed, _downbeats(bars), length),
        length=length,
        programs=feel.programs,
        swing=feel.swing,
        origins=(form.span.file, feel.span.file),
    )


def _downbeats(bars: tuple[PlayedBar, ...]) -> frozenset[Fraction]:
    return frozenset(bar.start for bar in bars if bar.number == 0)


def _check(what: str, unit: str, value: int, allowed: range) -> None:
    if value not in allowed:
        said = f"{value} {unit}".strip()
        raise InputError(f"{what} of {said} cannot be played; write {allowed[0]} to {allowed[-1]}.")


def check_amount(form: Form, feel: BandFeel, choruses: int, tempo_bpm: int) -> None:
    """Raise ``InputError`` for an amount that ``arrange`` refuses in any key."""
    _check("a tempo", "beats a minute", tempo_bpm, TEMPI_BPM)
    _check("a length", "choruses", choruses, CHORUSES)
    _check_size(form, feel, choruses, tempo_bpm)


def _check_size(form: Form, feel: BandFeel, choruses: int, tempo_bpm: int) -> None:
    """Refuse an arrangement that would be too long, before any of it is made."""
    bars = len(form.bars) * choruses
    seconds = bars * feel.meter.beats * 60 / (tempo_bpm * feel.meter.pulse)
    if seconds > LONGEST_S:
        raise InputError(
            f"{bars} bars at this tempo last {round(seconds / 60)} minutes; "
            f"a backing lasts at most {LONGEST_S // 60}. Play fewer choruses."
        )
    notes = bars * _most_notes_a_bar(feel)
    if notes > MAX_NOTES:
        raise InputError(
            f"{bars} bars of this feel have up to {notes} notes; a backing has at most "
            f"{MAX_NOTES}. Play fewer choruses, or write fewer strokes."
        )


def _most_notes_a_bar(feel: BandFeel) -> int:
    drums = sum(max(map(len, pattern), default=0) for pattern in feel.drums) + len(feel.fill)
    comp_strokes = max(map(len, feel.comp), default=0) + 4
    bass_strokes = max(map(len, feel.bass), default=0) + 4
    return drums + _VOICES * comp_strokes + bass_strokes + 2 * len(feel.ending)
