"""Thirty shipped drills as MusicXML, opened by three programs of other people.

Run it with ``python tests/fuzz/open_musicxml.py``.  music21 and musicxml2ly (of the lilypond
package) read each file.  MuseScore, where it is installed, writes each anew as MusicXML, of which
music21 then has to find the same pitches.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import lilypond
import music21

from reedmill.expand import expand
from reedmill.formats.musicxml import musicxml_bytes
from reedmill.harp import Harp
from reedmill.library import shipped, usual_position
from reedmill.score.score import Score

MANY = 30
HARPS = ("C", "Bb", "F#", "low D")
MUSESCORE = shutil.which("musescore3") or shutil.which("mscore")


def scores() -> list[Score]:
    """The first drills of the shelf, each on the next harp."""
    drills = [each.drill for each in shipped()][:MANY]
    return [
        expand(drill, Harp.parse(HARPS[n % len(HARPS)]), usual_position(drill))
        for n, drill in enumerate(drills)
    ]


def pitches(path: Path) -> list[int]:
    read: Any = music21.converter.parse(path, format="musicxml")
    return [int(note.pitch.midi) for note in read.stripTies().flatten().notes if note.isNote]


def through_lilypond(path: Path) -> str:
    """What musicxml2ly has to complain of; empty when it converts the file."""
    program = lilypond.executable().parent / "musicxml2ly"
    done = subprocess.run(
        [program, "--loglevel=WARN", "-o", path.with_suffix(".ly"), path],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.stderr if done.returncode else ""


def through_musescore(paths: list[Path]) -> dict[Path, Path]:
    """What MuseScore writes of each file that it opens."""
    where = os.environ | {"QT_QPA_PLATFORM": "offscreen", "XDG_RUNTIME_DIR": str(paths[0].parent)}
    found = {}
    for path in paths:
        written = path.with_name(f"{path.stem}-again.musicxml")
        command = [str(MUSESCORE), "-o", str(written), str(path)]
        subprocess.run(command, env=where, capture_output=True, check=False, timeout=120)
        if written.exists():
            found[path] = written
    return found


def main() -> int:
    """0 when every program opens every file and finds what is in it."""
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        paths = {}
        for n, score in enumerate(scores()):
            path = Path(folder, f"{n:02}.musicxml")
            path.write_bytes(musicxml_bytes(score))
            paths[path] = [note.pitch.midi for attack in score.attacks() for note in attack]
        heard = {path: pitches(path) for path in paths}
        wrong += sum(heard[path] != paths[path] for path in paths)
        print(f"music21: {len(paths) - wrong} of {len(paths)} files with all their notes")
        said = [each for each in map(through_lilypond, paths) if each]
        print(f"musicxml2ly: {len(paths) - len(said)} of {len(paths)}", *said, sep="\n")
        wrong += len(said)
        if MUSESCORE:
            again = through_musescore(list(paths))
            alike = sum(pitches(written) == paths[path] for path, written in again.items())
            print(f"{MUSESCORE}: opened {len(again)}, {alike} with all their notes")
            wrong += len(paths) - alike
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
