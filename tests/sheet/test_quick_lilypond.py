"""LilyPond with our settings draws what it draws by itself, and does less for it.

By itself means LilyPond as it is installed, run on the same input.  How many fonts it needs is
from its Notation Reference (2.24, "The Emmentaler font"): signs of music come in eight designs,
for staves of 11 to 26 points, and the one next to the size is taken.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import lilypond
import pytest

from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.fonts import fontconfig
from reedmill.sheet.look import Look
from reedmill.sheet.page import pages
from reedmill.sheet.quick_lilypond import SETTINGS, SETTINGS_FILE, UNSWEPT
from reedmill.sheet.screens import music_for_screens
from reedmill.theory.positions import Position

PDF = ("-dbackend=cairo", "--pdf")
SVG = ("--svg",)
# It has bends and slides, accidentals on the staff and in its degrees, rests, and a hint in words.
[DRILL] = find_drills("Twelve slow bars")
SCORE = expand(DRILL, Harp("Bb"), Position(2))


def run(source: str, folder: Path, kind: tuple[str, ...], *, ours: bool) -> str:
    """What LilyPond says of *source*, which it draws in *folder*."""
    (folder / "fonts.conf").write_text(fontconfig(()), "utf-8")
    (folder / SETTINGS_FILE).write_text(SETTINGS, "utf-8")
    (folder / "in.ly").write_text(source, "utf-8")
    settings = [f"-dinclude-settings={SETTINGS_FILE}"] if ours else []
    command = [
        str(lilypond.executable()), *kind, *settings, "-dno-point-and-click", "--loglevel=WARNING",
        "in.ly",
    ]  # fmt: skip
    environment = {"FONTCONFIG_FILE": "fonts.conf", "LC_ALL": "C", **(UNSWEPT if ours else {})}
    done = subprocess.run(
        command,
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    return done.stderr


def drawn(source: str, folder: Path, kind: tuple[str, ...], *, ours: bool) -> dict[str, bytes]:
    """The files LilyPond draws of *source*, by name."""
    place = folder / ("ours" if ours else "plain")
    place.mkdir()
    assert run(source, place, kind, ours=ours) == ""
    found = {each.name: each.read_bytes() for each in sorted(place.glob(f"*.{kind[-1][2:]}"))}
    assert found
    return found


@pytest.mark.parametrize(
    ("kind", "look"),
    [(PDF, Look()), (PDF, Look(large=True)), (SVG, Look(show="tab"))],
    ids=["sheet", "large print", "drawing of the tab"],
)
def test_a_sheet_is_drawn_as_without_the_settings(
    kind: tuple[str, ...], look: Look, tmp_path: Path
) -> None:
    source = pages([SCORE], look, ids=kind is SVG)
    assert drawn(source, tmp_path, kind, ours=True) == drawn(source, tmp_path, kind, ours=False)


def test_the_music_of_a_page_is_drawn_as_without_the_settings(tmp_path: Path) -> None:
    source = music_for_screens([SCORE]).source
    assert drawn(source, tmp_path, SVG, ours=True) == drawn(source, tmp_path, SVG, ours=False)


BOOK = '\\book {{ \\bookOutputName "{}" \\score {{ \\new Staff {{ \\time {} c\'{} }} }} }}\n'


def test_figures_beside_each_other_stand_where_they_do_in_a_drawing_of_their_own(
    tmp_path: Path,
) -> None:
    # The 2 of 2/4 and the 2 of 12/8 are one sign of one size; only one begins at the left.
    source = (
        '\\version "2.24.3"\n' + BOOK.format("two", "2/4", "2") + BOOK.format("many", "12/8", "1.")
    )
    assert drawn(source, tmp_path, SVG, ours=True) == drawn(source, tmp_path, SVG, ours=False)


TELLING_FONTS = r"""\version "2.24.3"
#(let* ((lily (resolve-module '(lily))) (load (module-ref lily 'ly:system-font-load)))
  (module-set! lily 'ly:system-font-load
    (lambda (name)
      (format (current-error-port) "~a\n" name)
      (load name))))
#(set-global-staff-size 20)
"""


def fonts_read(music: str, folder: Path, *, ours: bool = True) -> list[int]:
    """The designs LilyPond reads for *music* on a staff of 20 points."""
    said = run(f"{TELLING_FONTS}\\score {{ {music} }}\n", folder, PDF, ours=ours).split()
    assert all(name.startswith("emmentaler-") for name in said)
    return sorted(int(name.rpartition("-")[2]) for name in said)


# A step is a sixth of an octave of sizes: 20 points and 4 steps less are 20 / 2 ** (4 / 6) = 12.6.
@pytest.mark.parametrize(
    ("steps", "designs"),
    [("0", [20]), ("-4", [13, 20]), ("-9", [11, 20]), ("-1.7", [16, 20]), ("6", [20, 26])],
)
def test_of_eight_fonts_those_are_read_that_the_music_needs(
    steps: str, designs: list[int], tmp_path: Path
) -> None:
    signed = f"{{ c'1 -\\markup \\fontsize #{steps} \\flat }}"
    assert fonts_read(signed, tmp_path) == designs


def test_left_to_itself_lilypond_reads_the_smaller_fonts_too(tmp_path: Path) -> None:
    # Where it no longer does, our settings have had their day.
    assert len(fonts_read("{ c'1 }", tmp_path, ours=False)) > 4


COUNTED = '#(format (current-error-port) "~a\\n" (cdr (assq \'gc-times (gc-stats))))\n'


def test_memory_is_swept_from_the_music_on_and_not_before(tmp_path: Path) -> None:
    source = f'\\version "2.24.3"\n{COUNTED}#(gc)\n{COUNTED}'
    before, after = map(int, run(source, tmp_path, PDF, ours=True).split())
    plain, _ = map(int, run(source, tmp_path, PDF, ours=False).split())
    assert before <= 2 < plain
    assert after == before + 1


def test_an_engraver_runs_lilypond_with_the_settings() -> None:
    told = '#(if (not (ly:get-option \'include-settings)) (ly:error "no settings"))\n'
    with Engraver() as engraver:
        engraver.feed(
            pages([SCORE]).replace('\\language "english"\n', f'\\language "english"\n{told}')
        )
        [sheet] = engraver.sheets(1)
    assert sheet.startswith(b"%PDF")
