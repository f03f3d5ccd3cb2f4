"""A format imports what it needs and no more, and starts LilyPond as often as it must.

Modules are counted and not seconds: what is not read takes no time on any machine.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from reedmill.base.children import Child
from reedmill.cli import cli
from reedmill.sheet import engrave
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.screens import SCREENS, music_for_screens
from tunes import score_from

# What only other formats need, takes, a player's own harp, or a mistake.
SELDOM = {
    "difflib",
    "fontTools",
    "html.entities",
    "importlib.resources",
    "reedmill.band.arranger",
    "reedmill.base.toml_text",
    "reedmill.harp.own_harp",
    "reedmill.score.footprints",
    "reedmill.sheet.svg_fonts",
    "soundfile",
    "statistics",
    "tomllib",
}
SHEETS = {"abjad", "reedmill.sheet.fit", "reedmill.sheet.page", "reedmill.sheet.harp_map"}
SOUND = {"numpy", "reedmill.sound.recording.record"}
EARS = {"reedmill.ear"}
PAGES = {"jinja2", "reedmill.page.page_music"}


def modules_for(formats: str, out: Path) -> set[str]:
    """The modules in memory after a drill was made in *formats* by the command."""
    program = (
        "import sys\nfrom reedmill.cli import main\n"
        f"sys.argv[1:] = ['make', 'Home from every rung', '--to', '{formats}', '--out', 'here']\n"
        "try:\n    main()\nexcept SystemExit as ended:\n    assert not ended.code\n"
        "print('\\n' + ' '.join(sys.modules))"
    )
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONSTARTUP"}
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=out, env=environment, capture_output=True, text=True,
        check=True, timeout=120,
    )  # fmt: skip
    return set(done.stdout.splitlines()[-1].split())


@pytest.mark.parametrize(
    ("formats", "unneeded"),
    [
        ("tab", SELDOM | SHEETS | SOUND | EARS | PAGES | {"mido", "lilypond"}),
        ("midi", SELDOM | SHEETS | SOUND | EARS | PAGES | {"lilypond"}),
        ("wav", SELDOM | SHEETS | EARS | PAGES | {"mido", "lilypond"}),
        ("sheet", SELDOM | SOUND | EARS | PAGES | {"mido", "logging.handlers"}),
        ("sheet,midi,wav", SELDOM | EARS | PAGES),
        (
            "page",
            (SELDOM | SHEETS | SOUND) - {"abjad", "numpy", "html.entities", "statistics"}
            - {"importlib.resources"} | {"mido"},
        ),
    ],
)  # fmt: skip
def test_a_format_reads_nothing_that_only_others_need(
    formats: str, unneeded: set[str], tmp_path: Path
) -> None:
    assert modules_for(formats, tmp_path) & unneeded == set()


@pytest.mark.parametrize(
    ("formats", "starts"),
    [("tab", 0), ("sheet", 1), ("sheet,png", 1), ("page", 1), ("sheet,page", 2), ("svg,page", 2)],
)
def test_lilypond_is_started_once_for_all_it_prints_and_once_for_a_page(
    formats: str, starts: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    begun: list[str] = []

    class Counted(Child):
        def __init__(self, command: Sequence[str], **settings: Any) -> None:
            begun.append(command[0])
            super().__init__(command, **settings)

    monkeypatch.setattr(engrave, "Child", Counted)
    wanted = ["make", "Home from every rung", "--to", formats, "--out", str(tmp_path)]
    cli(wanted, standalone_mode=False)
    assert len(begun) == starts


def test_the_music_of_a_page_is_read_once_for_all_screens() -> None:
    score = score_from("-2 -3' 4 -4 5 -5")
    source = music_for_screens([score, score]).source
    assert source.count("\\new Staff") == 2
    assert source.count("\\keepWithTag") == 2 * len(SCREENS)


def test_a_line_that_ends_on_one_screen_goes_on_on_another() -> None:
    # Forty notes: lines of at most 12, 14 and 16 end in places of their own.
    drawn = music_for_screens([score_from(" ".join(["-2 -3' 4 -4"] * 10))])
    assert len(set(drawn.first_bars)) > 1
    with Engraver(svg=True) as engraver:
        engraver.feed(drawn.source)
        pictures = engraver.pictures(len(drawn.first_bars), "svg", bare=True)
    assert [len(lines) for lines in pictures] == [len(bars) for bars in drawn.first_bars]
