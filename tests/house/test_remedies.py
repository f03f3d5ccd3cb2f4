"""A rule says its fact where it is; what helps is said in the words of whoever asked."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import pytest

import reedmill
from reedmill import api
from reedmill.base.errors import InputError, ReedmillError, RenderError, pointing
from reedmill.base.kinds import check_kind
from reedmill.base.remedies import Remedy, Words
from reedmill.base.source import Span
from reedmill.cli.command_remedies import COMMAND_LINE
from reedmill.harp.chord_roles import parse_chords
from reedmill.library import find_drills
from reedmill.pack.course.course_remedies import IN_A_COURSE, in_course
from reedmill.pack.run.worker import receive, send
from reedmill.practice.practice import Practice, Recording, parse_types
from together import together

PACKAGE = Path(reedmill.__file__).parent
EDGES: dict[str, Words] = {
    "the command line": COMMAND_LINE,
    "a course": IN_A_COURSE,
    "Python": api.IN_PYTHON,
}
# What speaks of the command line below it, and why.
EXCEPTIONS = {
    "pack/course/course_remedies.py": "a course's words; its author builds it with a command",
    "formats/schemas.py": "it describes what the commands print, by their names",
    "sheet/engrave.py": "the options of LilyPond",
}
OPTION = re.compile(r"--[a-z]|\breedmill (?:make|backing|drills|notes|roles|soundfont|pack) ?[^-]")


def strings(path: Path) -> Iterator[tuple[int, str]]:
    """The strings of a module that are not its docstrings, with their lines."""
    tree = ast.parse(path.read_text("utf-8"))
    told = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.lineno, node.value


def test_nothing_below_the_command_line_names_its_options_or_commands() -> None:
    found = {
        f"{path.relative_to(PACKAGE).as_posix()}:{line}: {text}"
        for path in PACKAGE.rglob("*.py")
        if path.parent.name != "cli" and path.relative_to(PACKAGE).as_posix() not in EXCEPTIONS
        for line, text in strings(path)
        if OPTION.search(text)
    }
    assert found == set()


@pytest.mark.parametrize("module", EXCEPTIONS)
def test_every_exception_is_one(module: str) -> None:
    assert any(OPTION.search(text) for _, text in strings(PACKAGE / module))


@together("edge", EDGES)
@together("remedy", Remedy)
def test_every_edge_has_words_for_every_remedy(edge: str, remedy: Remedy) -> None:
    names = "file asked format harp typed kind topic most"
    values = {name: name for name in names.split()}
    told = "\n".join(InputError("So it is.", way_out=remedy, **values).worded(EDGES[edge]).lines)
    assert told.strip() != "So it is."
    assert not re.search(r"[{}]", told.replace("{ form", "").replace("}", ""))
    assert edge == "the command line" or not re.search(r"--(?!topic)[a-z]", told)


@dataclass(frozen=True, slots=True)
class Said:
    """One refusal, and how it is told: without words, and at the three edges."""

    refused: Callable[[], object]
    fact: str
    on_the_command_line: str
    in_a_course: str
    in_python: str


SAID = {
    "a loop without a drone": Said(
        lambda: Recording(loop=True),
        "loop makes a drone that can be looped.",
        "--loop makes a drone that can be looped. Add --drone.",
        'loop makes a drone that can be looped. Write for example: drone = "root"',
        'loop makes a drone that can be looped. Add drone=("root",).',
    ),
    "fading out once": Said(
        lambda: Practice(fade_out=True),
        "the tones can only fade out over repeats, and there are none.",
        "the tones can only fade out over repeats, and there are none. "
        "Write for example --repeat 4 with it.",
        "the tones can only fade out over repeats, and there are none. "
        "Write for example: repeat = 4",
        "the tones can only fade out over repeats, and there are none. "
        "Write for example Practice(repeats=4, fade_out=True).",
    ),
    "no type": Said(
        lambda: parse_types(" , "),
        "no type of sound file is named.",
        "no type of sound file is named. Write for example: --audio wav,mp3",
        'no type of sound file is named. Write for example: audio = ["mp3"]',
        'no type of sound file is named. Write for example: types=("wav", "mp3")',
    ),
    "nine chords": Said(
        lambda: parse_chords("I7 " * 99),
        "1 to 8 chords can be looked at.",
        "--chords takes 1 to 8 chords, for example: --chords 'I7 IV7 V7'",
        "1 to 8 chords can be looked at. Leave some of them out.",
        "1 to 8 chords can be looked at. Write for example: I7 IV7 V7",
    ),
    "a form for a drill": Said(
        lambda: check_kind(b'form "A"', "a {b}.form", "drill"),
        "a {b}.form: this is a form (the chords of a chorus), not a drill.",
        "a {b}.form: this is a form (the chords of a chorus), not a drill. Play it with: "
        "reedmill backing --form 'a {b}.form', or under a drill with --over 'a {b}.form'",
        "a {b}.form: this is a form (the chords of a chorus), not a drill. Put it under an "
        'exercise: backing = { form = "mine.form" }',
        "a {b}.form: this is a form (the chords of a chorus), not a drill. Read it with find_form.",
    ),
    "a title nobody knows": Said(
        lambda: find_drills("zzzz"),
        'there is no drill "zzzz".',
        'there is no drill "zzzz". Put a whole title in quotes; reedmill drills lists them. A '
        "file of your own ends in .drill.",
        'there is no drill "zzzz". reedmill drills lists the library; for a drill of your own, '
        'name its file too: file = "mine.drill"',
        'there is no drill "zzzz". search(Wanted()) gives all drills. A file of your own ends in '
        ".drill.",
    ),
}


@pytest.mark.parametrize("name", SAID)
def test_one_fact_is_told_in_the_words_of_whoever_asked(name: str) -> None:
    row = SAID[name]
    with pytest.raises(InputError) as caught:
        row.refused()
    error = caught.value
    assert str(error) == row.fact
    assert "\n".join(error.worded(COMMAND_LINE).lines) == row.on_the_command_line
    assert in_course(error) == row.in_a_course
    assert api.explained(error) == row.in_python


def test_what_fills_words_is_not_read_as_words() -> None:
    error = InputError("{file} {0}", way_out=Remedy.USE_COURSE, file="{fact}\nx")
    assert error.worded(COMMAND_LINE).lines == ("{file} {0} Build it with: reedmill pack {fact} x",)


@pytest.mark.parametrize("kind", [InputError, RenderError])
def test_a_way_out_goes_with_its_error_from_process_to_process(kind: type[ReedmillError]) -> None:
    stream = BytesIO()
    send(stream, kind("It died.", way_out=Remedy.ONE_JOB))
    stream.seek(0)
    error = receive(stream)
    assert str(error.worded(COMMAND_LINE)) == "It died; try --jobs 1."


def test_a_way_out_goes_with_its_error_to_a_place() -> None:
    error = InputError("the file is a form.", way_out=Remedy.USE_FEEL, file="x")
    there = pointing(error, Span("a.drill", 2, 3)).with_source("drill\n  play").lower(1)
    assert there.worded(COMMAND_LINE).lines == (
        "a.drill:3:3: the file is a form",
        '  Play a form with it: reedmill backing --form "Twelve bars" --feel x',
    )
