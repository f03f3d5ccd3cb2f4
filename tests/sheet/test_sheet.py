"""The printed sheet: what other programs read in its PDF, and what LilyPond plays from it.

The notation is checked against music21, which knows written values and joins ties by
itself, and against LilyPond's own MIDI output of the music on the page.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import tempfile
import unicodedata
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import lilypond
import mido
import music21
import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill.base.errors import PatternError, RenderError
from reedmill.expand import expand
from reedmill.formats.text_tab import tab_lines
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import find_drills, shipped, usual_position
from reedmill.make.material import make
from reedmill.score.notation import NotatedValue, bars
from reedmill.score.repeats import printed
from reedmill.score.score import Note, Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.folded_tab import folded_tab
from reedmill.sheet.frame import preamble
from reedmill.sheet.look import Look
from reedmill.sheet.music import music
from reedmill.sheet.page import pages
from reedmill.theory.pitch import Pitch
from reedmill.theory.positions import Position
from tunes import score_from

HOME = "Home from every rung"

Sheets = list[tuple[Score, pypdf.PdfReader]]
Played = list[tuple[Score, mido.MidiFile]]


def on(title: str, harp: str, position: int | None = None) -> Score:
    [drill] = find_drills(title)
    where = Position(position) if position else usual_position(drill)
    return expand(drill, Harp.parse(harp), where)


# These flow on to a second page, all others fit on one.
TWO_PAGES = {"Answer in one bar", "Boats at low water", "Lamplighter", "Larks over stubble"}
# And the page of these is so full that only the row under the staff has their tab.
NO_PLAIN_TAB = {"Answer in two bars", "An octave out and home"}
FIRST_LESSONS = [
    HOME, "Lean on the rung before", "Step from the rung before", "Two bars home",
    "Home from every rung, hole 10 blow", "Question on four, answer on two",
]  # fmt: skip


# Rhythms that need ties, dots, triplets and rests, in simple and compound meters.
TUNES = [
    score_from("-2:3/2 -3:1/2 r -3' 4:7/2 -4:1/2", title="Ties over a bar"),
    score_from("-2:1/3 -3:1/3 -3':1/3 -2:2/3 r:1/3 -3:4/3 4:5/3", title="Triplets"),
    score_from("-2:1/4 ~-2'':3/4 -2:5/4 r:3/4 4:9", meter=(3, 4), title="In three"),
    score_from("4 -4 4 -5:3/2 5:1/2 r 6:4 -6:2", meter=(6, 8), title="Six eight", harp="low F"),
    score_from("8:5 r:2 8':7 ~8:3", meter=(12, 8), position=1, title="Twelve eight", harp="G"),
    score_from("-1:1/6 1:1/6 -1:2/3 -2:1/8 2:3/8 -3:1/2", harp="F#", position=12, title="Small"),
]
DRILLS = [
    *(on(title, "C") for title in FIRST_LESSONS),
    *(
        on(each.drill.title, "C")
        for each in shipped()[::4]
        if each.drill.title not in FIRST_LESSONS
    ),
    *(on(HOME, harp) for harp in ("G", "F#", "low F")),
    *(on("Two bars home", harp, 3) for harp in ("G", "F#", "low F")),
    on("Home from every rung, hole 10 blow", "F#", 1),
]


@pytest.fixture(scope="module")
def sheets() -> Sheets:
    """Every drill and tune with its sheet, from one run of LilyPond."""
    scores = [*DRILLS, *TUNES]
    with Engraver() as engraver:
        engraver.feed(pages(scores))
        pdfs = engraver.sheets(len(scores))
    readers = [pypdf.PdfReader(io.BytesIO(pdf)) for pdf in pdfs]
    return list(zip(scores, readers, strict=True))


# --- the page --------------------------------------------------------------------------


def test_every_drill_takes_the_pages_it_should_of_a4(sheets: Sheets) -> None:
    for score, reader in sheets:
        assert len(reader.pages) == (2 if score.title in TWO_PAGES else 1), score.title
        for page in reader.pages:
            # ISO 216: A4 is 210 by 297 mm; a point is 1/72 inch of 25.4 mm
            size_mm = [float(side) * 25.4 / 72 for side in page.mediabox[2:]]
            assert size_mm == pytest.approx([210, 297], abs=0.5), score.title


def test_every_font_is_embedded_as_a_subset(sheets: Sheets) -> None:
    """PDF 32000-1:2008, 9.6.4 and 9.9: six capitals and +, and a font file."""
    for score, reader in sheets:
        fonts = list(fonts_in(reader.pages[0]["/Resources"]))
        assert len(fonts) >= 4, score.title
        for font in fonts:
            assert re.match(r"/[A-Z]{6}\+", font["/FontName"]), (score.title, font["/FontName"])
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(font), font["/FontName"]


def fonts_in(resources: Any) -> Iterator[Any]:
    """The descriptor of each font, also of fonts used inside drawings."""
    resources = resources.get_object()
    for entry in resources.get("/Font", {}).values():
        font = entry.get_object()
        for part in font.get("/DescendantFonts", [font]):
            yield part.get_object()["/FontDescriptor"].get_object()
    for entry in resources.get("/XObject", {}).values():
        if "/Resources" in entry.get_object():
            yield from fonts_in(entry.get_object()["/Resources"])


def test_title_and_purpose_are_in_the_metadata(sheets: Sheets) -> None:
    for score, reader in sheets:
        assert reader.metadata is not None
        assert reader.metadata.title == score.title
        assert (reader.metadata.subject or "") == score.about


def test_the_plain_tab_can_be_copied_out_line_by_line(sheets: Sheets) -> None:
    for score, reader in sheets:
        text = "\n".join(page.extract_text() for page in reader.pages)
        lines = [line.strip() for line in text.splitlines()]
        heads = [n for n, line in enumerate(lines) if line.startswith("plain tab")]
        assert len(heads) == (0 if score.title in NO_PLAIN_TAB else 1), score.title
        if not heads:
            continue
        start = heads[0] + 1
        while lines[start].startswith(MORE_SIGNS):
            start += 1
        end = next(n for n, line in enumerate(lines) if n > start and line.startswith("Rest lips"))
        printed_tab = played_out(" ".join(lines[start:end]))
        written_out = " ".join(tab_lines(score)).split()
        assert printed_tab == written_out, score.title


# What the heading over a plain tab explains too where it has them, on a line more.
MORE_SIGNS = ("& holes together", "q a quarter tone lower", "|: :| again")
AGAIN = re.compile(r"\|: ((?:(?!\|:|:\|).)*):\|(?: x(\d+))?")


def played_out(tab: str) -> list[str]:
    """The words of a plain tab, each repeat as often as it is played, with the same breaths."""
    return AGAIN.sub(lambda found: f"{found[1]}| " * int(found[2] or 2), tab).split()


@pytest.mark.parametrize(
    ("pattern", "tab"),
    [
        ("(-2 3 4 -4 |)x100", ["|: -2 3 4 -4 :| x100"]),
        ("(-2:4 |)x2 1:4", ["|: -2 :| 1 |"]),
        ("(-2:4 |) 1st (3:4 |) 2nd (4:4 |)", ["|: -2 | [1. 3 :| [2. 4 |"]),
        ("(-2:4 |)x2 -1:4", ["|: -2 ,out . :| -1 |"]),  # 8 s are the most: out after each time
    ],
)
def test_what_is_played_again_is_written_once_in_the_plain_tab_of_a_sheet(
    pattern: str, tab: list[str]
) -> None:
    """Written by hand, as the signs on the staff stand."""
    score = expand(parse(f'drill "D"\n  play {pattern}\n')[0], Harp("C"), Position(2))
    assert folded_tab(score) == tab


def test_the_tab_of_the_first_drill_is_what_its_writer_would_write(sheets: Sheets) -> None:
    """Written by hand from the drill: anchor -2, rungs -3 -3' -3'' down and up."""
    for score, reader in sheets:
        if score.title == HOME:
            tab = "-2 -3 -2 -3' | -2 -3'' -2 -3'' | -2 -3' -2 -3 | -2 . |"
            assert tab in text_of(reader).replace(" ,out .", "")  # wherever a breath is taken


def text_of(reader: pypdf.PdfReader) -> str:
    """What can be copied from the page; a ligature as the letters it stands for (NFKC)."""
    return unicodedata.normalize("NFKC", reader.pages[0].extract_text())


def test_the_page_says_which_harp_position_and_tempo(sheets: Sheets) -> None:
    for score, reader in sheets:
        text = text_of(reader)
        assert score.title in text
        assert f"harp, {score.position.ordinal} position" in text
        key = score.harp.key.replace("b", "\u266d").replace("#", "\u266f")
        assert score.harp.register in text
        assert all(sign in text for sign in key)  # which a sign of another font may part
        assert f"= {score.tempo_bpm}" in text


# --- the music on it, as LilyPond plays it ---------------------------------------------


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """Each score's engraved music as a MIDI file, which LilyPond makes from its own reading."""
    folder = tmp_path_factory.mktemp("played")
    scores = [*DRILLS, *TUNES]
    books = [
        f'\\book {{ \\bookOutputName "tune-{n}" \\score {{ {music(score)} \\midi {{ }} }} }}'
        for n, score in enumerate(scores)
    ]
    source = preamble(Look()) + "\n".join(books)
    (folder / "tunes.ly").write_text(source, "utf-8")
    command = [str(lilypond.executable()), "--loglevel=WARNING", "tunes.ly"]
    done = subprocess.run(command, cwd=folder, check=True, capture_output=True, text=True)
    assert done.stderr == ""
    files = [mido.MidiFile(next(folder.glob(f"tune-{n}.mid*"))) for n in range(len(scores))]
    return list(zip(scores, files, strict=True))


def test_pitches_and_times_on_the_staff_are_those_of_the_drill(played: Played) -> None:
    for score, file in played:
        quarters = Fraction(4, score.meter.unit)
        meant = [
            (start * quarters, note.length * quarters, half_semitones(each.pitch) / 2)
            for start, note in on_paper(score)
            for each in note.sounded
        ]
        assert sounded(file) == sorted(meant), score.title


def half_semitones(pitch: Pitch) -> int:
    return 2 * pitch.midi - pitch.quarter


def on_paper(score: Score) -> Iterator[tuple[Fraction, Note]]:
    """Each note with the beat at which it stands when repeats are printed, not played, twice."""
    before = score.first_beat
    for bar in printed(score):
        for written in bar.written:
            if written.note is not None and not written.tied_on:
                yield before + written.start - bar.start, written.note
        before += bar.end - bar.start


def sounded(file: mido.MidiFile) -> list[tuple[Fraction, Fraction, float]]:
    """Start and length in quarters, and the key number with its bend, of each note.

    General MIDI 2 (RP-024), 3.4.1: a bend reaches two semitones where no range is set.
    """
    notes: list[tuple[Fraction, Fraction, float]] = []
    for track in file.tracks:
        now, bend, since = 0, 0.0, {}
        for message in track:
            now += message.time
            if message.type == "pitchwheel":
                bend = round(2 * message.pitch / 8192, 3)
            elif message.type == "note_on" and message.velocity:
                since[message.note] = now, message.note + bend
            elif message.type in ("note_on", "note_off"):
                start, key = since.pop(message.note)
                per = file.ticks_per_beat
                notes.append((Fraction(start, per), Fraction(now - start, per), key))
    return sorted(notes)


# LilyPond's names (Notation Reference 2.24, 1.1.3, from memory) and music21's.
CLEFS = {
    "treble": music21.clef.TrebleClef,
    "treble_8": music21.clef.Treble8vbClef,
    "treble^8": music21.clef.Treble8vaClef,
}


def test_the_clef_keeps_every_note_within_four_ledger_lines() -> None:
    """music21 knows by how much each clef moves the staff; a ledger line is two steps.

    A note that hangs from the fourth line, or stands on it, needs no fifth.  music21's
    ``lowestLine`` of the clef an octave up is wrong (it stands at E3), so that is counted from the
    treble clef's.
    """
    extremes = [on(HOME + ", hole 1", "low C"), on(HOME + ", hole 8 blow", "high G", 1)]
    for score in [*DRILLS, *TUNES, *extremes]:
        [name] = re.findall(r'\\clef "([^"]+)"', music(score))
        lowest = CLEFS["treble"]().lowestLine + 7 * CLEFS[name]().octaveChange
        keys = {each.pitch.midi for note in score.notes for each in note.sounded}
        steps = [music21.pitch.Pitch(key).diatonicNoteNum - lowest for key in keys]
        assert -9 <= min(steps) <= max(steps) <= 8 + 9, (score.title, score.harp.name, name)


def test_key_signature_on_the_staff_is_that_of_the_position(played: Played) -> None:
    """The key is n - 1 fifths over the harp's own; the 2nd position is written as major."""
    for score, file in played:
        if score.position.number != 2:
            continue
        tonic = music21.pitch.Pitch(score.harp.key.replace("b", "-")).transpose("P5")
        [written] = {m.key for track in file.tracks for m in track if m.type == "key_signature"}
        sharps = music21.key.Key(tonic.name).sharps
        assert music21.key.Key(written.replace("b", "-")).sharps in (sharps, sharps - 12)


def test_meter_on_the_staff_is_that_of_the_drill(played: Played) -> None:
    for score, file in played:
        [meter] = {
            (m.numerator, m.denominator)
            for track in file.tracks for m in track if m.type == "time_signature"
        }  # fmt: skip
        assert meter == (score.meter.beats, score.meter.unit)


# --- notation ----------------------------------------------------------------------------


METERS = [(4, 4), (3, 4), (2, 4), (5, 4), (2, 2), (6, 8), (9, 8), (12, 8), (7, 8)]
LENGTHS = st.builds(Fraction, st.integers(1, 12), st.sampled_from((1, 2, 3, 4, 6, 8)))
RHYTHMS = st.builds(
    lambda words, meter: score_from(" ".join(words), meter=meter),
    st.lists(st.builds("{}:{}".format, st.sampled_from(("-2", "4", "r")), LENGTHS), min_size=1),
    st.sampled_from(METERS),
)


@given(RHYTHMS)
def test_written_values_fill_every_bar_exactly(score: Score) -> None:
    written = bars(score)
    assert len(written) == score.bars
    for number, bar in enumerate(written):
        edges = [*(each.start for each in bar), Fraction((number + 1) * score.meter.beats)]
        assert edges[0] == number * score.meter.beats
        assert [each.start + each.length for each in bar] == edges[1:]


@given(RHYTHMS)
def test_every_written_value_is_plain_or_dotted(score: Score) -> None:
    for each in flat(bars(score)):
        kind, dots, tuplets = in_music21(each.value * Fraction(4, score.meter.unit))
        assert kind in music21.duration.typeToDuration
        assert dots <= 1
        assert tuplets == 0


@cache
def in_music21(quarters: Fraction) -> tuple[str, int, int]:
    """How music21 writes a length: the value's name, its dots and its tuplets."""
    duration = music21.duration.Duration(quarters)
    return duration.type, duration.dots, len(duration.tuplets)


@given(RHYTHMS)
def test_ties_join_up_to_the_notes_that_were_meant(score: Score) -> None:
    """music21 joins the ties; what it finds are the notes of the score."""
    part = music21.stream.Part([in_music21_notes(each) for each in flat(bars(score))])
    joined = [(n.offset, n.quarterLength, n.pitch.midi) for n in part.stripTies().notes]
    assert joined == [(n.start, n.length, n.pitch.midi) for n in score.notes]


def in_music21_notes(written: NotatedValue) -> Any:
    """One written value for music21, a beat as its quarter."""
    if written.note is None:
        assert (written.tied_on, written.tied_over) == (False, False)
        return music21.note.Rest(quarterLength=written.length)
    note = music21.note.Note(written.note.pitch.midi, quarterLength=written.length)
    kinds = {(True, True): "continue", (True, False): "stop", (False, True): "start"}
    kind = kinds.get((written.tied_on, written.tied_over))
    note.tie = music21.tie.Tie(kind) if kind else None
    return note


@given(RHYTHMS)
def test_triplets_stand_only_where_thirds_are_and_last_one_beat_or_two(score: Score) -> None:
    edges = [edge for note in score.notes for edge in (note.start, note.end)]
    with_thirds = {edge // 1 for edge in edges if (edge * 8).denominator != 1}
    for each in flat(bars(score)):
        assert each.triplet == (each.start // 1 in with_thirds)
        end = each.start + each.length
        crossed = any(each.start < beat < end for beat in with_thirds)
        if crossed:  # only as one of three in the time of two whole beats
            assert each.tuplet is not None
            assert end <= each.tuplet + 2
            assert ((each.start - each.tuplet) / Fraction(2, 3)).denominator == 1
            assert (each.length / Fraction(2, 3)).denominator == 1


@pytest.mark.parametrize("length", ["1/9", "1/5", "4/9", "1/7"])
def test_parts_of_a_beat_that_no_sign_can_show_are_refused(length: str) -> None:
    with pytest.raises(PatternError, match="cannot be written") as caught:
        bars(score_from(f"-2:{length} -3"))
    assert caught.value.span.line > 0  # the reader is shown which note


HALVES = st.lists(st.integers(1, 8), min_size=1).map(
    lambda halves: score_from(" ".join(f"-2:{half}/2" for half in halves))
)


@given(HALVES)
def test_a_value_that_begins_off_the_beat_leaves_beat_three_in_sight(score: Score) -> None:
    """Nothing syncopated crosses the middle of 4/4: practice of notation, from memory."""
    for each in flat(bars(score)):
        begin, end = each.start % 4, each.start % 4 + each.length
        assert begin.denominator == 1 or not begin < 2 < end


def flat(written: Sequence[Sequence[NotatedValue]]) -> list[NotatedValue]:
    return [each for bar in written for each in bar]


def test_a_note_over_three_bars_is_tied_twice() -> None:
    shown = [(int(each.start), int(each.length)) for each in flat(bars(score_from("r:3 4:6 r:3")))]
    assert shown == [(0, 3), (3, 1), (4, 4), (8, 1), (9, 3)]


@given(RHYTHMS)
def test_a_tie_joins_two_heads_of_one_note(score: Score) -> None:
    for one, two in pairwise(flat(bars(score))):
        assert two.tied_on == one.tied_over
        assert two.tied_on == (two.note is not None and two.note is one.note)


# --- when LilyPond has something to say ------------------------------------------------


@pytest.fixture
def scratch(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the engraver puts its scratch folder; it must leave nothing there."""
    folder = tmp_path / "scratch"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    return folder


def engraved(source: str) -> list[bytes]:
    with Engraver() as engraver:
        engraver.feed(source)
        return engraver.sheets(1)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("{ c'1 | c'2 | c'1 }", "barcheck failed"),  # a warning, and exit code 0
        ("{ c'1 ", "syntax error"),
        ("{ c'1 } \\markup { \\char #(ly:parser-lookup 'nothing) }", "complaint"),
    ],
)
def test_anything_lilypond_says_is_an_error(scratch: Path, body: str, said: str) -> None:
    source = f'\\version "2.24.3"\n\\book {{ \\bookOutputName "sheet-0" {body} }}'
    with pytest.raises(RenderError, match=said) as caught:
        engraved(source)
    assert caught.value.exit_code == 1
    assert list(scratch.iterdir()) == []


def test_latin_greek_and_cyrillic_titles_are_printed(tmp_path: Path) -> None:
    title = "Übung für Łukasz, παίζω дома"
    [made] = make([score_from("-2 -3'", title=title)], tmp_path, ["sheet"])
    assert title in text_of(pypdf.PdfReader(made.path))


def test_a_missing_lilypond_says_how_to_install_it(
    scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "lilypond", None)
    with pytest.raises(RenderError, match=r"pip install lilypond==2\.24\.3"):
        engraved("")
    assert list(scratch.iterdir()) == []


# A program in LilyPond's place, and what is said about it.
FAILURES = {
    "hangs": ("exec sleep 60", "took too long"),
    "is killed": ("cat >/dev/null; kill -9 $$", "ended with code -9"),
    "stops before it has read": ("exit 3", "stopped early"),
    "talks": ("cat >/dev/null; echo strange", "strange"),
    "makes nothing": ("cat >/dev/null", "left no sheet"),
}


@pytest.mark.parametrize("what", FAILURES)
def test_a_lilypond_that_fails_is_told_plainly_and_leaves_nothing(
    tmp_path: Path, scratch: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    script, said = FAILURES[what]
    program = tmp_path / "lilypond"
    program.write_text(f"#!/bin/sh\n{script}\n", "utf-8")
    program.chmod(0o755)
    monkeypatch.setattr(lilypond, "executable", lambda: program)
    monkeypatch.setattr("reedmill.sheet.engrave._SECONDS_ALLOWED", 0.5)
    monkeypatch.setattr("reedmill.sheet.engrave._SECONDS_A_SHEET", 0.0)
    more_than_a_pipe_holds = "% nothing\n" * 100_000
    source = more_than_a_pipe_holds if what == "stops before it has read" else "% nothing\n"
    with pytest.raises(RenderError, match=said):
        engraved(source)
    assert list(scratch.iterdir()) == []


def test_a_lilypond_that_cannot_be_started_is_told_plainly(
    scratch: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lilypond, "executable", lambda: scratch / "nowhere")
    with pytest.raises(RenderError, match=r"cannot be started \(No such file"):
        engraved("")
    assert list(scratch.iterdir()) == []


def test_a_mistake_elsewhere_stops_lilypond_and_leaves_nothing(scratch: Path) -> None:
    with pytest.raises(ZeroDivisionError), Engraver():
        raise ZeroDivisionError
    assert list(scratch.iterdir()) == []


def test_a_note_too_short_to_be_drawn_is_refused_in_words() -> None:
    """In 7/8 a beat is an eighth: a 16th of it is a 128th, and in a triplet it looks like half."""
    drawn = score_from("-2:1/16 -3:111/16", meter=(7, 8))
    assert "128" in music(drawn)
    with pytest.raises(RenderError, match=r"1/32 beats is too short to be drawn: .* a 256th"):
        music(score_from("-2:1/32 -3:223/32", meter=(7, 8)))
