"""File names: the words that tell a file from the drill as it is written.

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
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.shipped import patterns_dir
from reedmill.base.text import file_slug
from reedmill.formats.table import Format
from reedmill.harp import Harp, Reed
from reedmill.harp.chord_roles import BLUES
from reedmill.harp.layouts import LAYOUTS
from reedmill.make.made_files import FileName
from reedmill.practice.practice import PLAIN_BAND, Click, ClickLevel, Practice, Recording
from reedmill.score.arrangement import Arrangement
from reedmill.score.file_words import absent_words, harp_words, score_words, tuning_words
from reedmill.score.rung_questions import Asking, drill_number
from reedmill.score.score import Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position

if TYPE_CHECKING:
    from reedmill.sheet.look import Look

USUAL_CHORUSES = 4
_USUAL_REEDS = tuple(map(Reed.parse, ("-3", "-3'", "-3''", "-3'''")))
_CROSS_HARP = Position(2)
_LIBRARY = "library"

# --- the parts of a name ----------------------------------------------------------------


def backing_words(score: Score, band: Arrangement) -> Iterator[str]:
    """Yield key, tempo, harp and position of a backing, then what is unusual about it."""
    yield band.key.name.replace("#", " sharp")
    yield f"{band.tempo_bpm} bpm"
    yield f"{harp_words(score.harp)}-harp"
    yield score.position.ordinal
    if band.choruses != USUAL_CHORUSES:
        yield f"{band.choruses} chorus{'' if band.choruses == 1 else 'es'}"
    if band.seed:
        yield f"seed {band.seed}"
    yield from band.choices
    yield from absent_words(band)
    yield from tuning_words(score.reference_hz, score.intonation)


def chart_words(
    harp: Harp, reeds: Sequence[Reed], chords: Sequence[Chord], position: Position
) -> Iterator[str]:
    """Yield harp, reeds, position and chords of a role chart, without the usual ones."""
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
    """Return a reed in a file name, where signs are not allowed: ``draw 3 bent 2``."""
    natural = f"{reed.breath.value} {reed.hole}"
    if reed.over:
        return f"{natural} over"
    steps = [str(reed.bend)] if reed.bend else []
    steps += ["quarter"] if reed.quarter else []
    return f"{natural} bent {' '.join(steps)}" if steps else natural


def page_words(look: Look | None) -> tuple[str, ...]:
    """Return what is unusual about a page."""
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
    """Return how a drill is practised, unless it is once from beginning to end.

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


def tones_words(recording: Recording, kind: str) -> tuple[str, ...]:
    """Return the words that tell the tones of *recording* from others, in a file of *kind*."""
    words = {
        "pure": recording.pure,
        "drone first": bool(recording.drone) and recording.practice.count_in_bars > 0,
        "wide": recording.wide,
    }
    there = tuple(word for word, asked in words.items() if asked)
    return (
        *practice_words(recording.practice),
        *_lead_in(recording),
        *there,
        *_voice(recording),
        *_bits(recording, kind),
    )


def mix_words(recording: Recording, kind: str) -> tuple[str, ...]:
    """Return the words that tell a mix and its stems from those of other recordings."""
    words = {
        "without tones": not recording.guided and not recording.backing,
        "band alone": not recording.guided and recording.backing and bool(recording.drone),
        "pure": recording.pure,
        _band(recording.band): bool(recording.band),
        **_mixed_words(recording),
        "wide": recording.wide,
    }
    there = tuple(word for word, asked in words.items() if asked)
    practised = practice_words(recording.practice)
    said = (*practised, *_lead_in(recording), *_voice(recording))
    return (*said, *there, *_level(recording), *_bits(recording, kind))


def _mixed_words(recording: Recording) -> dict[str, bool]:
    return {
        f"drone {' '.join(recording.drone[1:])}": bool(recording.drone),
        "click": recording.click is Click.BEATS,
        "offbeats": recording.click is Click.OFFBEATS,
        "count-in alone": recording.click is Click.COUNT_IN,
    }


def writer_words(row: Format, recording: Recording, *, band: bool) -> tuple[str, ...]:
    """Return the words that tell a text or data file from that of another recording."""
    if not row.follows_sound:
        return ()
    return midi_words(recording, band=band) if row.each_tempo else data_words(recording)


def midi_words(recording: Recording, *, band: bool) -> tuple[str, ...]:
    """Return the words that tell a MIDI file from that of another recording.

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


def question_words(asking: Asking) -> tuple[str, ...]:
    """Return what is unusual about a recording of questions."""
    usual = Asking()
    words = {
        f"{asking.questions} question{'' if asking.questions == 1 else 's'}": (
            asking.questions != usual.questions
        ),
        f"pause {asking.pause_s}": asking.pause_s != usual.pause_s,
        "told": asking.told,
        f"seed {asking.seed}": asking.seed != usual.seed,
    }
    return tuple(word for word, unusual in words.items() if unusual)


def data_words(recording: Recording) -> tuple[str, ...]:
    """Return the words that tell a JSON file from that of another recording."""
    words = _mixed_words(recording) | {"apart": recording.apart}
    there = (word for word, asked in words.items() if asked)
    return (*practice_words(recording.practice), *_lead_in(recording), *there)


def _lead_in(recording: Recording) -> tuple[str, ...]:
    """Return the silence before the sound, unless it is the usual one."""
    told = recording.lead_in_s != Recording().lead_in_s
    return (f"lead-in {float(recording.lead_in_s):.6g}",) if told else ()


def _level(recording: Recording) -> tuple[str, ...]:
    """Return how loud the click is, where there is one that is not as usual."""
    told = recording.clicking and recording.click_level is not ClickLevel.EVEN
    return (f"{recording.click_level.value} click",) if told else ()


def _voice(recording: Recording) -> tuple[str, ...]:
    return (f"voice {_font(recording.voice)}",) if recording.voice else ()


def _bits(recording: Recording, kind: str) -> tuple[str, ...]:
    told = recording.bits != Recording().bits and kind in ("wav", "flac")
    return (f"{recording.bits} bit",) if told else ()


def _band(font: str) -> str:
    return "plain band" if font == PLAIN_BAND else f"band {_font(font)}"


def _font(named: str) -> str:
    """Return the name of a SoundFont's file, and its program if one is named."""
    path, program = _font_path(named)
    return f"{path.stem} {program}".strip()


def _font_path(named: str) -> tuple[Path, str]:
    path, colon, program = named.rpartition(":")
    if colon and program.isdigit():
        return Path(path), program
    return Path(named), ""


# --- whole names, and what files are made for -------------------------------------------


def score_name(score: Score, words: Sequence[str] = (), fonts: Sequence[str] = ()) -> FileName:
    """Return the name of a file of *score*; *words* say what else it shows."""
    origins = (score.origin, *(score.band.origins if score.band else ()))
    purpose = [_titled(score.title, origins[:1]), *map(_origin, origins[1:])]
    return FileName(
        file_slug(score.title),
        purpose[0],
        tuple(map(file_slug, (*score_words(score), *words))),
        _purpose(*purpose, *_reeds_of(score.harp), *map(_font_origin, fonts)),
    )


def take_file_name(score: Score, words: Sequence[str], take: Path) -> FileName:
    """Return the name of a file on what was heard of *score* in the file *take*."""
    name = score_name(score, words)
    return replace(name, purpose=_purpose(name.purpose, *words, _digest(os.path.realpath(take))))


def backing_file_name(
    score: Score, words: Sequence[str] = (), fonts: Sequence[str] = ()
) -> FileName:
    """Return the name of a file of the band alone, which plays under the silent *score*.

    ``ValueError`` where *score* has no band.
    """
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
    """Return the name of a role chart."""
    whose = "roles"
    return FileName(whose, whose, tuple(map(file_slug, words)), _purpose(whose, *_reeds_of(harp)))


def case_chart_name(harps: Sequence[Harp], words: Sequence[str]) -> FileName:
    """Return the name of the chart of a case of harps."""
    whose = "keys"
    names = tuple(file_slug(each) for each in (*map(harp_words, harps), *words))
    own = (each for harp in harps for each in _reeds_of(harp))
    return FileName(whose, whose, names, _purpose(whose, *own))


def dictation_file_name(score: Score, title: str, words: Sequence[str] = ()) -> FileName:
    """Return the name of a file that is answered by ear; *title* is a slug for its kind.

    The drill's number stands for its title, which may tell what is played.
    """
    numbered = f"{title}-{drill_number(score)}"
    whose = _titled(f"{title} of {score.title}", (score.origin,))
    told = map(file_slug, (*score_words(score), *words))
    return FileName(numbered, whose, tuple(told), _purpose(whose, *_reeds_of(score.harp)))


def soundfonts_heard(recording: Recording, *, mixed: bool) -> tuple[str, ...]:
    """Return the SoundFonts heard in a file; in a mix, those of voice and band."""
    fonts = (recording.voice, recording.band if mixed else "")
    return tuple(font for font in fonts if font and font != PLAIN_BAND)


def _titled(title: str, origins: Sequence[str]) -> str:
    return _purpose(title, *map(_origin, origins))


def _purpose(*parts: str) -> str:
    return " | ".join(filter(None, parts))


def _origin(file: str) -> str:
    """Return the library, or a digest of the path of *file*: the path would name the user."""
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
    """Return a digest of the twenty reeds, unless they are a shipped layout."""
    rows = () if harp.layout in LAYOUTS.values() else (harp.layout.blow, harp.layout.draw)
    if harp.own:
        rows = (*rows, harp.own.blow, harp.own.draw)
    return (_digest(repr(rows)),) if rows else ()


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]
