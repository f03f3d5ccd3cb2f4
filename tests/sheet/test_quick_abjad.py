"""abjad writes every staff, and no more of it is read for that than a staff needs."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from reedmill.base.text import ForeignText
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language.parser import parse
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.music import music
from reedmill.sheet.page import pages
from reedmill.sheet.quick_abjad import abjad_note, lilypond_of, quick_abjad
from reedmill.theory.positions import Position
from tunes import score_from

# A program that writes a staff as we do, then goes on with abjad by itself.
STAFF = """
import sys
from fractions import Fraction
from reedmill.sheet.quick_abjad import abjad_note, lilypond_of, quick_abjad
abjad = quick_abjad()
staff = abjad.Staff([abjad.Container([abjad_note("bf'", Fraction(3, 8))])])
abjad.attach(abjad.Clef("treble^8"), abjad_note("d'", Fraction(1, 4)))
abjad.attach(abjad.KeySignature(abjad.NamedPitchClass("d"), abjad.Mode("minor")), staff[0][0])
abjad.attach(abjad.TimeSignature((3, 8)), staff[0][0])
score = abjad.Score([staff])
text = lilypond_of(score)
"""


def python(program: str, home: Path) -> str:
    """What *program* prints, run by a Python of its own whose home folder is *home*."""
    environment = {**os.environ, "HOME": str(home)}
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, env=environment
    )
    return done.stdout


def test_a_staff_needs_no_parser_no_instruments_and_no_folder_in_the_home(tmp_path: Path) -> None:
    asked = """
print("abjad.parsers" in sys.modules, "abjad.io" in sys.modules, "uqbar" in sys.modules)
print("Violin" in object.__getattribute__(sys.modules["abjad.instruments"], "__dict__"))
"""
    assert python(STAFF + asked, tmp_path) == "False False False\nFalse\n"
    assert list(tmp_path.iterdir()) == []


def test_whoever_else_imports_abjad_finds_all_of_it(tmp_path: Path) -> None:
    names = "import abjad as theirs\nprint(*(n for n in theirs.__all__ if hasattr(theirs, n)))\n"
    asked = """
print(theirs is abjad, type(staff) is theirs.Staff, theirs.lilypond(score) == text)
theirs.attach(theirs.Violin(), staff[0][0])
print(theirs.lilypond(theirs.Note("d'4")), isinstance(theirs.Tuba(), theirs.Instrument))
"""
    expected = python(names, tmp_path) + "True True True\nd'4 True\n"
    assert python(STAFF + names + asked, tmp_path) == expected
    assert python(f"import abjad\n{STAFF}{names}{asked}", tmp_path) == expected


ORDERS = """
major, minor = abjad.Mode("major"), abjad.Mode("minor")
print(major < minor, major <= minor, major > minor, major >= abjad.Mode("major"))
print(sorted(map(abjad.Mode, ("minor", "dorian", "major"))))
try:
    major < abjad.Clef("alto")
except TypeError as error:
    print(error)
"""


def test_abjads_signs_are_ordered_as_abjad_orders_them(tmp_path: Path) -> None:
    plain = python(f"import abjad\n{ORDERS}", tmp_path)
    assert plain.splitlines()[0] == "True True False True"
    assert python(STAFF + ORDERS, tmp_path) == plain


LENGTHS = [Fraction(each) for each in ("1/4", "3/16", "3/4", "1", "1/16")]


def test_a_staff_is_written_as_abjad_writes_it() -> None:
    abjad = quick_abjad()
    staff = abjad.Staff([abjad.Container([abjad_note("c'''", step) for step in LENGTHS])])
    abjad.attach(abjad.Articulation(">"), staff[0][0], direction=abjad.UP)
    abjad.attach(abjad.LilyPondLiteral("\\breathe", site="after"), staff[0][1])
    assert lilypond_of(staff) == abjad.lilypond(staff)
    assert [word for word in lilypond_of(staff).split() if word.startswith("c'''")] == [
        "c'''4", "c'''8.", "c'''2.", "c'''1", "c'''16",
    ]  # fmt: skip


def test_the_name_of_a_section_may_hold_the_sign_that_abjad_begins_its_tags_with() -> None:
    # Taken for a tag it would be cut off with its closing quote, and what comes next read as code.
    names = ("50 %! loud", "#(exit 3) %!")
    sections = tuple((Fraction(2 * at), ForeignText(name)) for at, name in enumerate(names))
    text = music(replace(score_from("-2 -3' -4 4"), sections=sections))
    for name in names:
        words = " ".join(f'"{word}"' for word in name.split())
        assert f"\\wordwrap {{ {words} }}" in text


def test_a_drill_with_such_names_is_drawn_and_runs_nothing(tmp_path: Path) -> None:
    touched = tmp_path / "touched"
    [drill] = parse(
        'drill "Home"\n section "50 %! loud"\n play -2 4 -4 r |\n'
        f" section \"#(open-output-file '{touched}') %!\"\n play -2 4 -4 r |"
    )
    with Engraver() as engraver:
        engraver.feed(pages([expand(drill, Harp("C"), Position(2))]))
        [sheet] = engraver.sheets(1)
    assert sheet.startswith(b"%PDF")
    assert not touched.exists()
