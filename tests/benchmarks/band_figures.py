"""The band judged from its files alone: chords, repetition, voicing, bass, loudness, timing, sound.

Pieces are drawn evenly from the shelf with a fixed seed, made by the command as anybody would,
and read by mido, music21, NumPy, soundfile and pyloudnorm.  In every fourth round of the feels the
pieces have seed 0, which plays as written.  Run ``python tests/benchmarks/band_figures.py``;
``band_figures.txt`` beside it is what was found.  ``--pieces``, ``--choruses`` and ``--sounds``
ask for more or fewer, ``--feel`` for one feel, ``--faults`` names the pieces that have any.
Swing of sixteenths would show as timing.

No package of a registry was found with a band's drums as people played them, free, and of a known
tempo (miditok 3.1.0, MIT, brings songs that are not free, and piano of the MAESTRO set under
CC BY-NC-SA 4.0, played without a click; note-seq 0.0.5, mirdata 1.0.0 and partitura 1.9.0 bring
none; Debian's hydrogen-data has programmed songs; licences and that last, from memory).
So TARGETS says what is aimed at, and why.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from multiprocessing import Pool
from pathlib import Path
from statistics import fmean
from tempfile import TemporaryDirectory
from textwrap import fill
from typing import Any

from band_measures import INSTRUMENTS, OTHER, Figures, figures
from band_sound_measures import sound_figures
from performed import PLAYERS, performed

HARPS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
PIECES, CHORUSES, SOUNDS, SOUND_CHORUSES = 160, 12, 10, 14
DRAWN = 20  # the seed with which pieces are drawn
PUT_TOGETHER: dict[str, Callable[[list[float]], float]] = {
    "mean": fmean, "sum": sum, "min": min, "max": max,
}  # fmt: skip
AS_WRITTEN = 4  # every fourth piece
WORKERS = 2
WIDE = 120  # characters of the text over a table
REEDMILL = (sys.executable, "-c", "from reedmill.cli import main; main()", "backing")

WALKING = ("Medium shuffle", "Soft jazz swing", "Jump swing", "Swinging waltz")
# Feels whose bass leaves the third to the chords, and why; they are counted apart.
ROOTS = {
    "Two-beat": "root and fifth on one and three are the style",
    "Train beat": "so too here, and at 240 there is no time for more",
    "Waltz": "one root a bar, or root and fifth in turn",
    "Hill-country drone": "a drone stays on its root",
    "Straight rock": "roots in eighths, under a guitar whose thirds are blurred already",
    "Funk sixteenths": "root, octave, seventh and fifth, off the beat",
}
PEDALS = ("Hill-country drone", "Straight rock")  # whose roots are struck again and again

TARGETS = """\
What is wanted, and why (studies are named from memory; the rest is common practice, for which
there is no published source):
  chords        0 unstruck, 0 rootless, 0 foreign tones on strong beats (a 9th or 13th is none).
  equal bars    drums at most 0.5, comp and bass at most 0.3 between choruses: players keep the
                groove and answer what they heard; no two choruses of a jazz chorus form are equal.
  bass          a walking one: never 3 equal bars in a row, steps 0.5 to 0.7, repeated notes under
                0.1, no folds (see band_measures._folds), bar lines reached by step 0.7 and more.
                Thirds where the style has them: ROOTS names the feels that have not; PEDALS those
                that repeat their root.
  voicings      voices move at most 2 semitones each when the chord changes, a shape is never moved
                whole, the top voice is not the home note more than a third of the time.
  velocity      drums of people spread 15 to 25 of 127 over all strokes, each drum 8 and more
                (Groove MIDI Dataset, Gillick and others, 2019: ghost strokes at 20 to 50,
                accents at 100 to 120).
  timing        6 to 20 ms standard deviation (Hennig and others, PLOS ONE 2011, and Rasanen and
                others, PLOS ONE 2015: about 10 ms, and neighbours alike, so drift is above 0);
                over 30 ms it is heard as a fault (Fruhauf, Kopiez and Platz, 2013).
                Bass and drums within 10 ms, a comp or soloist up to 30 ms late
                (Friberg and Sundstrom, Music Perception 2002).
  swing         two to one and more when slow, near even above 250 beats a minute (the same study).
  loudness      the first chorus quietest, the last or the one before it loudest, 2 to 5 LU between;
                choruses 2 and 13 sound less than 0.9 alike."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One backing to be made."""

    form: dict[str, Any]
    feel: dict[str, Any]
    harp: str
    seed: int
    choruses: int

    @property
    def name(self) -> str:
        """Return form, feel, harp and seed in one line."""
        return f"{self.form['title']} / {self.feel['title']} / {self.harp} / seed {self.seed}"


@dataclass(frozen=True, slots=True)
class Measured:
    """One backing's figures, or what the command said when it made none."""

    piece: Piece
    found: Figures
    refused: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its head, the figure, how pieces are put together, its digits."""

    head: str
    key: str
    how: str = "mean"
    digits: int = 2

    def told(self, rows: Sequence[Figures]) -> str:
        """Return the figure of some pieces as text, a dash where none has it."""
        values = [row[self.key] for row in rows if self.key in row and math.isfinite(row[self.key])]
        if not values:
            return "-"
        together = PUT_TOGETHER[self.how]
        return f"{together(values):.{self.digits}f}"


def counted(head: str, key: str) -> Column:
    return Column(head, key, "sum", 0)


CHORDS = (
    counted("chords", "chords"),
    counted("unread", "unread"),
    counted("bars over", "bars over"),
    counted("not form's", "not the form"),
    counted("unstruck", "unstruck"),
    counted("(pushed)", "comp pushed"),
    counted("rootless", "rootless"),
    counted("(pushed)", "root pushed"),
    counted("comp out", "comp outside"),
    counted("(9 13)", "comp colours"),
    counted("bass out", "bass outside"),
    counted("held over", "held over"),
    counted("strays", "strays"),
)
EQUAL = (
    *(Column(f"{name[:5]}", f"{name} equal") for name in PLAYERS),
    *(Column(f"{name[:5]}+v", f"{name} equal and velocity") for name in PLAYERS),
    *(Column(f"{name[:5]} 1st", f"{name} equal first") for name in PLAYERS),
    *(Column(f"{name[:5]} last", f"{name} equal last") for name in PLAYERS),
    *(Column(f"{name[:5]} diff", f"{name} distinct") for name in PLAYERS),
)
COMP = (
    Column("voicings", "voicings", digits=1),
    Column("a symbol", "voicings a symbol", digits=1),
    Column("of strokes", "voicings of strokes", digits=3),
    Column("commonest", "commonest voicing"),
    Column("again", "same voicing again"),
    Column("common", "common"),
    Column("moved", "moved", digits=1),
    Column("shifted", "shifted"),
    Column("top home", "top is home"),
    Column("tops", "tops", digits=1),
    Column("top >=C5", "top above C5"),
    Column("lowest", "comp lowest", "min", 0),
    Column("highest", "comp highest", "max", 0),
)
BASS = (
    Column("walks", "walking"),
    Column("run", "Bass run", digits=1),
    Column("longest", "Bass run", "max", 0),
    Column("repeated", "repeated"),
    Column("steps", "steps"),
    Column("thirds", "thirds"),
    Column("leaps", "leaps"),
    Column("octaves", "octaves"),
    Column("folds", "folds", digits=1),
    Column("3rd heard", "third heard"),
    Column("5th heard", "fifth heard"),
    Column("line step", "line by step"),
    Column("line same", "line same"),
    Column("lowest", "bass lowest", "min", 0),
    Column("highest", "bass highest", "max", 0),
)
LOOSE = (
    Column("swing", "swing"),
    *(Column(f"{name} ms", f"{name} late", digits=1) for name in PLAYERS),
    *(Column(f"{name[:5]} sd", f"{name} timing sd", digits=1) for name in PLAYERS),
    *(Column(f"{name[:5]} drift", f"{name} drift") for name in PLAYERS),
    *(Column(f"{name} =", f"{name} together") for name in PLAYERS[1:]),
)
VELOCITY = (
    *(Column(f"{name}", f"{name} velocity", digits=0) for name in PLAYERS),
    *(Column(f"{name[:5]} sd", f"{name} velocity sd", digits=1) for name in PLAYERS),
    *(Column(f"{name[:5]} n", f"{name} velocities", digits=0) for name in PLAYERS),
    Column("chorus +-", "velocity range", digits=1),
    Column("busier", "density range"),
)
SOUND = (
    Column("envelope", "envelope", digits=5),
    Column("at 10 Hz", "slow envelope", digits=5),
    Column("samples", "samples", digits=5),
    Column("LUFS", "LUFS", digits=1),
    Column("LU range", "LU range", digits=1),
    Column("short-term", "short-term range", digits=1),
    Column("beat sd", "beat sd", digits=1),
    Column("to next", "beat to beat", digits=1),
    Column("lead-in", "lead-in", digits=1),
)

MAIN = (  # the figure, which pieces it is of, what is wanted
    (counted("chords without a stroke of the comp", "unstruck"), "all", "0"),
    (counted("chords without their root in the bass", "rootless"), "all", "0"),
    (counted("foreign tones of the comp on strong beats", "comp outside"), "all", "0"),
    (counted("foreign tones of the bass on strong beats", "bass outside"), "all", "0"),
    (Column("equal bars between choruses, bass", "Bass equal"), "loose", "0.3 at most"),
    (Column("equal bars between choruses, comp", "Comp equal"), "loose", "0.3 at most"),
    (Column("equal bars between choruses, drums", "Drums equal"), "loose", "0.5 at most"),
    (Column("the same as written (seed 0), bass", "Bass equal"), "written", "0.5 at most"),
    (Column("different bars of all, drums", "Drums distinct"), "loose", "0.3 and more"),
    (
        Column("chorus 2 like 13 in sound, the most, at 100 Hz", "envelope", "max", 5),
        "sound",
        "under 0.9",
    ),
    (
        Column("chorus 2 like 13 in sound, the most, at 10 Hz", "slow envelope", "max", 5),
        "sound",
        "under 0.9",
    ),
    (Column("voicings a piece", "voicings", digits=1), "all", "12 and more"),
    (Column("voicings a chord symbol", "voicings a symbol", digits=1), "all", "4 and more"),
    (Column("same voicing at the next stroke", "same voicing again"), "all", "0.5 at most"),
    (Column("semitones moved at a change", "moved", digits=1), "all", "8 at most"),
    (Column("top voice is the home note", "top is home"), "all", "0.33 at most"),
    (Column("most equal bars of a bass in a row", "Bass run", digits=1), "all", "2"),
    (Column("folds of the bass a piece", "folds", digits=1), "all", "0"),
    (Column("repeated notes of the bass, walking", "repeated"), "walking", "0.1 at most"),
    (Column("repeated notes of the bass, not PEDALS", "repeated"), "lines", "0.15 at most"),
    (Column("repeated notes of the bass, PEDALS", "repeated"), "pedals", ""),
    (Column("third heard in two bars, walking", "third heard"), "walking", "0.95 and more"),
    (Column("third heard in two bars, not ROOTS", "third heard"), "outlined", "0.95 and more"),
    (Column("third heard in two bars, ROOTS", "third heard"), "roots", ""),
    (Column("fifth heard in two bars", "fifth heard"), "all", "0.8 and more"),
    (Column("bar lines reached by step, walking", "line by step"), "walking", "0.7 and more"),
    (Column("bar lines reached by step, others", "line by step"), "figures", ""),
    (Column("spread of velocity, bass", "Bass velocity sd", digits=1), "loose", "6 to 12"),
    (Column("spread of velocity, comp", "Comp velocity sd", digits=1), "loose", "6 to 12"),
    (Column("spread of velocity, drums", "Drums velocity sd", digits=1), "loose", "15 to 25"),
    (Column("spread of timing in ms, drums", "Drums timing sd", digits=1), "loose", "6 to 12"),
    (Column("drift of timing, drums", "Drums drift"), "loose", "0.2 and more"),
    (Column("bass behind the beat in ms", "Bass late", digits=1), "loose", "0 to 10"),
    (Column("comp behind the beat in ms", "Comp late", digits=1), "loose", "5 to 25"),
    (Column("drums struck at the very same tick", "Drums together"), "loose", "0.2 at most"),
    (Column("LU between softest and loudest chorus", "LU range", digits=1), "sound", "2 to 5"),
    (Column("short-term loudness, LU", "short-term range", digits=1), "sound", "3 and more"),
    (Column("level of beats, standard deviation, dB", "beat sd", digits=1), "sound", ""),
)
LEGENDS = {
    "Chords": "Counts over all pieces.  Unread: music21 knows no such symbol.  Bars over: more "
    "than the choruses have.  Not form's: bars whose chord has another root than the form.  "
    "(pushed): struck shortly before the chord and sounding into it.  Out: foreign tones on strong "
    "beats; (9 13): the comp's 9ths and 13ths there, and 11ths over a minor chord, which are not.  "
    "Held over: comp notes that ring into a chord they are foreign to.  Strays: far off any grid.",
    "Equal bars": "Share of equal bars between two choruses (places and keys; +v: velocities too), "
    "mean over all pairs without the first and last chorus; 1st, last: that chorus against the "
    "others.  Diff: different bars of all bars.",
    "Equal bars, seed 0": "The same for the pieces that play as written.",
    "Comp": "Voicings a piece and a chord symbol, and of all strokes; share of the commonest; same "
    "voicing again at the next stroke.  Where the chord changes: common tones, semitones moved by "
    "all voices together, share of shapes moved whole.  Top voice: how often it is the home note, "
    "how many there are, how often C5 or above.  C4 is 60.",
    "Bass": "Walks: bars with a stroke on each pulse.  Run: the most equal bars in a row, mean and "
    "longest.  Shares of the intervals (steps 1-2, thirds 3-4, leaps more, octaves apart); folds a "
    "piece: a line that is cut and goes on an octave off.  3rd and 5th heard within two bars "
    "of a chord.  How bar lines are reached: by step, or on the same note.",
    "Timing": "Seed 0 left out.  Swing as the drums play it, first half of a pulse to second; then "
    "ms later than the grid, standard deviation, drift (correlation with the next place's), and "
    "the share of places where several strokes fall at the very same tick.",
    "Velocity": "Seed 0 left out.  Mean, standard deviation, and how many different ones; by "
    "chorus: loudest less quietest (velocity), busiest less sparsest (share of strokes).",
    "Sound": f"{SOUND_CHORUSES} choruses.  Chorus 2 against 13: correlation of envelopes (100 Hz; "
    "at 10 Hz looseness is not heard) and of samples at the best lag; loudness; LU between the "
    "loudest and quietest chorus; short-term loudness, 10th to 95th percentile; level of the "
    "beats in dB: standard deviation, and mean difference from one to the next.",
}


def shelf() -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return the forms and feels there are."""
    done = subprocess.run([*REEDMILL, "--list", "--json"], check=True, capture_output=True)
    found = json.loads(done.stdout)
    return found["forms"], found["feels"]


def drawn(count: int, choruses: int, feel: str) -> list[Piece]:
    """Draw pieces so that each feel, and of each feel each form, comes as often as another."""
    forms, feels = shelf()
    chance = random.Random(DRAWN)
    feels = [each for each in feels if feel in ("", each["title"])]
    if not feels:
        sys.exit(f"There is no feel {feel!r}.")
    rows = {each["title"]: list[dict[str, Any]]() for each in feels}
    keys = list[str]()
    found = list[Piece]()
    for at in range(count):
        own = feels[at % len(feels)]
        left = rows[own["title"]]
        if not left:
            left += [f for f in forms if f.get("meter", own["meter"]) == own["meter"]]
            chance.shuffle(left)
        keys = keys or chance.sample(HARPS, len(HARPS))
        as_written = at // len(feels) % AS_WRITTEN == AS_WRITTEN - 1
        seed = 0 if as_written else chance.randint(1, 999)
        found.append(Piece(left.pop(), own, keys.pop(), seed, choruses))
    return found


def made(piece: Piece, kinds: str, folder: Path) -> str:
    """Make a piece's files; what the command says when it refuses."""
    asked = ("--form", piece.form["title"], "--feel", piece.feel["title"], "--harp", piece.harp)
    counts = ("--choruses", str(piece.choruses), "--seed", str(piece.seed))
    done = subprocess.run(
        [*REEDMILL, *asked, *counts, "--to", kinds, "--out", str(folder)],
        capture_output=True,
        text=True,
    )
    return done.stderr if done.returncode else ""


def measured(piece: Piece, *, sounding: bool = False) -> Measured:
    """Make a piece's MIDI file and return its figures, or those of its recording."""
    with TemporaryDirectory(prefix="reedmill-band-") as folder:
        refused = made(piece, "midi,wav" if sounding else "midi", Path(folder))
        if refused:
            return Measured(piece, {}, refused)
        read = performed(next(Path(folder).glob("*.mid")))
        if sounding:
            sound = next(Path(folder).glob("*.wav"))
            return Measured(piece, sound_figures(sound, read, piece.choruses))
    return Measured(piece, figures(read, piece.choruses, piece.form, loose=piece.seed != 0))


def sounded(piece: Piece) -> Measured:
    """Make a piece's recording and return its figures."""
    return measured(piece, sounding=True)


def table(
    title: str, columns: Sequence[Column], rows: Sequence[Measured], by: str = "feel"
) -> None:
    """Print the figures of each feel and of all."""
    print(f"\n## {title}\n\n{fill(LEGENDS[title], WIDE)}\n")
    grouped = defaultdict[str, list[Figures]](list)
    for row in rows:
        grouped[row.piece.name if by == "piece" else row.piece.feel["title"]].append(row.found)
    lines = [("", *(column.head for column in columns))]
    lines += [(name, *(c.told(found) for c in columns)) for name, found in grouped.items()]
    every = [row.found for row in rows]
    lines.append((f"all {len(rows)}", *(column.told(every) for column in columns)))
    aligned(lines)


def aligned(lines: Sequence[Sequence[str]]) -> None:
    """Print rows in columns, the first from the left."""
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    for first, *others in lines:
        numbers = (f"{text:>{wide}}" for text, wide in zip(others, widths[1:], strict=True))
        print(f"{first:<{widths[0]}}  " + "  ".join(numbers))


def drums(rows: Sequence[Figures]) -> None:
    """Print velocity and timing of each drum over all pieces with looseness."""
    print(
        "\n## Drums: velocity (mean, spread, how many) and timing (ms late, spread), with seeds\n"
    )
    columns = ("velocity", "velocity sd", "velocities", "late", "timing sd")
    lines: list[tuple[str, ...]] = [("", *columns)]
    for name in (*INSTRUMENTS, OTHER):
        cells = (Column("", f"{name} {each}", digits=1).told(rows) for each in columns)
        lines.append((name, *cells))
    aligned(lines)


def choruses(rows: Sequence[Measured], heads: Iterable[tuple[str, str]], count: int) -> None:
    """Print how loud and busy each chorus is against the whole."""
    lines = [("chorus", *map(str, range(1, count + 1)))]
    every = [row.found for row in rows]
    for head, key in heads:
        columns = (Column("", f"{key} {at}", digits=1) for at in range(1, count + 1))
        lines.append((head, *(column.told(every) for column in columns)))
    print()
    aligned(lines)


def faults(rows: Sequence[Measured]) -> None:
    """Name the pieces that have any fault that must not be, and how many."""
    wanted = ("unstruck", "rootless", "comp outside", "bass outside", "not the form", "unread")
    for row in rows:
        found = {key: row.found[key] for key in wanted if row.found.get(key)}
        if found:
            said = ", ".join(f"{key} {count:.0f}" for key, count in found.items())
            print(f"{row.piece.name}: {said}")


def asked() -> argparse.Namespace:
    """Return what was asked for on the command line."""
    reads = argparse.ArgumentParser(description="Judge the band by its files.")
    reads.add_argument("--pieces", type=int, default=PIECES)
    reads.add_argument("--choruses", type=int, default=CHORUSES)
    reads.add_argument("--sounds", type=int, default=SOUNDS)
    reads.add_argument("--feel", default="")
    reads.add_argument("--faults", action="store_true")
    return reads.parse_args()


def told(rows: Sequence[Measured], heard: Sequence[Measured], count: int) -> None:
    """Print all tables, the main figures first."""
    named = {
        "walking": [row for row in rows if row.piece.feel["title"] in WALKING],
        "figures": [row for row in rows if row.piece.feel["title"] not in WALKING],
        "roots": [row for row in rows if row.piece.feel["title"] in ROOTS],
        "outlined": [row for row in rows if row.piece.feel["title"] not in ROOTS],
        "pedals": [row for row in rows if row.piece.feel["title"] in PEDALS],
        "lines": [row for row in rows if row.piece.feel["title"] not in PEDALS],
    }
    written, loose = ([r for r in rows if bool(r.piece.seed) is told] for told in (False, True))
    main_figures({"all": rows, "loose": loose, "written": written, "sound": heard, **named})
    table("Chords", CHORDS, rows)
    table("Equal bars", EQUAL, loose)
    table("Equal bars, seed 0", EQUAL, written)
    table("Comp", COMP, rows)
    table("Bass", BASS, rows)
    table("Velocity", VELOCITY, loose)
    choruses(rows, (("velocity", "louder"), ("% busier", "busier")), count)
    table("Timing", LOOSE, loose)
    drums([row.found for row in loose])
    if heard:
        table("Sound", SOUND, heard, by="piece")
        choruses(heard, [("LU", "LU")], SOUND_CHORUSES)


def main_figures(rows: dict[str, Sequence[Measured]]) -> None:
    """Print the figures that matter most beside what is wanted."""
    print("\n## Main figures\n")
    lines = [("", "measured", "wanted")]
    for column, kind, wanted in MAIN:
        lines.append((column.head, column.told([row.found for row in rows[kind]]), wanted))
    aligned(lines)


def sounds(pieces: Sequence[Piece]) -> list[Piece]:
    """Return longer ones of *pieces*, every second as written."""
    sample = [replace(each, choruses=SOUND_CHORUSES) for each in pieces]
    return [replace(each, seed=at % 2 and each.seed) for at, each in enumerate(sample)]


def main() -> None:
    """Make, measure and print."""
    wanted = asked()
    pieces = drawn(wanted.pieces, wanted.choruses, wanted.feel)
    with Pool(WORKERS) as pool:
        began = time.monotonic()
        rows = pool.map(measured, pieces, chunksize=1)
        took = time.monotonic() - began
        heard = pool.map(sounded, sounds(pieces[: wanted.sounds]), chunksize=1)
    refused = [row for row in (*rows, *heard) if row.refused]
    rows, heard = ([row for row in each if not row.refused] for each in (rows, heard))
    print(f"# {len(rows)} pieces of {wanted.choruses} choruses, made and read in {took:.0f} s")
    for row in refused:
        print(f"refused: {row.piece.name}: {row.refused}")
    told(rows, heard, wanted.choruses)
    if wanted.faults:
        faults(rows)
    print(f"\n{TARGETS}")


if __name__ == "__main__":
    main()
