"""The shape of the program: imports point one way, and heavy ones stay where they are used."""

from __future__ import annotations

import ast
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import reedmill
from reedmill.formats import table
from reedmill.formats.written import function_at

PACKAGE = Path(reedmill.__file__).parent

# Lowest first: what each part may import of the others.  A renderer gets a score and
# nothing else, so none of them may know the language, the expansion or the library.
_MUSIC = {"base", "theory", "harp", "score"}
_COURSES = _MUSIC | {"language", "expand", "practice", "band", "formats", "sheet", "library"}
MAY_IMPORT: dict[str, set[str]] = {
    "base": set(),
    "formats.table": set(),  # rows alone, which whoever tells of formats may read
    "theory": {"base"},
    "harp": {"base", "theory"},
    "score": {"base", "theory", "harp"},
    "language": _MUSIC,
    "expand": _MUSIC | {"language"},
    "practice": {"base", "score"},
    "band": {"base", "theory", "harp", "score", "language", "expand"},
    "ear": _MUSIC,
    "formats": _MUSIC | {"practice", "ear", "formats.table"},
    "sheet": _MUSIC | {"formats"},
    "sound.signal": {"base", "practice"},
    "sound.reed": {"harp", "score", "practice", "sound.signal"},
    "sound.soundfont": {"base", "theory", "score", "practice", "sound.signal", "sound.reed"},
    "sound.band": {
        "base", "theory", "score", "practice", "sound.signal", "sound.reed", "sound.soundfont",
    },
    "sound.recording": {
        "base", "score", "practice", "sound.signal", "sound.reed", "sound.soundfont", "sound.band",
    },
    "page": _MUSIC | {"ear", "formats", "sheet", "sound.signal", "sound.reed"},
    "library": _MUSIC | {"language", "expand"},
    "coverage": _MUSIC | {"library"},
    "make": _MUSIC | {
        "practice", "ear", "formats", "formats.table", "sheet", "page", "sound.signal",
        "sound.recording",
    },
    "listening": _MUSIC | {"language", "expand", "library", "ear"},
    "record": _MUSIC | {"ear"},
    "coaching": _MUSIC | {"language", "expand", "library", "record"},
    "pack.course": _COURSES | {"formats.table", "record", "coaching"},
    "pack.steps": _MUSIC | {"practice", "sheet", "formats.table"},
    "pack.pages": {"base", "theory", "harp", "sheet", "pack.course"},
    "pack.run": {
        "base", "score", "practice", "formats", "formats.table", "sheet", "page",
        "sound.recording", "pack.steps", "pack.pages",
    },
    "pack.keep": {
        "base", "formats.table", "sound.signal", "sound.recording", "pack.steps",
    },
    "pack.plan": {
        "base", "theory", "practice", "formats.table", "sound.signal", "pack.course", "pack.steps",
        "pack.pages", "pack.keep",
    },
    "pack.site": {
        "base", "theory", "harp", "formats.table", "sheet", "pack.course", "pack.steps",
        "pack.pages", "pack.plan",
    },
    "pack.build": {
        "base", "practice", "formats.table", "sheet", "sound.signal", "pack.course", "pack.steps",
        "pack.pages", "pack.run", "pack.keep", "pack.plan", "pack.site",
    },
    "record_pages": _MUSIC | {"record", "coaching"},
    "checking": _COURSES | {"pack.course"},
    "cli": _COURSES | {
        "ear", "listening", "record", "coaching", "coverage", "record_pages", "formats",
        "formats.table", "make", "checking", "sound.soundfont", "pack.course", "pack.pages",
        "pack.run", "pack.keep", "pack.plan", "pack.build",
    },
    "api": _MUSIC | {
        "language", "expand", "practice", "band", "ear", "formats", "library", "listening", "make",
        "record", "coaching",
    },
}  # fmt: skip
DIVIDED = ("sound", "pack")  # rooms with rooms of their own
ALONE = ("formats.table",)  # modules that stand in the table by themselves
TOLD = {"formats.table", "formats.written"}  # of the renderers' rooms, but no renderer
COMMANDS = [
    "cli",
    *(f"cli.{each}" for each in ("accompanying", "asked", "checking", "commands", "ticking")),
    *(f"cli.{each}" for each in ("saying", "showing")),
    "cli.choosing_harps",
    "cli.dictating",
    "cli.hearing",
    "cli.keeping",
    "cli.classing",
    "cli.paging",
    "cli.progressing",
    "cli.next_practice",
    "cli.placing_command",
    *(f"cli.{each}" for each in ("completing", "ending", "making", "meant", "options", "pack")),
    "cli.grouping",
]
# what a command needs before it knows what is asked of it
BASE = [
    "base",
    *(f"base.{each}" for each in ("errors", "ranges", "remedies", "source", "stopping", "text")),
]
RENDERERS = ("formats", "sound", "sheet")

# Each outside library and the part, or the few, that may know it.
OUTSIDE: dict[str, str | tuple[str, ...]] = {
    "click": "cli",
    "lark": ("language", "band", "base.grammar_tables", "base.toml_grammar", "base.toml_tables"),
    "numpy": ("sound", "ear", "make.verifying", "record.rung_progress", "coaching"),
    "av": "ear.take",
    "soundfile": "sound",
    "fluidsynth": "sound.soundfont",
    "mutagen": ("sound.recording.audio_files", "sound.recording.album", "pack.pages.cover"),
    "music21": "formats.braille",
    "mido": "formats.quick_mido",
    "abjad": "sheet",
    "lilypond": "sheet",
    "fastjsonschema": "record.take_data",
    "fsrs": "coaching.recalling",
    "platformdirs": "record.record_book",
    "fontTools": ("sheet.fonts", "sheet.svg_fonts"),
    "uqbar": "sheet",  # which abjad brings with it
    "jinja2": ("base.page_templates", "page.practice_page"),
    "markdown_it": "pack.course",
    "markupsafe": (
        "pack.site",
        "page.practice_page",
        "page.page_music",
        "record_pages.record_frame",
    ),
    "pydantic": "pack.course",
    "pydantic_core": "pack.course",
    "pypdf": "pack.pages",
    "distributed": "pack.run",
}


@dataclass(frozen=True)
class Import:
    """One import statement: the module it stands in, and what it names."""

    inside: str
    target: str
    line: int
    late: bool  # inside a function, so that it costs nothing before it is needed


def module_name(path: Path) -> str:
    """``sound.mix`` for sound/recording/mix.py; the name of its package for an ``__init__``."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}


def imports_of(module: str) -> Iterator[Import]:
    tree = ast.parse(MODULES[module].read_text("utf-8"))
    late = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) or is_for_types_only(node)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(module, alias.name, node.lineno, id(node) in late)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith("import_module"):
            if isinstance(node.args[0], ast.Constant):
                yield Import(module, str(node.args[0].value), node.lineno, id(node) in late)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: write the whole name"
            names = [f"{node.module}.{alias.name}" for alias in node.names]
            found = [name for name in names if name.removeprefix("reedmill.") in MODULES]
            for target in found or [node.module or ""]:
                yield Import(module, target, node.lineno, id(node) in late)


def is_for_types_only(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"


@cache
def every_import() -> list[Import]:
    """Found when the first test asks, so that collecting the tests does not read the package."""
    return [each for module in MODULES for each in imports_of(module)]


def own() -> list[Import]:
    return [each for each in every_import() if each.target.startswith("reedmill.")]


def foreign() -> list[Import]:
    elsewhere = {"reedmill", *sys.stdlib_module_names}
    return [each for each in every_import() if each.target.partition(".")[0] not in elsewhere]


def inner(each: Import) -> str:
    return each.target.removeprefix("reedmill.")


def part(module: str) -> str:
    """The room a module stands in: ``sheet``, ``pack.course``."""
    if module in ALONE:
        return module
    room, _, rest = module.partition(".")
    return f"{room}.{rest.partition('.')[0]}" if room in DIVIDED and rest else room


def outermost(module: str) -> str:
    return module.partition(".")[0]


def where(each: Import) -> str:
    return f"{each.inside or '__init__'}:{each.line} imports {each.target}"


def test_every_module_belongs_to_a_part() -> None:
    assert {part(module) for module in MODULES if module} == set(MAY_IMPORT) | set(DIVIDED)


def test_the_table_points_one_way() -> None:
    order = list(MAY_IMPORT)
    for name, below in MAY_IMPORT.items():
        assert all(order.index(each) < order.index(name) for each in below), name


def test_imports_point_one_way() -> None:
    wrong = [
        where(each)
        for each in own()
        if part(each.inside) != part(inner(each))
        and part(inner(each)) not in MAY_IMPORT.get(part(each.inside), set())
    ]
    assert wrong == []
    assert len(own()) > 100  # the statements were found


def test_no_module_imports_itself_by_a_way_round() -> None:
    graph: dict[str, set[str]] = {module: set() for module in MODULES}
    for each in own():
        graph[each.inside].add(inner(each))
    order = list(TopologicalSorter(graph).static_order())  # raises CycleError
    assert set(order) == set(MODULES)


def test_renderers_do_not_know_each_other_but_for_the_tab_on_the_sheet() -> None:
    across = {
        (outermost(each.inside), inner(each))
        for each in own()
        if outermost(each.inside) in RENDERERS
        and outermost(inner(each)) in RENDERERS
        and outermost(each.inside) != outermost(inner(each))
    }
    assert across <= {("sheet", "formats.text_tab"), ("sheet", "formats.band_text")}
    within = {
        (each.inside, inner(each))
        for each in own()
        if outermost(each.inside) == outermost(inner(each)) == "formats"
    }
    parts = ("formats.band_midi", "formats.midi_bends", "formats.midi_guide")
    midi = ("formats.midi", *parts)
    assert within == {(module, "formats.midi_file") for module in midi} | {
        (module, "formats.quick_mido") for module in (*parts, "formats.midi_file")
    } | {(module, "formats.midi_clock") for module in midi} | {
        ("formats.musicxml", "formats.chord_symbols"),
        ("formats.web_page", "formats.text_tab"),  # the same words, in a table
        ("formats.midi", "formats.band_midi"),
        ("formats.midi", "formats.midi_bends"),
        ("formats.midi", "formats.midi_guide"),
        ("formats.midi_guide", "formats.midi_bends"),
        ("formats.midi_clock", "formats.midi_file"),
        ("formats.written", "formats.table"),
        ("formats.schemas", "formats.table"),
        ("formats.writable", "formats.table"),
    }


def known_to(library: str) -> tuple[str, ...]:
    parts = OUTSIDE.get(library, ())
    return (parts,) if isinstance(parts, str) else parts


def test_each_outside_library_is_known_to_one_part() -> None:
    wrong = [
        where(each)
        for each in foreign()
        if not any(
            f"{each.inside}.".startswith(f"{one}.") for one in known_to(outermost(each.target))
        )
    ]
    assert wrong == []
    assert {outermost(each.target) for each in foreign()} >= {"click", "lark", "numpy", "mido"}


def test_the_outside_libraries_are_the_ones_the_package_asks_for() -> None:
    project = tomllib.loads((PACKAGE.parents[1] / "pyproject.toml").read_text())["project"]
    asked = {text.partition(">")[0].partition("=")[0] for text in project["dependencies"]}
    imported = {"markdown-it-py": "markdown_it", "fonttools": "fontTools"}
    asked = {imported.get(name, name) for name in asked}
    # uqbar comes with abjad, the others with extras
    extras = {"fluidsynth", "distributed", "pydantic_core", "av", "music21"}
    assert asked == set(OUTSIDE) - {"uqbar"} - extras


@pytest.mark.parametrize("room", ["cli", "make", "pack.run"])
def test_renderers_are_imported_only_when_they_are_used(room: str) -> None:
    # Themselves imported only when a picture is shown, tones are verified, or pages are made.
    late = {"cli.picture", "make.verifying", "pack.run.pages_in_pack"}
    modules = [each for each in MODULES if part(each) == room and each not in late]
    early = {inner(each) for each in own() if each.inside in modules and not each.late} - TOLD
    assert [name for name in early if outermost(name) in RENDERERS] == []


@pytest.mark.parametrize("row", table.ROWS, ids=lambda row: row.name)
def test_a_format_is_made_by_a_function_that_make_and_packs_may_import(row: table.Format) -> None:
    """The paths in the table are imports too, which no import statement shows."""
    for path in filter(None, (row.drill, row.band)):
        room = part(path.partition(":")[0].removeprefix("reedmill."))
        assert room in MAY_IMPORT["make"] & MAY_IMPORT["pack.run"], (
            f"the format {row.name} is made by {path}, and make may not import from {room}"
        )
        assert callable(function_at(path))


def test_the_command_line_imports_nothing_of_ours_before_it_is_needed() -> None:
    early = [each for each in own() if each.inside in COMMANDS and not each.late]
    named = ("cli", "formats.table")  # help names the formats
    early = [each for each in early if inner(each) != "base.ranges"]  # numbers that help names
    assert [where(each) for each in early if part(inner(each)) not in named] == []


SLOW = {"abjad", "lark", "lilypond", "mido", "numpy", "scipy"}


def loaded_by(*arguments: str) -> set[str]:
    """The modules in memory after one run of the command line, in a fresh interpreter."""
    return loaded_after(
        f"from reedmill.cli import cli\ncli({list(arguments)!r}, standalone_mode=False)"
    )


def loaded_after(program: str) -> set[str]:
    show = "\nimport sys\nprint('\\n' + ' '.join(sys.modules))"
    command = [sys.executable, "-c", program + show]
    environment = {"PYTHONPATH": str(PACKAGE.parent)}
    done = subprocess.run(
        command, env=environment, capture_output=True, text=True, check=True, timeout=60
    )
    return set(done.stdout.splitlines()[-1].split())


@pytest.mark.parametrize(
    "arguments",
    [["--help"], ["make", "--help"], ["hear", "--help"], ["--version"]],
    ids=lambda a: " ".join(a),
)
def test_help_is_instant(arguments: list[str]) -> None:
    loaded = loaded_by(*arguments)
    assert loaded.isdisjoint(SLOW)
    ours = {name for name in loaded if name.startswith("reedmill.")}
    assert ours <= {f"reedmill.{name}" for name in (*COMMANDS, *BASE, "formats", "formats.table")}


def test_looking_at_a_harp_needs_no_renderer() -> None:
    assert loaded_by("notes", "--harp", "A").isdisjoint(SLOW - {"lark"})


def test_looking_at_a_drill_needs_no_renderer() -> None:
    assert loaded_by("expand", "Two bars home").isdisjoint(SLOW - {"lark"})


def test_the_python_interface_needs_no_renderer_until_it_makes_something() -> None:
    loaded = loaded_after("import reedmill.api")
    assert "reedmill.make.material" in loaded
    assert loaded.isdisjoint(SLOW - {"lark"})
