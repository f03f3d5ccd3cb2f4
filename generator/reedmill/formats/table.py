"""The table of formats a drill, a band or a course can be made in, one row each.

The commands, their help, packs, the schemas, the pages and the messages all read these rows,
so a new format is a module that writes it and a row here.  A row names the function that
makes its files by a path, ``module:function``, because nothing may be imported before it is
used: ``--help`` reads this table and must stay instant.  ``formats.written`` follows the path,
for ``make`` and ``pack.run``.

This module imports nothing of Reedmill.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from enum import Enum


class Maker(Enum):
    """The part of the program that makes the files of a format."""

    LILYPOND = "LilyPond"  # draws pages, slowly: another program, which may be missing
    SOUND = "sound"  # plays it: files that are written as a stream
    WRITER = "writer"  # a function of ours, at once


class Usual(Enum):
    """The places where a format is made by default."""

    COMMAND = "make on the command line"
    PYTHON = "make()"
    BACKING = "a backing"
    COURSE = "a course without hand_out"


@dataclass(frozen=True, slots=True)
class StepKind:
    """A kind of step of a pack: the code and tools it depends on, and its usual cost."""

    kind: str  # as plans name it: "drawing"
    also: tuple[str, ...] = ()  # modules it starts from besides that of the row's function
    tools: tuple[str, ...] = ()  # packages and programs whose releases count
    seconds: float = 0.0  # of one processor of 2023, for one score; sound: see pack.run.rates
    size: float = 0.0  # bytes, likewise
    pages: float = 0.0  # of its PDF, on average


@dataclass(frozen=True, slots=True)
class InPack:
    """The place of a format in a pack."""

    step: StepKind  # formats of one step are made together
    name: str = ""  # what a course calls it; empty: as the command line does
    note: str = ""  # for the list of what a course may hand out
    brings: tuple[str, ...] = ()  # what it is never handed out without, by name
    worded: bool = True  # its files hold purposes, goals and other words of the score
    together: str = ""  # makes it in a pack, as ``Format.together`` does; empty: as elsewhere
    beside_sound: bool = False  # that function also takes the Recordings beside the files


@dataclass(frozen=True, slots=True)
class Format:
    """One output format: its name, file ending, words, and the code that writes it."""

    name: str  # on the command line
    ending: str  # of its files: ".musicxml"
    kind: str  # of its files, in JSON
    label: str  # of a link to its file
    words: str  # in a sentence: "MusicXML file"
    maker: Maker
    drill: str = ""  # "module:function" that makes it of a Score; empty: no drill is made in it
    band: str = ""  # the same of the Score of a band that plays alone
    together: str = ""  # makes those of many Scores, in their order: one LilyPond draws for all
    follows_sound: bool = False  # the function of a WRITER takes the Recording as well
    each_tempo: bool = False  # tempi that are recorded apart have a file each
    page_each: bool = False  # every page is a file of its own
    usual: tuple[Usual, ...] = ()
    pack: InPack | None = None  # None: a course does not hand it out

    @property
    def pack_name(self) -> str:
        """The name of the format in a course file."""
        return (self.pack and self.pack.name) or self.name

    @property
    def drawn(self) -> bool:
        """True where LilyPond draws its music, be it a page of its own or a part of the file."""
        return self.maker is Maker.LILYPOND or bool(self.together)

    @property
    def together_in_pack(self) -> str:
        """``module:function`` that makes those of many Scores for a pack; may be empty."""
        return (self.pack and self.pack.together) or self.together

    @property
    def roots(self) -> tuple[str, ...]:
        """The modules from which all code that makes the format in a pack can be reached."""
        own = (self.drill.partition(":")[0],)
        also = self.pack.step.also if self.pack else ()
        return (*own, *also, *(_WRITERS if self.maker is Maker.WRITER else ()))

    @property
    def cost(self) -> tuple[float, float]:
        """The usual seconds and bytes of its step for one score."""
        return (self.pack.step.seconds, self.pack.step.size) if self.pack else (0.0, 0.0)


_WRITERS = ("reedmill.formats.written",)
_LILYPOND = ("lilypond", "abjad")
_SHEET = StepKind(
    "sheet", ("reedmill.sheet.engrave",), _LILYPOND, 0.32, 265_000.0, 1.3
)  # with its pictures
_DRAWING = StepKind("drawing", ("reedmill.sheet.engrave",), _LILYPOND, 0.8, 400_000.0, 1.3)
_AUDIO = StepKind(
    "audio",
    ("reedmill.pack.pages.cover", "reedmill.sound.recording.album"),
    ("numpy", "soundfile", "mutagen", "pretty-midi", "pyfluidsynth"),
)

ROWS = (
    Format(
        "sheet", ".pdf", "sheet-pdf", "Sheet, PDF", "sheet", Maker.LILYPOND,
        drill="reedmill.sheet.page:pages",
        usual=(Usual.COMMAND, Usual.PYTHON, Usual.COURSE),
        pack=InPack(_SHEET, note="with its pictures, which the page shows", brings=("png",)),
    ),
    Format(
        "png", ".png", "sheet-png", "Sheet, PNG", "picture of a sheet", Maker.LILYPOND,
        drill="reedmill.sheet.page:pages", page_each=True, usual=(Usual.PYTHON,),
        pack=InPack(_SHEET, note="the pictures alone"),
    ),
    Format(
        "svg", ".svg", "sheet-svg", "Sheet, SVG", "SVG sheet", Maker.LILYPOND,
        drill="reedmill.sheet.page:pages", page_each=True, usual=(Usual.PYTHON,),
        pack=InPack(_DRAWING),
    ),
    Format(
        "midi", ".mid", "midi", "MIDI", "MIDI file", Maker.WRITER,
        drill="reedmill.formats.midi:midi_bytes", band="reedmill.formats.midi:backing_midi_bytes",
        follows_sound=True, each_tempo=True,
        usual=(Usual.COMMAND, Usual.PYTHON, Usual.BACKING),
        pack=InPack(StepKind("midi", (), ("mido",), 0.005, 800.0), worded=False),
    ),
    Format(
        "wav", "", "audio", "Sound", "audio", Maker.SOUND,  # the endings are those of its types
        drill="reedmill.sound.recording.record:sound_files",
        band="reedmill.sound.recording.record:sound_files",
        follows_sound=True, each_tempo=True,
        usual=(Usual.COMMAND, Usual.PYTHON, Usual.BACKING, Usual.COURSE),
        pack=InPack(_AUDIO, name="audio", worded=False),
    ),
    Format(
        "tab", ".txt", "tab", "Plain tab", "text tab", Maker.WRITER,
        drill="reedmill.formats.text_tab:tab_text",
        usual=(Usual.COMMAND, Usual.PYTHON, Usual.COURSE),
        pack=InPack(StepKind("tab", (), (), 0.003, 450.0)),
    ),
    Format(
        "html", ".html", "html", "For screen readers", "page for screen readers", Maker.WRITER,
        drill="reedmill.formats.web_page:html_bytes",
        pack=InPack(
            StepKind("html", (), (), 0.005, 4_500.0), note="a page in words, for screen readers"
        ),
    ),
    Format(
        "braille", ".brf", "braille", "Braille music", "braille music file", Maker.WRITER,
        drill="reedmill.formats.braille:brf_bytes",
    ),
    Format(
        "musicxml", ".musicxml", "musicxml", "MusicXML", "MusicXML file", Maker.WRITER,
        drill="reedmill.formats.musicxml:musicxml_bytes",
        pack=InPack(StepKind("musicxml", (), (), 0.005, 20_000.0)),
    ),
    Format(
        "page", ".page.html", "practice-page", "Practice page", "practice page", Maker.WRITER,
        drill="reedmill.page.practice_page:practice_page",
        together="reedmill.page.practice_page:practice_pages", usual=(Usual.COURSE,),
        pack=InPack(
            StepKind(
                "practice-page", ("reedmill.sheet.engrave", "reedmill.pack.run.pages_in_pack"),
                (*_LILYPOND, "jinja2", "markupsafe", "numpy"), 0.6, 140_000.0,
            ),
            note="the practice page, which plays, listens and shows a bend moving",
            together="reedmill.pack.run.pages_in_pack:pages_in_pack",
            beside_sound=True,
        ),
    ),
    Format(
        "json", ".json", "json", "Data", "data file", Maker.WRITER,
        drill="reedmill.formats.data:data_bytes", follows_sound=True,
    ),
    Format(
        "chart", ".pdf", "chart-pdf", "Chord chart, PDF", "chord chart", Maker.LILYPOND,
        band="reedmill.sheet.chord_chart:chord_chart", usual=(Usual.BACKING,),
    ),
    Format(
        "text", ".txt", "text", "Chords", "text of the chords", Maker.WRITER,
        band="reedmill.formats.band_text:band_text",
    ),
)  # fmt: skip
"""All rows, in the order in which help names them."""

DRILL_FORMATS = {row.name: row for row in ROWS if row.drill}
"""What a drill is made in, by the names of the command line."""

BAND_FORMATS = {row.name: row for row in ROWS if row.band}
"""What a band that plays alone is made in, by the names of the command line."""


def _place_in_course(row: Format) -> tuple[int, str]:
    """Return a sort key: pages first, sound last, written files between them by name."""
    match row.maker:
        case Maker.LILYPOND:
            return 0, ""
        case Maker.WRITER:
            return 1, row.name
        case Maker.SOUND:
            return 2, ""


_HANDED_OUT = [row for row in ROWS if row.pack]
PACK_FORMATS = {row.pack_name: row for row in sorted(_HANDED_OUT, key=_place_in_course)}
"""What a course can hand out, by the names it has there."""

STEPS = {row.pack.step.kind: row for row in reversed(_HANDED_OUT) if row.pack}
"""The kinds of work that make them, each with the first format it makes."""


def usual_in(where: Usual, among: dict[str, Format]) -> tuple[str, ...]:
    """Return the names *among* those made by default in *where*.

    >>> usual_in(Usual.COURSE, PACK_FORMATS)
    ('sheet', 'page', 'tab', 'audio')
    """
    return tuple(name for name, row in among.items() if where in row.usual)


def made_by(maker: Maker, names: Container[str], among: dict[str, Format]) -> list[Format]:
    """Return the rows of those *names* that *maker* makes, in the order of the table.

    >>> [row.ending for row in made_by(Maker.LILYPOND, ["tab", "svg"], DRILL_FORMATS)]
    ['.svg']
    """
    return [row for name, row in among.items() if name in names and row.maker is maker]


def slowest_first(maker: Maker) -> list[str]:
    """Return the kinds of steps of a pack that *maker* makes, the slowest first.

    >>> slowest_first(Maker.LILYPOND)
    ['drawing', 'sheet']
    """
    kinds = [kind for kind, row in STEPS.items() if row.maker is maker]
    return sorted(kinds, key=lambda kind: STEPS[kind].cost, reverse=True)


DRILL_KINDS = tuple(
    row.kind
    for maker in (Maker.LILYPOND, Maker.SOUND, Maker.WRITER)
    for row in made_by(maker, DRILL_FORMATS, DRILL_FORMATS)
)
"""The kinds of file of a drill in the order in which they are told: pages, sound, the rest."""
