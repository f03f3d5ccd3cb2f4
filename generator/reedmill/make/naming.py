"""What a file is called: all that tells it from the drill as it is written, in words.

A name has the title, the harp, the position, then whatever was asked for besides, so that
two different requests never share a name: ``two-bars-home-c-2nd-48-bpm-a442-large.pdf``.
A word stands only in the names of the files it changes: large print in those of pages, an
echo in those of sound, MIDI and data.  What no word can tell apart (two titles of like
spelling, two fonts of one name) is in the purpose of a file, see ``made_files``.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.shipped import patterns_dir
from reedmill.base.text import file_slug
from reedmill.formats.table import Format
from reedmill.harp import Harp, Reed
from reedmill.harp.chord_roles import BLUES
from reedmill.harp.layouts import LAYOUTS
from reedmill.make.made_files import FileName
from reedmill.practice.practice import PLAIN_BAND, Click, Practice, Recording
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Score
from reedmill.theory.chords import Chord
from reedmill.theory.degrees import CHROMATIC
from reedmill.theory.intonation import INTONATIONS, Intonation
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.sheet.look import Look

_USUAL_HZ = 440.0
USUAL_CHORUSES = 4
_USUAL_REEDS = tuple(map(Reed.parse, ("-3", "-3'", "-3''", "-3'''")))
_CROSS_HARP = Position(2)
_LIBRARY = "library"

# --- the parts of a name ----------------------------------------------------------------


def harp_words(harp: Harp) -> str:
    """A harp in a file name: ``low-f-sharp``, ``c-natural-minor``."""
    return file_slug(harp.full_name.replace("#", " sharp"))


def score_words(score: Score) -> Iterator[str]:
    """Harp and position, then what is not as the drill is written.

    That is its embouchure, form, tempo, ladder and tuning.
    """
    yield harp_words(score.harp)
    yield score.position.ordinal
    if score.embouchure:
        yield score.embouchure.short
    if score.band and score.notes:
        yield f"over {score.band.form}"
    yield from score.variant
    if score.tempi_bpm:
        yield _ladder(score.tempi_bpm)
    yield from tuning_words(score.reference_hz, score.intonation)


def backing_words(score: Score, band: Arrangement) -> Iterator[str]:
    """Key, tempo, harp and position of a backing, then what is not usual about it."""
    yield band.key.name.replace("#", " sharp")
    yield f"{band.tempo_bpm} bpm"
    yield f"{harp_words(score.harp)}-harp"
    yield score.position.ordinal
    if band.choruses != USUAL_CHORUSES:
        yield f"{band.choruses} chorus{'' if band.choruses == 1 else 'es'}"
    if band.seed:
        yield f"seed {band.seed}"
    yield from tuning_words(score.reference_hz, score.intonation)


def chart_words(
    harp: Harp, reeds: Sequence[Reed], chords: Sequence[Chord], position: Position
) -> Iterator[str]:
    """Harp, reeds, position and chords of a role chart, the usual ones left out."""
    yield harp_words(harp)
    if tuple(reeds) != _USUAL_REEDS:
        yield from map(_reed_words, reeds)
    if position != _CROSS_HARP:
        yield position.ordinal
    if tuple(chords) != BLUES:
        yield "over"
        for chord in chords:
            small = "minor " if chord.name.lstrip("b#")[:1].islower() else ""
            yield f"{small}{chord.name}".replace("#", " sharp ")


def _reed_words(reed: Reed) -> str:
    """A reed in a file name, where signs cannot be: ``draw 3 bent 2``."""
    natural = f"{reed.breath.value} {reed.hole}"
    return (
        f"{natural} over" if reed.over else f"{natural} bent {reed.bend}" if reed.bend else natural
    )


def tuning_words(reference_hz: float, intonation: Intonation) -> Iterator[str]:
    """The tuning, where it is not equal temperament at A4 = 440 Hz: ``a442``, ``just5``."""
    if reference_hz != _USUAL_HZ:
        yield f"a{_number(reference_hz)}"
    base = next((name for name in INTONATIONS if intonation.name.startswith(name)), "")
    if base != "equal":
        yield base or intonation.name
    for degree, cents in zip(CHROMATIC, intonation.offsets_cents or (0,) * 12, strict=True):
        if cents:
            named = degree.name.replace("#", "sharp ")
            yield f"{named} {'up' if cents > 0 else 'down'} {_number(abs(cents))}"


def _number(value: float) -> str:
    """*value* with all its digits; its point is a hyphen in a name."""
    return repr(float(value)).removesuffix(".0").replace("-", " minus ")


def page_words(look: Look | None) -> tuple[str, ...]:
    """What is not usual about a page."""
    if look is None:
        return ()
    words = {
        look.paper: look.paper != "a4",
        "large": look.large,
        "black": look.black,
        f"{look.show} alone": look.show != "both",
    }
    return tuple(word for word, unusual in words.items() if unusual)


def practice_words(practice: Practice) -> tuple[str, ...]:
    """How a drill is gone through, where it is not once from beginning to end.

    A ladder is not among it: it is in the score, because a sheet names its tempi too.
    """
    echo = practice.echo_bars
    words = {
        "echo": echo == 0,
        f"echo {echo}": bool(echo),
        f"{practice.repeats} times": practice.repeats > 1,
        "fading": practice.fade_out,
        f"count-in {practice.count_in_bars}": practice.count_in_bars > 0,
    }
    return tuple(word for word, unusual in words.items() if unusual)


def _ladder(tempi_bpm: Sequence[int]) -> str:
    if len(tempi_bpm) < 2:
        return f"ladder {tempi_bpm[0]}"
    step = abs(tempi_bpm[1] - tempi_bpm[0])
    return f"{tempi_bpm[0]} to {tempi_bpm[-1]} by {step}"


def tones_words(recording: Recording, kind: str) -> tuple[str, ...]:
    """What tells the tones alone, in a file of *kind*, from those of another recording."""
    words = {
        "drone first": bool(recording.drone) and recording.practice.count_in_bars > 0,
        "wide": recording.wide,
    }
    there = tuple(word for word, asked in words.items() if asked)
    return (
        *practice_words(recording.practice),
        *there,
        *_voice(recording),
        *_bits(recording, kind),
    )


def mix_words(recording: Recording, kind: str) -> tuple[str, ...]:
    """What tells a mix, and the stems cut from it, from those of another recording."""
    words = {
        "without tones": not recording.guided and not recording.backing,
        "band alone": not recording.guided and recording.backing and bool(recording.drone),
        _band(recording.band): bool(recording.band),
        **_mixed_words(recording),
        "wide": recording.wide,
    }
    there = tuple(word for word, asked in words.items() if asked)
    practised = practice_words(recording.practice)
    return (*practised, *_voice(recording), *there, *_bits(recording, kind))


def _mixed_words(recording: Recording) -> dict[str, bool]:
    return {
        f"drone {' '.join(recording.drone[1:])}": bool(recording.drone),
        "click": recording.click is Click.BEATS,
        "offbeats": recording.click is Click.OFFBEATS,
        "count-in alone": recording.click is Click.COUNT_IN,
    }


def writer_words(row: Format, recording: Recording, *, band: bool) -> tuple[str, ...]:
    """What tells a file that is written at once from that of another recording."""
    if not row.follows_sound:
        return ()
    return midi_words(recording, band=band) if row.each_tempo else data_words(recording)


def midi_words(recording: Recording, *, band: bool) -> tuple[str, ...]:
    """What tells a MIDI file from that of another recording.

    Without a *band* it has drone and click in any case, so only what they are else is said.
    """
    counted = recording.practice.count_in_bars > 0
    words = _mixed_words(recording)
    if not band and not counted:
        words["click"] = False
        words[f"drone {' '.join(recording.drone[1:])}"] = len(recording.drone) > 1
    tones = {"without tones": not recording.guided}
    there = (word for word, asked in (tones | words).items() if asked)
    return (*practice_words(recording.practice), *there)


def data_words(recording: Recording) -> tuple[str, ...]:
    """What tells data from that of another recording."""
    words = _mixed_words(recording) | {"apart": recording.apart}
    there = (word for word, asked in words.items() if asked)
    return (*practice_words(recording.practice), *there)


def _voice(recording: Recording) -> tuple[str, ...]:
    return (f"voice {_font(recording.voice)}",) if recording.voice else ()


def _bits(recording: Recording, kind: str) -> tuple[str, ...]:
    told = recording.bits != Recording().bits and kind in ("wav", "flac")
    return (f"{recording.bits} bit",) if told else ()


def _band(font: str) -> str:
    return "plain band" if font == PLAIN_BAND else f"band {_font(font)}"


def _font(named: str) -> str:
    """A SoundFont by the name of its file, and the program if one is named."""
    path, program = _font_path(named)
    return f"{path.stem} {program}".strip()


def _font_path(named: str) -> tuple[Path, str]:
    path, colon, program = named.rpartition(":")
    if colon and program.isdigit():
        return Path(path), program
    return Path(named), ""


# --- whole names, and what files are made for -------------------------------------------


def score_name(score: Score, words: Sequence[str] = (), fonts: Sequence[str] = ()) -> FileName:
    """The name of a file of *score*, with *words* on what the file is besides."""
    origins = (score.origin, *(score.band.origins if score.band else ()))
    purpose = [_titled(score.title, origins[:1]), *map(_origin, origins[1:])]
    return FileName(
        file_slug(score.title),
        purpose[0],
        tuple(map(file_slug, (*score_words(score), *words))),
        _purpose(*purpose, *_reeds_of(score.harp), *map(_font_origin, fonts)),
    )


def backing_file_name(
    score: Score, words: Sequence[str] = (), fonts: Sequence[str] = ()
) -> FileName:
    """The name of a file of the band alone, which plays under the silent *score*."""
    band = score.band
    if band is None:
        raise ValueError("no band plays under this score")
    whose = _titled(f"{band.form}, {band.feel}", band.origins)
    return FileName(
        f"{file_slug(band.form)}-{file_slug(band.feel)}",
        whose,
        tuple(map(file_slug, (*backing_words(score, band), *words))),
        _purpose(whose, *_reeds_of(score.harp), *map(_font_origin, fonts)),
    )


def role_chart_name(harp: Harp, words: Sequence[str]) -> FileName:
    """The name of a role chart."""
    whose = "roles"
    return FileName(whose, whose, tuple(map(file_slug, words)), _purpose(whose, *_reeds_of(harp)))


def soundfonts_heard(recording: Recording, *, mixed: bool) -> tuple[str, ...]:
    """The SoundFonts that are heard in a file: in a mix, those of voice and band."""
    fonts = (recording.voice, recording.band if mixed else "")
    return tuple(font for font in fonts if font and font != PLAIN_BAND)


def _titled(title: str, origins: Sequence[str]) -> str:
    return _purpose(title, *map(_origin, origins))


def _purpose(*parts: str) -> str:
    return " | ".join(filter(None, parts))


def _origin(file: str) -> str:
    """Where *file* is: the library, or a digest of its path, which would tell who we are."""
    if not file:
        return ""
    path = Path(file)
    shipped = patterns_dir()
    if not os.path.lexists(path) and os.path.lexists(shipped / path):
        return _LIBRARY
    whole = os.path.realpath(path)  # which bears links in a circle, as resolve does not
    home = os.path.realpath(shipped)
    return _LIBRARY if whole.startswith(home + os.sep) else _digest(whole)


def _font_origin(font: str) -> str:
    return _digest(os.path.realpath(_font_path(font)[0]))


def _reeds_of(harp: Harp) -> tuple[str, ...]:
    """A digest of the twenty reeds, where they are not a shipped layout."""
    if harp.layout in LAYOUTS.values():
        return ()
    return (_digest(repr((harp.layout.blow, harp.layout.draw))),)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]
