"""What Reedmill adds to LilyPond: one drill to PDF, MIDI and WAV, by the command.

Measured against the least that any program of this kind must do: start Python once and
run LilyPond once on the finished input of the same sheet, with the same settings.  Run
it with ``python tests/benchmarks/one_drill.py``.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import lilypond
from interleaved import report, run

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.sheet.page import pages
from reedmill.theory.positions import Position

MOST, MOST_PROCESSOR = 1.35, 1.9
DRILL = "Home from every rung"
# LilyPond's own fonts alone, listed anew in every run, as the command does it.
FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><cachedir>{cache}</cachedir></fontconfig>
"""


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch:
        report(
            f'"{DRILL}" to PDF, MIDI and WAV against LilyPond and one start of Python',
            lambda: command(Path(scratch)),
            lambda: lilypond_alone(Path(scratch)),
            MOST,
            MOST_PROCESSOR,
        )


def command(scratch: Path) -> None:
    """The drill by the command, as a user runs it."""
    reedmill = str(Path(sys.executable).with_name("reedmill"))
    wanted = [DRILL, "--harp", "C", "--to", "sheet,midi,wav", "--out", str(scratch / "out")]
    run([reedmill, "make", *wanted])


def lilypond_alone(scratch: Path) -> None:
    """The same sheet, engraved from a file, after Python has started and stopped."""
    run([sys.executable, "-c", "pass"])
    with tempfile.TemporaryDirectory(dir=scratch) as name:
        folder = Path(name)
        fonts = folder / "fonts.conf"
        fonts.write_text(FONTS.format(cache=folder / "fonts"), "utf-8")
        (folder / "sheet.ly").write_text(SOURCE, "utf-8")
        options = ["-dbackend=cairo", "-dno-point-and-click", "--pdf", "--loglevel=WARNING"]
        run(
            [str(lilypond.executable()), *options, "sheet.ly"],
            folder, FONTCONFIG_FILE=str(fonts), LC_ALL="C",
        )  # fmt: skip


def source() -> str:
    """The LilyPond input of the drill's sheet on a C harp."""
    [drill] = find_drills(DRILL)
    return pages([expand(drill, Harp("C"), Position(2))])


SOURCE = source()

if __name__ == "__main__":
    main()
