"""The recipes of DEVELOPERS.md, carried out on a copy as a contributor would.

A recipe that is followed works, and a step that is left out is named by a test whose message
says what to do.  ``recipes.py`` has the copy.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from recipes import Checkout, after, before, each_of, whole


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Checkout:
    return Checkout(tmp_path_factory.mktemp("recipes"))


# --- a format ----------------------------------------------------------------------------

CSV = '''\
"""The notes of a Score as a table for spreadsheets (RFC 4180)."""

from __future__ import annotations

import csv
import io

from reedmill.score.score import Score


def csv_text(score: Score) -> str:
    """A line for each note: where it starts and how long it is, in beats, and its tab."""
    table = io.StringIO()
    lines = csv.writer(table)
    lines.writerow(("start", "length", "tab"))
    lines.writerows((note.start, note.length, note.reed.tab) for note in score.notes)
    return table.getvalue()
'''
ROW = """
    Format(
        "csv", ".csv", "csv", "Table", "table of the notes", Maker.WRITER,
        drill="reedmill.formats.csv:csv_text",
        pack=InPack(StepKind("csv", (), (), 0.002, 300.0)),
    ),"""
MODULE = {"generator/reedmill/formats/csv.py": whole(CSV)}
TABLE = {"generator/reedmill/formats/table.py": after("\nROWS = (", ROW)}
COURSE = """\
title = "Tables"
harps = ["C"]
cautions = false
defaults = { hand_out = "csv" }

[[lessons]]
title = "One"

  [[lessons.exercises]]
  drill = "Mine"
  file = "mine.drill"
"""
# what commands say of a new format, each in a process of its own that has not seen the old table
SAID = """
import json, sys
from click.testing import CliRunner
from reedmill.cli import cli

def said(*arguments):
    done = CliRunner().invoke(cli, arguments)
    return [done.exit_code, done.output]

json.dump({
    "help": said("make", "--help"),
    "made": said("make", "mine.drill", "--to", "csv", "--out", "made"),
    "wrong": said("make", "mine.drill", "--to", "cvs", "--out", "made"),
    "checked": said("check", "tables.toml"),
    "pack": said("pack", "tables.toml", "--out", "pack", "--json"),
}, sys.stdout)
"""


def said(checkout: Checkout) -> dict[str, tuple[int, str]]:
    (checkout.folder / "mine.drill").write_text('drill "Mine"\n  play -2:1/2 -3\':3/2 4 r\n')
    (checkout.folder / "tables.toml").write_text(COURSE)
    found = json.loads(checkout.run("-c", SAID).splitlines()[-1])
    return {name: (code, output) for name, (code, output) in found.items()}


def test_a_format_is_one_module_and_one_row(checkout: Checkout) -> None:
    """RFC 4180: lines end in CR LF, and a field with a quote or comma in it is quoted."""
    with checkout.changed(MODULE | TABLE | checkout.as_they_are("docs", "courses")):
        found = said(checkout)
        assert re.search(r"Any\s+of\s+csv,\s+sheet,", found["help"][1])
        assert found["made"][0] == 0, found["made"][1]
        [made] = (checkout.folder / "made").glob("*.csv")
        assert made.read_bytes() == b"start,length,tab\r\n0,1/2,-2\r\n1/2,3/2,-3'\r\n2,1,4\r\n"
        code, told = found["wrong"]
        assert code == 2
        assert 'Did you mean "csv"? Choose from: csv, sheet, png,' in told
        assert found["checked"][0] == 0, found["checked"][1]
        assert found["pack"][0] == 0, found["pack"][1]
        files = {Path(row["path"]): row["kind"] for row in json.loads(found["pack"][1])["files"]}
        [packed] = [path for path, kind in files.items() if kind == "csv"]
        lines = (checkout.folder / packed).read_text("utf-8").splitlines()
        assert [row[2] for row in csv.reader(lines)] == ["tab", "-2", "-3'", "4"]
        manifest = json.loads((checkout.folder / "pack" / "manifest.json").read_text("utf-8"))
        assert "csv" in {row["kind"] for row in manifest["files"]}
        page = (checkout.folder / "pack" / "index.html").read_text("utf-8")
        assert f'href="{packed.relative_to("pack").as_posix()}">Table</a>' in page
        checkout.run("scripts/reference")
        reference = (checkout.folder / "docs" / "REFERENCE.md").read_text("utf-8")
        assert "Any of csv, sheet," in reference
        documents = re.findall(r'^\| `(?:files|plan)\[\]\.kind` .*`"csv"`.*$', reference, re.M)
        assert len(documents) == 5  # of make, place, pack, its plan and its manifest
        course = (checkout.folder / "courses" / "README.md").read_text("utf-8")
        assert "`csv`" in course


def test_without_its_row_nothing_knows_a_format(checkout: Checkout) -> None:
    with checkout.changed(MODULE):
        found = said(checkout)
        assert "csv" not in found["help"][1]
        for name in ("made", "checked", "pack"):
            code, told = found[name]
            assert (code, name) == (2, name), told
            assert re.search(r'there is no (format|kind of file) "csv"', told)


# --- the other recipes -------------------------------------------------------------------

BEGUN = (
    MODULE
    | TABLE
    | {
        "generator/reedmill/harp/layouts.py": each_of(
            before(
                "LAYOUTS: dict",
                """RAISED = Layout(
    printable("raised"),
    blow=(0, 4, 9, 12, 16, 19, 24, 28, 31, 36),
    draw=(2, 7, 11, 14, 17, 21, 23, 26, 29, 33),
)

""",
            ),
            after("in (RICHTER, COUNTRY, NATURAL_MINOR", ", RAISED"),
        ),
        "generator/reedmill/language/words.py": after(
            'Word("pickup", "the beats before the first whole bar", "pickup 1"),',
            '\n        Word("swell", "the beats it takes to grow louder", "swell 2"),',
        ),
        "generator/reedmill/score/score.py": after(
            "    warnings: tuple[Caution, ...] = ()",
            "  # what to know\n    swell: int = 0",
        ),
        "generator/reedmill/pack/course/models.py": after(
            "    fade_out: Annotated[bool | None, OrNone] = None",
            "\n    mirror: Annotated[bool | None, OrNone] = None",
        ),
        "patterns/forms/four-bars.form": whole(
            'form "Four bars"\n  about "The shortest."\n  bars  I7 | IV7 | V7 | I7\n'
        ),
    }
)
"""The first step of each recipe: a format, a layout, a word, a field, a course key, a form."""

SCORE_ROW = '    "Score.swell": Change(to(2)),\n'
SHOWN = '{"Score.notes", "Note.start", "Note.length", "Note.reed"}'
CSV_ROW = f"""
    "csv": {{
        "is not when and in which hole": " ".join(
            each for each in CHANGES if each not in {SHOWN} and not each.startswith("Reed.")
        )
    }},"""
FINISHED = {
    # a layout
    "generator/reedmill/cli/options.py": after("Layout of the reeds: richter,", " raised,"),
    "README.md": after("`--tuning country`", " or `--tuning raised`"),
    "tests/expand/test_fingering.py": after(
        '    "richter": RICHTER,',
        '\n    "raised": ((0, 4, 9, *RICHTER[0][3:]), RICHTER[1]),',
    ),
    # a word
    "generator/reedmill/language/grammar.lark": each_of(
        after("| feel | pickup", " | swell"), before('!level: "level"', '!swell: "swell" NUMBER\n')
    ),
    "generator/reedmill/language/builder.py": before(
        "    def level(self",
        "    def swell(self, parts: list[Token]) -> Line:\n"
        '        return parts[0], {"swell": self._number(parts, LEVELS)}\n\n',
    ),
    "generator/reedmill/language/drill.py": after(
        "    level: int | None = None", "\n    swell: int | None = None"
    ),
    "generator/reedmill/expand/expansion.py": after(
        "            level=drill.level,", "\n            swell=drill.swell or 0,"
    ),
    "patterns/README.md": before(
        "### positions\n", "### swell\n\nIn beats.\n\n```drill\nswell 2\n```\n\n"
    ),
    # a field of a score
    "tests/score/test_fields.py": each_of(
        before('    "Score.variant": ', SCORE_ROW),
        after("LEFT_OUT: dict[str, dict[str, str]] = {", CSV_ROW),
        before('    "follows from the notes"', '    "is for tests alone": "Score.swell",\n'),
    ),
    # a course key
    "generator/reedmill/pack/course/course_keys.py": before(
        '    CourseKey("ladder"', '    CourseKey("mirror", "true or false", "mirror = true"),\n'
    ),
    "courses/README.md": each_of(
        before("| `ladder` |", "| `mirror` | `true` or `false` | `false` |\n"),
        after("`richter` (as if left out), `country`", ", `raised`"),  # for the layout
    ),
    # a form
    "tests/band/test_band.py": after('LENGTHS = {"One chord": 8,', ' "Four bars": 4,'),
}
"""All other steps; those for a word and for a layout are followed by a script each."""

SCRIPTS = {"patterns/editors": "scripts/language_pages", "docs": "scripts/reference"}

_FORMAT = "test_a_format_shows_every_field_or_says_why_not"
_RULE = "test_every_word_has_a_rule_and_a_method_that_builds_it"
_HEADING = "test_every_line_has_a_heading_and_an_example_below_it"
_KEY = "test_every_key_that_can_be_written_has_a_row_and_every_row_can_be_written"
GUARDS = {
    ("tests/score/test_fields.py", _FORMAT, "csv"): (
        "nobody says which fields of a score the format csv shows. Name those it leaves out, with "
        "the reason, in LEFT_OUT of tests/score/test_fields.py"
    ),
    ("tests/house/test_documents.py", "test_the_reference_and_the_schemas_are_of_today"): (
        "run scripts/reference"
    ),
    ("tests/house/test_readme.py", "test_help_names_every_layout"): (
        "the layout raised is not in the help of --tuning: name it in cli/options.py"
    ),
    ("tests/expand/test_fingering.py", "test_the_reeds_of_the_tables_are_those_of_the_harps"): (
        "no test restates the layout raised: write its two rows in ROWS of "
        "tests/expand/test_fingering.py"
    ),
    ("tests/pack/test_curriculum_reference.py", "test_the_reference_names_every_layout"): (
        "the layout raised is not in courses/README.md: name it in the row of tuning"
    ),
    ("tests/language/test_language.py", _RULE, "swell"): (
        "the word 'swell' is in language/words.py, and no rule of grammar.lark reads it"
    ),
    ("tests/house/test_reference.py", _HEADING, "swell"): (
        "the word 'swell' has no heading with an example in patterns/README.md"
    ),
    ("tests/language/test_highlighting.py", "test_the_editor_file_is_current"): (
        "run scripts/language_pages"
    ),
    ("tests/score/test_fields.py", "test_every_field_can_be_changed_by_itself"): (
        "no test knows the field Score.swell of a score. Say in CHANGES of "
        "tests/score/test_fields.py what it is changed to"
    ),
    ("tests/pack/test_curriculum_reference.py", _KEY, "the defaults"): (
        "the defaults may have mirror, and pack/course/course_keys.py has no row that says what "
        "it takes"
    ),
    ("tests/band/test_band.py", "test_the_promised_forms_and_feels_are_there"): (
        "Four bars: every form of patterns/forms has its bars in LENGTHS of tests/band/test_band.py"
    ),
}
"""The tests that miss a step, with what they say where only the first step was done."""


def test_what_a_contributor_leaves_out_is_named_with_what_to_do(checkout: Checkout) -> None:
    with checkout.changed(BEGUN):
        told = checkout.told(*GUARDS)
    assert len(told) == len(GUARDS), told
    for (guard, sentence), line in zip(GUARDS.items(), told, strict=True):
        assert sentence in line, (guard, line)


LATER = {
    # left out, the test that misses it, and what it says
    "generator/reedmill/language/words.py": (
        ("tests/language/test_highlighting.py", "test_every_word_of_the_grammar_has_a_colour"),
        "grammar.lark reads swell, and language/words.py has no row for it",
    ),
    "generator/reedmill/language/builder.py": (
        ("tests/language/test_language.py", _RULE, "swell"),
        "grammar.lark reads the word 'swell', and Builder in language/builder.py has no method",
    ),
    "generator/reedmill/expand/expansion.py": (
        ("tests/language/test_language.py", "test_every_line_that_a_drill_keeps_is_asked_for",
         "swell"),
        "a Drill keeps its line 'swell', and nobody asks for it: give it its meaning in expand/",
    ),
    "generator/reedmill/pack/course/models.py": (
        ("tests/pack/test_curriculum_reference.py", _KEY, "the defaults"),
        "pack/course/course_keys.py has a row for mirror, and the defaults in "
        "pack/course/models.py has no such field",
    ),
    "courses/README.md": (
        ("tests/pack/test_curriculum_reference.py", "test_every_key_is_in_the_reference",
         "the defaults"),
        "courses/README.md lacks or has too many of: mirror.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("step", LATER)
def test_a_later_step_that_is_left_out_is_named_too(checkout: Checkout, step: str) -> None:
    guard, sentence = LATER[step]
    steps = {name: change for name, change in (BEGUN | FINISHED).items() if name != step}
    with checkout.changed(steps):
        [line] = checkout.told(guard)
    assert sentence in line


def test_a_recipe_that_is_followed_leaves_nothing_to_be_said(checkout: Checkout) -> None:
    made = checkout.as_they_are("docs", "courses", "patterns")
    with checkout.changed(made | BEGUN | FINISHED):
        for script in SCRIPTS.values():
            checkout.run(script)
        told = checkout.told(*GUARDS, *(guard for guard, _ in LATER.values()))
    assert [line for line in told if not line.startswith("right: ")] == []
    assert len(told) == len(GUARDS) + len(LATER)
