"""The work of each step: everything its renderer is given, and nothing it does not use.

A work is plain data that can be sent to another process or machine.  Where a renderer does
not use a part of a score, that part is left out, so that changing it changes no step.
"""

from __future__ import annotations

import pickle
import zlib
from dataclasses import dataclass, replace

from reedmill.base.text import NO_TEXT
from reedmill.formats.table import PACK_FORMATS, Format, Maker, made_by
from reedmill.harp import Harp, Reed
from reedmill.pack.steps.facts import (
    Facts,
    digest,
    look_facts,
    plain_facts,
    recording_facts,
    score_facts,
)
from reedmill.pack.steps.versions import tool_releases
from reedmill.practice.practice import Recording
from reedmill.score.score import Score
from reedmill.sheet.letters import fonts_drawing, odd, score_texts
from reedmill.sheet.look import Look

WRITTEN = {row.kind: row for row in made_by(Maker.WRITER, PACK_FORMATS, PACK_FORMATS)}
"""The kinds of file that are written at once, each with its row."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The work of a sheet as PDF, and with *png* as pictures too."""

    score: Score
    look: Look
    png: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """The work of a sheet as SVG, whose notes can be found by their ids."""

    score: Score
    look: Look


@dataclass(frozen=True, slots=True)
class Page:
    """The work of a page of a book besides its sheets: the body of one LilyPond book."""

    body: str
    look: Look


@dataclass(frozen=True, slots=True)
class Roles:
    """The work of a role chart: the role of reeds in every position."""

    harp: Harp
    reeds: tuple[Reed, ...]
    look: Look


@dataclass(frozen=True, slots=True)
class ScoreFile:
    """The work of a score in a text or data format: MIDI, text tab..."""

    score: Score
    form: str  # of WRITTEN
    recording: Recording | None = None  # what it follows of the sound beside it


@dataclass(frozen=True, slots=True)
class SoundWork:
    """The work of a recording."""

    score: Score
    recording: Recording
    art: tuple[str, str] | None = None  # title and label of the cover, where a type carries one


@dataclass(frozen=True, slots=True)
class Leaf:
    """Pages of a book, whose PDF is in the store."""

    title: str  # printable
    file: str  # absolute path
    sha256: str  # of what is in it
    label: str = ""  # printable
    detail: str = ""  # printable
    deep: bool = False  # belongs to the last leaf that is not
    mouth: str = ""  # printable: the plan for the mouth, which tells versions apart


@dataclass(frozen=True, slots=True)
class Volume:
    """The work of a book, bound from pages made before; all texts are printable."""

    title: str
    leaves: tuple[Leaf, ...]
    look: Look
    author: str = ""
    subject: str = ""
    running: str = ""
    cover: bool = False
    contents: bool = False


Work = Sheet | Drawing | Page | Roles | ScoreFile | SoundWork | Volume


def sheet(score: Score, look: Look, *, png: bool) -> Sheet:
    """Return the work of a sheet."""
    return Sheet(replace(score, warnings=()), look, png)


def drawing(score: Score, look: Look) -> Drawing:
    """Return the work of a sheet as SVG."""
    return Drawing(replace(score, warnings=()), look)


def score_file(score: Score, form: str, recording: Recording | None = None) -> ScoreFile:
    """Return the work of a file in the format *form*, of WRITTEN.

    MIDI says nothing of purposes, and follows the *recording* that is made of the same row; a
    practice page plays the band of its files.
    """
    row = WRITTEN[form]
    worded = row.pack is None or row.pack.worded
    told = replace(score, warnings=()) if worded else _without_words(score)
    return ScoreFile(told, form, recording and _followed(row, recording))


def _followed(row: Format, recording: Recording) -> Recording | None:
    """Return what a file of *row* says of *recording*, or ``None`` where that is nothing."""
    if row.follows_sound:
        return _as_in_midi(recording)
    if row.pack and row.pack.beside_sound and recording.backing:
        plain = Recording()
        return replace(
            recording, voice="", band="", wide=False, loop=False, bits=plain.bits, verify=False,
            click_level=plain.click_level,
        )  # fmt: skip
    return None


def _as_in_midi(recording: Recording) -> Recording:
    """Return *recording* without the options that only a sound file has."""
    plain = Recording()
    return replace(
        recording, voice="", pure=False, band="", stems=False, wide=False, loop=False,
        types=plain.types, bits=plain.bits, verify=False, click_level=plain.click_level,
    )  # fmt: skip


def sound(score: Score, recording: Recording, art: tuple[str, str] | None = None) -> SoundWork:
    """Return the work of a recording, without the texts of a drill that do not sound.

    Where there is no LilyPond to draw the cover, it goes without one.
    """
    drawn = tool_releases()["lilypond"] != "none" and set(recording.types) - {"wav"}
    pictured = art if drawn else None
    return SoundWork(_without_words(score), recording, pictured)


def _without_words(score: Score) -> Score:
    return replace(
        score,
        about=NO_TEXT,
        listen=NO_TEXT,
        level=None,
        tempo_goal_bpm=None,
        tempi_bpm=(),
        warnings=(),
    )


def facts_of(work: Work) -> Facts:
    """Return what decides the bytes of *work*, except the code that makes it."""
    return _own_facts(work) | _font_facts(work)


def _font_facts(work: Work) -> Facts:
    """Return this machine's fonts for letters LilyPond's own lack, if there are any."""
    fonts = fonts_used(work)
    return {} if fonts is None else {"fonts of this machine": fonts}


def fonts_used(work: Work) -> str | None:
    """Return font names; ``none`` where no font has a letter, ``None`` where none is needed."""
    words = " ".join(_drawn(work))
    if words.isascii() or not odd(words):
        return None
    return "; ".join(font.name for font in fonts_drawing(words)) or "none"


def _drawn(work: Work) -> tuple[str, ...]:
    """Return the words that LilyPond draws for *work*."""
    match work:
        case Sheet(score) | Drawing(score):
            return score_texts(score)
        case Page(body):
            return (body,)
        case SoundWork(art=tuple(art)):
            return art
        case Volume(title, leaves, running=running):
            told = (word for each in leaves for word in (each.title, each.label, each.detail))
            return (title, running, *told)
        case _:
            return ()


def _own_facts(work: Work) -> Facts:
    match work:
        case Sheet(score, look, png):
            return score_facts(score) | look_facts(look) | plain_facts(pictures=png)
        case Drawing(score, look):
            return score_facts(score) | look_facts(look)
        case Page(body, look):
            return plain_facts(what_it_says=f"#{body}") | look_facts(look)
        case Roles(harp, reeds, look):
            named = plain_facts(harp=harp.name, layout=digest(harp.layout), reeds=reeds)
            return named | look_facts(look)
        case ScoreFile(score, _, recording):
            return score_facts(score) | (recording_facts(recording) if recording else {})
        case SoundWork(score, recording, art):
            facts = score_facts(score) | recording_facts(recording)
            drawer = {"lilypond": tool_releases()["lilypond"]}
            return facts | (plain_facts(picture=art) | drawer if art else {})
        case Volume():
            return volume_facts(work)


def volume_facts(volume: Volume) -> Facts:
    """Return what decides a book: its own words, and the hash of each leaf by name."""
    own = plain_facts(
        title=volume.title, author=volume.author, subject=volume.subject, running=volume.running,
        cover=volume.cover, contents=volume.contents,
    )  # fmt: skip
    order = [(each.title, each.label, each.detail, each.mouth, each.deep) for each in volume.leaves]
    held: Facts = {}
    for number, each in enumerate(volume.leaves):
        name = '"' + " ".join(filter(None, (each.label, each.title, each.detail, each.mouth))) + '"'
        name = f"{name} ({number})" if name in held else name
        held[name] = f"#{each.sha256[:16]}"
    return held | own | plain_facts(order=order) | look_facts(volume.look)


def kind_of(work: Work) -> str:
    """Return the kind of step: ``sheet``, ``drawing``, ``page``, ``midi``, ``tab``, ``audio``..."""
    match work:
        case ScoreFile(_, form):
            return form
        case SoundWork():
            return "audio"
        case Volume():
            return "book"
        case _:
            return type(work).__name__.lower()


def pack_work(work: Work) -> bytes:
    """Serialize *work* for another process, small enough to keep a thousand."""
    return zlib.compress(pickle.dumps(work, protocol=5), 1)


def unpack_work(packed: bytes) -> Work:
    """Restore what ``pack_work`` packed; only ever in a process of our own."""
    found: Work = pickle.loads(zlib.decompress(packed))  # noqa: S301  made by pack_work
    return found
