"""A drill as one HTML file: its music, its ladders, and the program that plays and listens.

The page needs nothing but itself and asks for nothing: its policy forbids every connection.
What it plays is made in the browser from the score's own data (``formats.data``), with the
harmonics of our reference tones; what it hears stays in it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files as package_files
from itertools import pairwise, zip_longest
from typing import TYPE_CHECKING

from markupsafe import Markup

from reedmill.base.page_templates import page_templates, policy_digest
from reedmill.formats.data import score_data
from reedmill.harp.together import hole_numbers
from reedmill.page.page_ladders import PageLadder, ladders
from reedmill.page.page_music import PageMusic, ScreenLines, page_music
from reedmill.page.page_sound import drone_facts, sound_facts
from reedmill.page.page_takes import harp_notes, take_facts
from reedmill.score.how_tuned import how_tuned
from reedmill.score.score import Breathing, Note, Score
from reedmill.score.sign_key import ExplainedSign, explained_signs
from reedmill.sheet.engrave import Engraver, Hung
from reedmill.sheet.screens import SCREENS, music_for_screens
from reedmill.theory.pitch import with_signs

if TYPE_CHECKING:
    from jinja2 import Template

_SHARES = (0.4, 2.0)  # of the written tempo
# of a note in the data of a score: its place, its chord, and what its tab and Hz say already
_UNUSED = frozenset({
    "line", "column", "in_chord", "target", "hole", "breath", "bend", "midi", "cents",
})  # fmt: skip
_MOST_BYTES = 200_000  # of a page, while it can be set for fewer widths


@dataclass(frozen=True, slots=True)
class PageNote:
    """One note as it is played, for whoever does not see the staff."""

    index: int
    spoken: str  # for a screen reader


@dataclass(frozen=True, slots=True)
class PageBar:
    """One bar of a page; silence between its notes is a rest."""

    number: int
    notes: tuple[PageNote, ...]


@dataclass(frozen=True, slots=True)
class PagePart:
    """A section of a page, or all of it where there are none."""

    heading: str  # foreign text, may be empty
    bars: tuple[PageBar, ...]
    screens: tuple[ScreenLines, ...]


@dataclass(frozen=True, slots=True)
class PageBand:
    """The sound file beside a page that has the band in it."""

    ending: str  # of its name, where the page's has .page.html
    first_s: float  # from its start to the first beat
    tempo: int
    tones: bool  # that are in it too


@dataclass(frozen=True, slots=True)
class _Shown:
    """The values the template shows."""

    score: Score
    harp: str
    key: str
    tuning: str  # A4, intonation and the player's own harp; has foreign text
    facts: str  # how it is played, a sentence; may be empty
    chords: bool  # whether a band's chords stand over the staff
    signs: list[ExplainedSign]  # that no other drill needs
    ladders: tuple[PageLadder, ...]
    tempo_range: tuple[int, int]
    drill: Markup
    page: Markup
    home: str  # address of the page that leads here; empty: it stands alone
    band: bool  # that plays from a file beside it


def practice_page(score: Score) -> bytes:
    """Return the page of *score* in UTF-8; errors as ``practice_pages``."""
    [page] = practice_pages([score])
    return page


def practice_pages(
    scores: Sequence[Score],
    engraver: Engraver | None = None,
    *,
    home: str = "",
    bands: Sequence[PageBand | None] = (),
) -> list[bytes]:
    """Return the pages of *scores* in UTF-8, whose music one LilyPond draws.

    *engraver* is one for SVG that was started beforehand; *home* is the address of the page that
    lists them, where there is one; *bands* are the files beside the pages that play along.
    Raises ``PatternError`` for a value too short to be drawn, ``RenderError`` where LilyPond is
    missing or fails.
    """
    with ExitStack() as stack:
        # first: it starts while the music is made
        drawer = engraver or stack.enter_context(Engraver(svg=True))
        drawn = music_for_screens(scores)
        try:
            drawer.feed(drawn.source)
            shown = [  # while it draws, as all here
                _shown(score, home, band) for score, band in zip_longest(scores, bands)
            ]
            _template()
            pictures = drawer.pictures(len(drawn.first_bars), "svg", bare=True)
        except Hung as hang:
            hang.drawn //= len(SCREENS)  # pages, where LilyPond counts pictures
            raise
    starts = range(0, len(pictures), len(SCREENS))
    sheets = [slice(start, start + len(SCREENS)) for start in starts]
    music = [
        page_music(score, drawn.first_bars[those], pictures[those])
        for score, those in zip(scores, sheets, strict=True)
    ]
    return [_rendered(each, staff) for each, staff in zip(shown, music, strict=True)]


def page_around(score: Score, music: PageMusic) -> bytes:
    """Return the page of *score* with *music* that was drawn before."""
    return _rendered(_shown(score), music)


def _shown(score: Score, home: str = "", band: PageBand | None = None) -> _Shown:
    """Return all of a page but its music."""
    return _Shown(
        score=score,
        harp=with_signs(score.harp.label),
        key=with_signs(score.key_words),
        tuning=", ".join(how_tuned(score)),
        facts=_sentence(_facts(score)),
        chords=score.band is not None,
        signs=explained_signs(score),
        ladders=ladders(score),
        tempo_range=(round(score.tempo_bpm * _SHARES[0]), round(score.tempo_bpm * _SHARES[1])),
        drill=_json({"drills": [_timeline(score)]}),
        page=_json(_page_data(score) | {"band": band and asdict(band)}),
        home=home,
        band=band is not None,
    )


def _timeline(score: Score) -> dict[str, object]:
    """Return the data of *score* without what no page needs, so that a line moved changes none.

    Its breaths are in the lengths of its notes, in its music and in what is said of each note.
    """
    data = score_data(score)
    notes = [
        {name: value for name, value in each.items()
         if name not in _UNUSED and value is not None and value is not False}
        for each in data["notes"]
    ]  # fmt: skip
    return {name: each for name, each in data.items() if name != "breaths"} | {"notes": notes}


def _rendered(shown: _Shown, music: PageMusic) -> bytes:
    """Return the page; one too large for a phone's network is set for fewer widths."""
    page = _filled(shown, music)
    while len(page) >= _MOST_BYTES and len(music.screens) > 1:
        music = music.slimmer()
        page = _filled(shown, music)
    return page


def _filled(shown: _Shown, music: PageMusic) -> bytes:
    style, script = _asset("page.css") + _asset("takes.css"), _asset("page.js")
    digests = {"style_digest": policy_digest(style), "script_digest": policy_digest(script)}
    staff = {"symbols": music.symbols, "parts": list(_parts(shown.score, music))}
    page = _template().render(page=shown, style=style, script=script, **staff, **digests)
    return page.encode()


def _page_data(score: Score) -> dict[str, object]:
    return {
        "pulse": float(score.meter.pulse),
        "bar_beats": score.meter.beats,
        "reeds": [asdict(each) for each in ladders(score)],
        "harp": harp_notes(score),
        "sounds": sound_facts(score),
        "drones": drone_facts(score),
        "ear": take_facts(score),
    }


def _parts(score: Score, music: PageMusic) -> Iterator[PagePart]:
    """Return the sections of *score*, each of which begins a line of music."""
    bar = score.meter.beats
    headings = {int(start // bar): str(name) for start, name in score.sections}
    bars = _bars(score)
    starts = sorted({0, *headings})
    for start, end in pairwise([*starts, score.bars]):
        screens = tuple(ScreenLines(each.name, each.between(start, end)) for each in music.screens)
        yield PagePart(headings.get(start, ""), tuple(bars[start:end]), screens)


def _bars(score: Score) -> list[PageBar]:
    numbered: dict[int, list[PageNote]] = {number: [] for number in range(score.bars)}
    for index, note in enumerate(score.notes):
        spoken = _note(index, note, score.held_over(note), score.breath_after(note))
        numbered[int(note.start // score.meter.beats)].append(spoken)
    return [PageBar(number + 1, tuple(notes)) for number, notes in numbered.items()]


def _facts(score: Score) -> Iterator[str]:
    if score.tempo_goal_bpm:
        way = "down" if score.tempo_goal_bpm < score.tempo_bpm else "up"
        yield f"from {score.tempo_bpm} {way} to {score.tempo_goal_bpm} bpm"
    if score.embouchure:
        yield score.embouchure.label
    if any(note.beside for note in score.notes):
        yield "several holes at once are played to you and not judged"
    if score.echoes:
        yield "with bars left open for your answer"


def _sentence(parts: Iterator[str]) -> str:
    """Return *parts* as a sentence, nothing for none.

    >>> _sentence(iter(["from 56 up to 84 bpm", "tongue on G"]))
    'From 56 up to 84 bpm; tongue on G.'
    """
    said = "; ".join(parts)
    return said and f"{said[0].upper()}{said[1:]}."


def _note(index: int, note: Note, held: tuple[int, ...], breath: Breathing | None) -> PageNote:
    names = " and ".join(_spoken(with_signs(each.pitch.note)) for each in note.sounded)
    degrees = " and ".join(_spoken(each.degree.printed) for each in note.sounded)
    degree = f"degrees {degrees}" if note.beside else f"degree {degrees}"
    spoken = [*note.style.said, note.words, names, degree, _in_words(note.length)]
    slide = note.slide_beats
    spoken += [] if slide is None else [f"slid to over {_in_words(slide)}"]
    holes = "hole" if len(held) == 1 else "holes"
    spoken += [f"{holes} {hole_numbers(held)} held on"] if held else []
    spoken += [note.embouchure.value] if note.embouchure else []
    spoken += ["accented"] if note.accent else []
    spoken += [f"then breathe {breath.way.value}"] if breath else []
    return PageNote(index, ", ".join(spoken))


def _spoken(name: str) -> str:
    """Return the *name* of a note or degree as it is read aloud.

    >>> _spoken("Bq"), _spoken("♭3")
    ('B a quarter tone low', '♭3')
    """
    return f"{name[:-1]} a quarter tone low" if name.endswith("q") else name


def _in_words(beats: Fraction) -> str:
    return "1 beat" if beats == 1 else f"{beats} beats"


def _json(data: object) -> Markup:
    """Return *data* as JSON in HTML, where nothing may look like the end of the block."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return Markup(text)  # noqa: S704  every letter that HTML knows is an escape of JSON


@cache
def _asset(name: str) -> Markup:
    text = (package_files("reedmill.page") / "assets" / name).read_text("utf-8")
    if name.endswith(".css"):
        text = _tight(text)
    return Markup(text)  # noqa: S704  a file of this package


def _template() -> Template:
    found = page_templates("reedmill.page", "assets", last_newline=False)
    return found.get_template("page.html")


def _tight(style: str) -> str:
    """Return CSS without its comments and the spaces that say nothing.

    >>> _tight("a , b {  color: red;  }  /* c */")
    'a,b{color:red}'
    """
    plain = re.sub(r"\s+", " ", re.sub(r"/\*.*?\*/", "", style, flags=re.DOTALL))
    close = re.sub(r" ?([{};,]) ?", r"\1", plain).replace(";}", "}").strip()
    return re.sub(r"([{;][\w-]+): ", r"\1:", close)
