"""The reference is whole and of today, and every JSON document is as its schema says.

The schemas are judged by jsonschema, a program by other people (JSON Schema, draft 2020-12,
https://json-schema.org/draft/2020-12).  No schema lets in a field it does not name, and every
field it names was seen in some output here.
"""

from __future__ import annotations

import json
import re
import runpy
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import click
import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from hearing.evaluation import score_of
from hearing.held_together import in_time, score_of_text
from hearing.takes import played, recorded, reeds
from pack_builds import write_course
from reedmill.cli import cli
from reedmill.formats import schemas, table
from reedmill.formats.table import DRILL_FORMATS, Maker
from reedmill.harp import Harp
from reedmill.pack.build import build_report
from taken import kept_in, take

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
REFERENCE = (DOCS / "REFERENCE.md").read_text("utf-8")
HARD = 'drill "Hard"\n  tempo 200\n  play -3\':1/8 -10 6^\n'
WRONG = 'drill "A"\n  about "Home \U0001f3b5"\n  play -4\'\n\ndrill "B"\n  from "A"\n  move up 1\n'
OVERBLOWN = 'drill "No level"\n  embouchure lips\n  play -2 -3~-3\' -2:4 -3:4\n'


# --- what the commands print -------------------------------------------------------------


def printed(*words: str, code: int = 0) -> Any:
    """The JSON a command prints."""
    result = CliRunner().invoke(cli, [*words, "--json"])
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


def of_harps() -> Iterator[tuple[str, Any]]:
    yield "keys", printed("keys", "--key", "E minor")
    yield "keys", printed("keys", "--case", "C", "--key", "Ab")
    yield "keys-harp", printed("keys", "--harp", "C", "--tuning", "country")
    yield "keys-case", printed("keys", "--case", "C, low F, A natural minor, D country")
    yield "notes", printed("notes", "--harp", "low F", "--position", "3")
    yield "notes", printed("notes", "--tuning", "natural-minor", "--reference", "442")
    yield "roles", printed("roles", "--reeds", "-3 6^")
    yield "roles-chords", printed("roles", "--chords")
    yield "roles-chords", printed("roles", "--chords", "iim7b5 V7b9", "--harp", "Bb")
    yield "soundfont", printed("soundfont")


def of_charts(folder: Path) -> Iterator[tuple[str, Any]]:
    chart = ("--to", "sheet", "--out", str(folder))
    yield "keys-case", printed("keys", "--case", "C, A", *chart)
    yield "roles", printed("roles", *chart)
    yield "roles-chords", printed("roles", "--chords", *chart)
    asked = ("--questions", "2", "--pause", "2", "--apart", "--out", str(folder))
    yield "dictate", printed("dictate", "Home from every rung", *asked)


def of_drills(folder: Path) -> Iterator[tuple[str, Any]]:
    (folder / "hard.drill").write_text(HARD, "utf-8")
    (folder / "mine.drill").write_text(OVERBLOWN, "utf-8")
    hard, mine = str(folder / "hard.drill"), str(folder / "mine.drill")
    yield "drills", printed("drills")
    yield "drills", printed("drills", "--chord", "IV", "--level", "5")
    yield "drills-topics", printed("drills", "--topics")
    yield "drills-techniques", printed("drills", "--techniques")
    yield "drills-coverage", printed("drills", "--coverage")
    yield "expand", printed("expand", "Two bars home", mine, "--position", "4")
    yield "expand", printed("expand", "Two bars home", "--over", "Twelve bars")
    yield "expand", printed("expand", "Down from the fifth", "--why")
    yield "expand", printed("expand", str(shaped_drill(folder)))
    yield "expand", printed("expand", "--phrases", "--over", "Eight bars", "--rungs", "-3'")
    courses = str(ROOT / "courses" / "two-evenings.toml")
    feel = str(ROOT / "patterns" / "feels" / "rumba.feel")
    yield "check", printed("check", hard, courses, feel)
    yield "check", printed("check", "Two bars home", "--position", "3")
    wrong = folder / "wrong.drill"
    wrong.write_text(WRONG, "utf-8")
    yield "check", printed("check", str(wrong), code=2)


SHAPED = """drill "Shaped"
  play -2q&3 -3q vibrato4 -2:2 -3:1~:2 -3'':3 -2:2 4 ~4&5
"""


def shaped_drill(folder: Path) -> Path:
    """A drill of several holes, quarter tones, a mark of style and a slow slide."""
    path = folder / "shaped.drill"
    path.write_text(SHAPED, "utf-8")
    return path


def of_makes(folder: Path) -> Iterator[tuple[str, Any]]:
    out = ("--out", str(folder / "made"))
    heard = ("--drone", "root+fifth", "--click", "--count-in", "1", "--echo", "1", "--verify")
    practised = ("--stems", "--repeat", "2", "--ladder", "60 to 70 by 10", "--apart")
    pages = [row.name for row in table.made_by(Maker.LILYPOND, DRILL_FORMATS, DRILL_FORMATS)]
    asked = ("--to", ",".join(name for name in DRILL_FORMATS if name not in pages))
    yield "make", printed("make", "Two bars home", *asked, *heard, *practised, *out)
    yield "json-format", of_file(folder)
    over = ("--over", "One chord", "--tempo", "115", "--to", ",".join(["json", *pages]))
    yield "make", printed("make", "Two bars home", *over, *out)
    yield "json-format", of_file(folder)
    breathed = folder / "breathed.drill"
    breathed.write_text(OVERBLOWN, "utf-8")
    yield "make", printed("make", str(breathed), "--to", "json", *out)
    yield "make", printed("make", str(shaped_drill(folder)), "--to", "json", *out)
    yield "json-format", of_file(folder)
    every = ("--to", ",".join(table.BAND_FORMATS), "--click", "--stems", "--choruses", "1")
    yield "backing", printed("backing", "--form", "Eight bars", *every, *out)
    yield "backing-list", printed("backing")


def of_file(folder: Path) -> Any:
    """The newest file of ``--to json``."""
    found = sorted((folder / "made").glob("[!.]*.json"), key=lambda path: path.stat().st_mtime_ns)
    return json.loads(found[-1].read_text("utf-8"))


def of_packs(folder: Path) -> Iterator[tuple[str, Any]]:
    every = ", ".join(f'"{name}"' for name in table.PACK_FORMATS)
    course = write_course(folder, formats=every, more='drone = "root"')
    broken = course.read_text("utf-8") + (
        '\n  [[lessons.exercises]]\n  drill = "Gamma"\n  file = "own.drill"\n'
        '  harps = ["low F"]\n  [[lessons.charts]]\n  reeds = "-3"\n'
        '\n[[students]]\nname = "Ada"\n'
    )
    course.write_text(broken, "utf-8")
    pack = ("pack", str(course), "--out", str(folder / "pack"), "--jobs", "1")
    yield "pack-plan", printed(*pack, "--plan")
    yield "pack", printed(*pack, "--zip", code=1)
    for path in (folder / "pack").rglob("manifest.json"):
        yield "manifest", json.loads(path.read_text("utf-8"))
    yield "pack", printed(*pack, "--lesson", "1", code=0)
    write_course(folder, formats='"tab"')
    printed(*pack)
    yield "clean", printed("clean", str(folder / "pack"))


def of_takes(folder: Path) -> Iterator[tuple[str, Any]]:
    """Takes with every kind of note: in place, out, another, left out, put in and not judged."""
    score = score_of("Home from every rung", "C")
    notes = played(score)
    notes[3] = replace(notes[3], hz=587.33, from_hz=587.33)
    extra = replace(notes[6], index=None, hz=587.33, from_hz=587.33)
    later = [replace(each, start_s=each.start_s + 1, end_s=each.end_s + 1) for each in notes[6:]]
    take = recorded(folder, "take", score, [*notes[:4], notes[5], extra, *later])
    shown = ("--to", "sheet", "--out", str(folder / "heard"))
    yield "hear", printed("hear", str(take), "--drill", "Home from every rung", *shown)
    shaped = score_of_text(SHAPED)
    take = recorded(folder, "shaped", shaped, in_time(shaped))
    yield "hear", printed("hear", str(take), "--drill", str(shaped_drill(folder)))
    task = score_of("Task 6, both bends of draw 2", "C")
    take = recorded(folder, "tuesday", task, played(task))
    yield "place", printed("place", str(take))
    harp = recorded(folder, "harp", score, reeds(Harp("C"), {"-5": -30.0}))
    yield "hear-harp-test", printed("hear", str(harp), "--harp-test")


def of_books(folder: Path) -> Iterator[tuple[str, Any]]:
    """A book with a student of two takes, in which is all that a take may have, and another."""
    book = ("--book", str(folder / "class.book"))
    files: list[str] = []
    for name, heard in of_takes(folder):
        if name == "hear":
            files.append(str(folder / f"{len(files)}.json"))
            Path(files[-1]).write_text(json.dumps(heard), "utf-8")
    yield "record-add", printed("record", "add", *files, "--student", "Ada", *book)
    yield "record-list", printed("record", "list", *book)
    yield "record-export", printed("record", "export", *book)
    written = folder / "all.json"
    result = CliRunner().invoke(cli, ["record", "export", "--out", str(written), *book])
    assert result.exit_code == 0, result.output
    yield "record-export", json.loads(written.read_text("utf-8"))
    yield "progress", printed("progress", "Ada", *book)
    weeks = [take([("-3'", "-2", 9.0)] * 9, recorded=f"2027-01-0{day}T18:00:00Z")
             for day in range(1, 6)]  # fmt: skip
    several = kept_in(folder / "several.json", weeks)
    printed("record", "add", str(several), "--student", "Ben", *book)
    page = ("--to", "page", "--out", str(folder / "pages"))
    yield "progress", printed("progress", "Ben", *page, *book)
    yield "next", printed("next", "Ada", *book)
    yield "next", printed("next", "Ben", "--minutes", "60", "--harp", "C, F", *book)
    tasks = [
        take([("-4'", "-2", out)] * 4, title="Task 3, draw 4 and draw 1") for out in (4.0, 44.0)
    ]
    printed("record", "add", str(kept_in(folder / "tasks.json", tasks)), "--student", "Di", *book)
    yield "place", printed("place", "--student", "Di", *book)
    yield "place-tasks", printed("place", "--out", str(folder / "tasks"))
    yield from of_classes(folder, book)
    yield "record-forget", printed("record", "forget", "Ada", *book)
    yield "record-list", printed("record", "list", *book)
    yield "record-list", printed("record", "demo", "--book", str(folder / "demo.book"))


def of_classes(folder: Path, book: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
    """A class with a student who is stuck and behind on one register, and one who is unknown."""
    now = datetime.now(UTC).isoformat()
    rungs = [(tab, "-2") for tab in ("-3'", "-3''", "-4'")]
    takes = [take([(*each, out) for each in rungs * 12], harp=harp, recorded=now)
             for harp, out in (("C", 5.0), ("A", 55.0))]  # fmt: skip
    several = kept_in(folder / "today.json", takes)
    printed("record", "add", str(several), "--student", "Eve", *book)
    yield "class", printed("class", *book)
    course = folder / "class.toml"
    course.write_text(CLASS, "utf-8")
    page = ("--to", "page", "--out", str(folder / "pages"))
    yield "class", printed("class", str(course), *page, *book)


CLASS = """
title = "A class"
harps = ["C", "A", "F"]

[[lessons]]
title = "First"
[[lessons.exercises]]
drill = "Home from every rung"

[[lessons]]
title = "Second"
[[lessons.exercises]]
drill = "Skip a rung"

[[students]]
name = "Eve"

[[students]]
name = "Benn"
"""

SOURCES = ("harps", "charts", "drills", "makes", "packs", "takes", "books")


@cache
def documents(source: str) -> list[tuple[str, Any]]:
    """Every document of a *source*, with the name of its schema."""
    with TemporaryDirectory(prefix="reedmill-documents-") as name:
        folder = Path(name)
        match source:
            case "harps":
                return list(of_harps())
            case "charts":
                return list(of_charts(folder))
            case "drills":
                return list(of_drills(folder))
            case "makes":
                return list(of_makes(folder))
            case "takes":
                return list(of_takes(folder))
            case "books":
                return list(of_books(folder))
            case _:
                return list(of_packs(folder))


@pytest.mark.parametrize("source", SOURCES)
def test_every_document_is_as_its_schema_says(source: str) -> None:
    for name, data in documents(source):
        found = Draft202012Validator(schemas.schema(name)).iter_errors(data)
        assert [f"{name}: {each.json_path}: {each.message}" for each in found] == []


def places(data: Any, place: str = "") -> Iterator[str]:
    """Every field of *data*, as the reference writes it."""
    if isinstance(data, dict):
        for name, each in data.items():
            yield f"{place}{name}"
            yield from places(each, f"{place}{name}{'' if isinstance(each, list) else '.'}")
    elif isinstance(data, list):
        for each in data:
            yield from places(each, f"{place}[].")


def named(of: dict[str, Any], place: str = "") -> Iterator[str]:
    """Every field a schema names, as the reference writes it."""
    for name, each in of.get("properties", {}).items():
        yield f"{place}{name}"
        yield from named(each, f"{place}{name}.")
        yield from named(each.get("items", {}), f"{place}{name}[].")


def test_every_field_that_is_documented_is_there_in_some_output() -> None:
    seen: dict[str, set[str]] = {name: set() for name in schemas.DOCUMENTS}
    for source in SOURCES:
        for name, data in documents(source):
            seen[name] |= set(places(data))
    for name, of in schemas.DOCUMENTS.items():
        assert seen[name] == set(named(of)), name


def every_object(of: Any) -> Iterator[dict[str, Any]]:
    if isinstance(of, dict):
        if of.get("type") == "object":
            yield of
        for each in of.values():
            yield from every_object(each)


@pytest.mark.parametrize("name", schemas.DOCUMENTS)
def test_a_schema_is_one_and_lets_no_field_in_that_it_does_not_name(name: str) -> None:
    of = schemas.schema(name)
    Draft202012Validator.check_schema(of)
    for each in every_object(of):
        assert each["additionalProperties"] is False
        for field in each["properties"].values():
            assert field["description"]
    assert not Draft202012Validator(of).is_valid({"surprise": 1})


def test_the_kinds_of_files_are_those_that_are_made() -> None:
    made = [row for name, data in documents("makes") if name == "make" for row in data["files"]]
    assert {row["kind"] for row in made} == {row.kind for row in DRILL_FORMATS.values()}
    rows = [row for name, data in documents("packs") if name == "pack" for row in data["files"]]
    assert {row["kind"] for row in rows} == set(schemas.PACK_KINDS)
    assert build_report.REPORT == "last-build.json"


def test_every_command_that_prints_json_has_its_documents() -> None:
    able = {
        name
        for name, command in cli.commands.items()
        if any("--json" in param.opts for param in command.params)
    }
    assert able == {re.split("-", name)[0] for name in schemas.DOCUMENTS} - {"json", "manifest"}


# --- the reference -----------------------------------------------------------------------


def test_the_reference_and_the_schemas_are_of_today() -> None:
    """Else run scripts/reference."""
    generated = runpy.run_path(str(ROOT / "scripts" / "reference"))
    pages = generated["pages"]()
    assert {place: (DOCS / place).read_text("utf-8") for place in pages} == pages, (
        "run scripts/reference"
    )
    assert (ROOT / "courses" / "README.md").read_text("utf-8") == generated["course_page"]()
    kept = {f"schemas/{path.name}" for path in (DOCS / "schemas").iterdir()}
    assert kept == set(pages) - {"REFERENCE.md"}


@pytest.mark.parametrize("name", [each for each in cli.commands if not cli.commands[each].hidden])
def test_every_option_of_a_command_is_in_the_reference(name: str) -> None:
    _, _, rest = REFERENCE.partition(f"### reedmill {name}\n")
    section = re.split(r"^##+ ", rest, flags=re.MULTILINE)[0]
    for param in cli.commands[name].params:
        if isinstance(param, click.Option) and not param.hidden:
            assert param.help, param.name
            assert f"| `{param.opts[0]}" in section
        elif isinstance(param, click.Argument):
            assert (param.metavar or "bash|zsh|fish").strip("[].") in section


def test_every_field_is_in_the_reference() -> None:
    for name, of in schemas.DOCUMENTS.items():
        _, _, rest = REFERENCE.partition(f"### {name}\n")
        section = rest.split("\n### ")[0]
        assert set(re.findall(r"^\| `([^`]+)` \|", section, re.MULTILINE)) == set(named(of))


def test_the_links_of_the_documents_lead_to_files() -> None:
    for page in DOCS.glob("*.md"):
        links = re.findall(r"\]\((?!https?:)([^)#]+)", page.read_text("utf-8"))
        assert [link for link in links if not (DOCS / link).exists()] == [], page.name
