"""A terminal for the tests: a pseudo-terminal whose other end says which bytes came out.

Many command lines run one after the other in one process (``run_all``), because starting
Python each time would take minutes.  As a program it counts what any checkout lets through::

    PYTHONPATH=generator python tests/terminal.py
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import tty
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

FORGED = "All checks passed"

# What a name may hold that a terminal obeys, that hides, or that reorders: control characters
# of ISO 6429 (ECMA-48) and of the Unicode Standard, 23.1, 23.2 and 23.8; UAX 9 for bidi.
HOSTILE = {
    "ESC": "\x1b[31m", "OSC": "\x1b]0;owned\x07", "BEL": "\a", "BS": "\b\b\b", "CR": "\r",
    "LF": "\n", "VT": "\v", "FF": "\f", "DEL": "\x7f", "CSI (C1)": "\x9b31m", "NEL": "\x85",
    "RLO": "\u202e", "RLI": "\u2067", "PDI": "\u2069", "LRM": "\u200e", "RLM": "\u200f",
    "ALM": "\u061c", "LS": "\u2028", "PS": "\u2029", "ZWSP": "\u200b", "ZWJ": "\u200d",
    "WJ": "\u2060", "BOM": "\ufeff", "byte 9B": "\udc9b",
}  # fmt: skip
_OBEYED = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff"
    "\ud800-\udfff]"
)
_OUR_STYLES = re.compile("\x1b\\[[01]m")


def hostile(kind: str) -> str:
    """A name with what *kind* is in its middle, after which it claims that all is well."""
    return f"x{HOSTILE[kind]}{FORGED}"


def everything() -> str:
    """A name with all of them."""
    return f"x{''.join(HOSTILE.values())}\n{FORGED}\r{FORGED}"


def leaks(output: bytes) -> list[str]:
    """What of *output* a terminal would obey, by code point; and lines that were forged."""
    text = _OUR_STYLES.sub("", output.decode("utf-8", "surrogateescape"))
    found = sorted({f"U+{ord(c):04X}" for c in _OBEYED.findall(text)})
    forged = any(line.startswith(FORGED) for line in re.split("[\r\n]", text))
    return found + ["a forged line"] * forged


@dataclass(frozen=True)
class Case:
    """One command line in a folder of its own."""

    name: str
    words: tuple[str, ...]
    folder: str
    environment: Mapping[str, str] = field(default_factory=dict)
    writes: Mapping[str, str | None] = field(default_factory=dict)  # just before; None removes


@dataclass(frozen=True)
class Shown:
    """What a case put on the terminal, and its exit code."""

    case: Case
    output: bytes
    code: int


def on_terminal(command: Sequence[str], environment: Mapping[str, str]) -> tuple[bytes, int]:
    """All bytes that *command* writes to a terminal, and its exit code."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)  # no line feed becomes two characters on its way
    with subprocess.Popen(
        command, stdin=theirs, stdout=theirs, stderr=theirs, env=dict(environment)
    ) as running:
        os.close(theirs)
        found = bytearray()
        reader = threading.Thread(target=_read, args=(ours, found))
        reader.start()
        running.wait(timeout=600)
        reader.join()
    os.close(ours)
    return bytes(found), running.returncode


def _read(terminal: int, found: bytearray) -> None:
    try:
        while piece := os.read(terminal, 65536):
            found += piece
    except OSError:  # EIO: the other end is closed
        return


def run_all(cases: Sequence[Case], scratch: Path) -> list[Shown]:
    """Every case, in one process whose standard streams are a terminal."""
    plan = scratch / "plan.json"
    plan.write_text(
        json.dumps(
            [[case.words, case.folder, dict(case.environment), dict(case.writes)] for case in cases]
        )
    )
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    output, code = on_terminal([sys.executable, __file__, "--run", str(plan)], environment)
    assert code == 0, output[-2000:]
    parts = re.split(rb"\x00(\d+)\x00", output)
    assert len(parts) == 2 * len(cases) + 1, output[-2000:]
    return [
        Shown(case, shown, int(exit_code))
        for case, shown, exit_code in zip(cases, parts[::2], parts[1::2], strict=False)
    ]


def _run_plan(plan: Path) -> None:
    """In the process on the terminal: run each case as the ``reedmill`` command would."""
    import traceback

    from reedmill.cli import main

    clean = dict(os.environ)
    for words, folder, environment, writes in json.loads(plan.read_text()):
        os.chdir(folder)
        for name, content in writes.items():
            Path(name).unlink() if content is None else Path(name).write_text(content)
        os.environ.update(environment)
        sys.argv = ["reedmill", *words]
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(bool(end.code))
        except BaseException:
            traceback.print_exc()
            code = 1
        sys.stdout.flush()
        sys.stderr.flush()
        os.write(1, b"\x00%d\x00" % code)
        os.environ.clear()
        os.environ.update(clean)


# --- the cases --------------------------------------------------------------------------

DRILL = 'drill "Home"\n  play -2 -3 4 5\n'
TUNE = 'drill "Home"\n  tune 1 b3 5 1\n'
WRONG = 'drill "Wrong"\n  play -2 -5\'\n'
FORM = 'form "Mine"\n  about "Short."\n  bars I7 IV7 V7 I7\n'
FEEL = 'feel "Mine"\n  about "Short."\n  meter 4/4\n  tempo 80\n  bass root on 1\n'
COURSE = """\
title = {title}
harps = ["C"]
[defaults]
hand_out = ["tab"]
[[lessons]]
title = {lesson}
goal = {about}
  [[lessons.exercises]]
  drill = "Home"
  file = {file}
[[students]]
name = {student}
"""
TUNING = """\
name = {name}
blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 36]
draw = [2, 7, 11, 14, 17, 21, 23, 26, 29, 33]
"""

Words = Callable[[Path, str], list[str]]


def _file(folder: Path, name: str, content: str) -> str:
    (folder / name).write_bytes(content.encode("utf-8", "surrogatepass"))
    return name


def _toml(text: str) -> str:
    r"""*text* as a TOML string, by escapes; TOML has none for a lone surrogate."""
    inside = "".join(f"\\u{ord(c):04X}" if not c.isalnum() else c for c in text)
    return f'"{inside}"'.replace("\\uDC9B", "\\u009B")


def _course(folder: Path, name: str = "course.toml", **texts: str) -> str:
    usual = {"title": "Evenings", "lesson": "First", "about": "", "file": "own.drill"}
    _file(folder, "own.drill", DRILL)
    texts = {**usual, "student": "Ada", **texts}
    return _file(folder, name, COURSE.format(**{key: _toml(text) for key, text in texts.items()}))


def _named(*before: str, suffix: str = "", content: str = "", after: Sequence[str] = ()) -> Words:
    """A command on a file whose name is hostile; on one that is not there without *content*."""

    def words(folder: Path, text: str) -> list[str]:
        name = text + suffix
        if content:
            _file(folder, name, content)
        return [*before, name, *after]

    return words


def _holding(*words: str, file: str = "own.drill") -> Words:
    """A command on a drill whose title, purpose or section is hostile."""

    def with_file(folder: Path, text: str) -> list[str]:
        content = f'drill "{text}"\n  about "{text}"\n  section "{text}"\n  play -2 -3\n'
        _file(folder, file, content)
        return list(words)

    return with_file


def _word(*words: str) -> Words:
    """A command with a hostile word for ``{}``, and a sound drill at hand."""

    def filled(folder: Path, text: str) -> list[str]:
        _file(folder, "own.drill", DRILL)
        _file(folder, "own.form", FORM)
        return [word.replace("{}", text) for word in words]

    return filled


def _with_course(*words: str, **texts: str) -> Words:
    def filled(folder: Path, text: str) -> list[str]:
        own = {key: value.replace("{}", text) for key, value in texts.items()}
        name = own.pop("name", "course.toml")
        _course(folder, name, **own)
        return [word.replace("{}", text) for word in words]

    return filled


def _with_tuning(*words: str) -> Words:
    def filled(folder: Path, text: str) -> list[str]:
        _file(folder, "own.toml", TUNING.format(name=_toml(text)) + f"{_toml(text)} = 1\n")
        return list(words)

    return filled


def _form(folder: Path, text: str) -> list[str]:
    _file(folder, "own.form", FORM.replace("Mine", text).replace("Short.", text))
    return ["backing", "--form", "own.form", "--to", "text"]


def _takes(folder: Path, name: str, student: str = "") -> str:
    """A file with a take; of a book with *student* where one is named."""
    from taken import take

    one = take([("-3'", "-2", 12.0)], title=student or "Home")
    data: dict[str, object] = {"takes": [one]}
    if student:
        data = {"reedmill_record": 1, "students": [{"name": student, "takes": [one]}]}
    return _file(folder, name, json.dumps(data))


def _adding(*words: str) -> Words:
    """A command on the record book, with a hostile word for ``{}`` and a take to add."""

    def filled(folder: Path, text: str) -> list[str]:
        _takes(folder, "own.json")
        return ["record", *(word.replace("{}", text) for word in words)]

    return filled


def _adding_named(*after: str) -> Words:
    """An addition of a file whose name is hostile."""

    def filled(folder: Path, text: str) -> list[str]:
        words = ["record", "add", _takes(folder, f"{text}.json"), "--student", "Ada"]
        return [*words, "--book", "own.book", *after]

    return filled


def _in_book(*words: str) -> Words:
    """A command on a record book in which a student and a drill have a hostile name."""

    def filled(folder: Path, text: str) -> list[str]:
        from datetime import UTC, datetime

        from reedmill.record import open_book, read_take_data

        [found] = read_take_data(folder / _takes(folder, "own.json", text))
        with open_book(folder / "own.book", new=True) as book:
            book.add(text, found.takes, datetime.now(UTC))
        own = words[0] in ("progress", "class", "next", "place")
        whole = words if own else ("record", *words)
        return [*(word.replace("{}", text) for word in whole), "--book", "own.book"]

    return filled


def _class(*after: str, **texts: str) -> Words:
    """A class of a course, with a book in which one student has a hostile name."""

    def filled(folder: Path, text: str) -> list[str]:
        _in_book("list")(folder, text)
        _course(folder, **{key: value.replace("{}", text) for key, value in texts.items()})
        return ["class", "course.toml", "--book", "own.book", *after]

    return filled


# Files whose names are hostile, with all of what HOSTILE holds.
NAMES: dict[str, Words] = {
    "check": _named("check", suffix=".drill", content=DRILL),
    "check, a mistake": _named("check", suffix=".drill", content=WRONG),
    "check, no such file": _named("check", suffix=".drill"),
    "check --json": _named("check", suffix=".drill", content=DRILL, after=["--json"]),
    "check --json, a mistake": _named("check", suffix=".drill", content=WRONG, after=["--json"]),
    "check a form": _named("check", suffix=".form", content=FORM),
    "check a feel": _named("check", suffix=".feel", content=FEEL),
    "check a course": _with_course("check", "{}.toml", name="{}.toml"),
    "check --json, a form": _named("check", suffix=".form", content=FORM, after=["--json"]),
    "check a title": _holding("check", "own.drill"),
    "format": _named("format", suffix=".drill", content=DRILL.replace("  play", " play")),
    "format, tidy": _named("format", suffix=".drill", content=DRILL),
    "format, a form": _named("format", suffix=".form", content=FORM),
    "format --check": _named(
        "format", "--check", suffix=".drill", content=DRILL.replace("  play", " play")
    ),
    "expand": _named("expand", suffix=".drill", content=DRILL),
    "expand --why": _named("expand", "--why", suffix=".drill", content=TUNE),
    "expand, a mistake": _named("expand", suffix=".drill", content=WRONG),
    "expand, no such file": _named("expand", suffix=".drill"),
    "expand --json": _named("expand", "--json", suffix=".drill", content=DRILL),
    "expand a title": _holding("expand", "own.drill", "--json"),
    "make": _named("make", "--to", "tab", suffix=".drill", content=DRILL),
    "make --json": _named("make", "--to", "tab", "--json", suffix=".drill", content=DRILL),
    "make --out": _word("make", "own.drill", "--to", "tab,midi", "--out", "{}"),
    "make --out --json": _word("make", "own.drill", "--to", "tab", "--out", "{}", "--json"),
    "make --out in a file": _word("make", "own.drill", "--to", "tab", "--out", "own.drill/{}"),
    "make a title": _holding("make", "own.drill", "--to", "tab"),
    "hear, no such file": _named("hear", suffix=".wav"),
    "hear, no recording": _named("hear", suffix=".wav", content="no sound"),
    "hear --harp-test": _named("hear", "--harp-test", suffix=".wav", content="no sound"),
    "expand --my-harp": _named("expand", "own.drill", "--my-harp", suffix=".toml"),
    "record add": _adding_named(),
    "record add --json": _adding_named("--json"),
    "record add, no such file": _named("record", "add", suffix=".json"),
    "record add, no takes": _named("record", "add", suffix=".json", content="no takes"),
    "record add --book": _adding("add", "own.json", "--student", "Ada", "--book", "{}"),
    "record add --book in a file": _adding(
        "add", "own.json", "--student", "Ada", "--book", "own.json/{}"
    ),
    "record list --book": _named("record", "list", "--book", suffix=".book", content="no book"),
    "record list --book, no such file": _named("record", "list", "--book"),
    "record demo --book": _named("record", "demo", "--book", suffix=".book", content="a book"),
    "record demo --book, in a file": _adding("demo", "--book", "own.json/{}"),
    "progress --out": _in_book("progress", "{}", "--to", "page", "--out", "{}"),
    "progress --out, a file": _in_book("progress", "{}", "--to", "page", "--out", "{}.html"),
    "progress --book": _named("progress", "--book", suffix=".book", content="no book"),
    "progress --book, no such file": _named("progress", "--book"),
    "next --book": _named("next", "--book", suffix=".book", content="no book"),
    "next --out in a file": _in_book("next", "--minutes", "3", "--out", "own.json/{}"),
    "place, no such file": _named("place", suffix=".wav"),
    "place, no recording": _named("place", "--json", suffix=".wav", content="no sound"),
    "class --book": _named("class", "--book", suffix=".book", content="no book"),
    "class --book, no such file": _named("class", "--book"),
    "record export --out": _in_book("export", "--out", "{}.csv"),
    "clean": _named("clean"),
    "clean --json": _named("clean", "--json"),
}  # fmt: skip

# The same texts where an option, a title or the environment holds them.
PLACES: dict[str, Words] = {
    **{
        f"make {option}": _word("make", "own.drill", option, "{}", "--to", "tab")
        for option in (
            "--harp", "--position", "--tempo", "--intonation", "--offsets", "--reference",
            "--tuning", "--over", "--lay", "--paper", "--show", "--choruses",
        )
    },
    **{
        f"make {option}": _word("make", "own.drill", option, "{}", "--to", "wav")
        for option in ("--voice", "--ladder", "--audio", "--bits", "--echo", "--click")
    },
    **{
        f"hear {option}": _word("hear", "own.drill", option, "{}")
        for option in (
            "--drill", "--tolerance", "--my-harp", "--echo", "--repeat", "--to", "--paper",
        )
    },
    "make --to": _word("make", "own.drill", "--to", "{}"),
    "make --drone": _word("make", "own.drill", "--drone={}"),
    "make --feel": _word("make", "own.drill", "--over", "own.form", "--feel", "{}"),
    "make --band": _word("make", "own.drill", "--over", "own.form", "--band", "{}"),
    "make a name": _word("make", "{}"),
    "expand --over": _word("expand", "own.drill", "--over", "{}.form"),
    "expand a name": _word("expand", "{}"),
    "backing --form": _word("backing", "--form", "{}"),
    "backing --form, a file": _named("backing", "--to", "text", "--form", suffix=".form",
                                     content=FORM),
    "backing, a title": _form,
    "backing --feel": _word("backing", "--form", "own.form", "--feel", "{}"),
    "backing --key": _word("backing", "--form", "own.form", "--key", "{}"),
    "backing --to": _word("backing", "--form", "own.form", "--to", "{}"),
    "backing --out": _word("backing", "--form", "own.form", "--to", "text", "--out", "{}"),
    "backing --out --json": _word(
        "backing", "--form", "own.form", "--to", "text", "--out", "{}", "--json"
    ),
    "pack --plan": _with_course("pack", "{}.toml", "--plan", name="{}.toml"),
    "pack --plan --explain": _with_course(
        "pack", "course.toml", "--plan", "--explain", "--out", "{}",
        title="{}", lesson="{}", student="{}", about="{}",
    ),
    "pack --plan --json": _with_course(
        "pack", "course.toml", "--plan", "--json", "--out", "{}", title="{}"
    ),
    "pack, no such course": _named("pack"),
    "pack --student": _with_course("pack", "course.toml", "--student", "{}"),
    "pack --student there": _with_course(
        "pack", "course.toml", "--student", "Ben", student="{}"
    ),
    "pack --on": _with_course("pack", "course.toml", "--on", "{}"),
    "pack --jobs": _with_course("pack", "course.toml", "--jobs", "{}"),
    "check a drill's file in a course": _with_course("check", "course.toml", file="{}.drill"),
    "check a title in a course": _with_course(
        "check", "course.toml", title="{}", lesson="{}", student="{}"
    ),
    "check a title in a course --json": _with_course(
        "check", "course.toml", "--json", title="{}", lesson="{}", student="{}"
    ),
    "dictate": _word("dictate", "{}"),
    "dictate a title": _holding("dictate", "own.drill", "--to", "questions"),
    "dictate --to": _word("dictate", "own.drill", "--to", "{}"),
    "dictate --pause": _word("dictate", "own.drill", "--pause", "{}"),
    "notes --harp": _word("notes", "--harp", "{}"),
    "notes --key": _word("notes", "--key", "{}"),
    "keys --key": _word("keys", "--key", "{}"),
    "keys --case": _word("keys", "--case", "{}"),
    "keys, a tuning's words": _with_tuning(
        "keys", "--tuning", "own.toml", "--key", "E", "--position", "2"
    ),
    "notes --position": _word("notes", "--position", "{}"),
    "notes --tuning": _word("notes", "--tuning", "{}.toml"),
    "notes, a tuning's words": _with_tuning("notes", "--tuning", "own.toml"),
    "roles --reeds": _word("roles", "--reeds", "{}"),
    "roles --chords": _word("roles", "--chords=I7 {}"),
    "roles --to": _word("roles", "--to", "{}"),
    "drills": _word("drills", "{}"),
    "drills --technique": _word("drills", "--technique", "{}"),
    "drills --topic": _word("drills", "--topic", "{}"),
    "drills --level": _word("drills", "--level", "{}"),
    "soundfont": _named("soundfont", suffix=".sf2"),
    "soundfont, a file": _named("soundfont", suffix=".sf2", content="RIFFsfbk"),
    "record": _word("record", "{}"),
    "record add --student": _adding(
        "add", "own.json", "--student", "{}", "--book", "own.book"
    ),
    "record add --student --json": _adding(
        "add", "own.json", "--student", "{}", "--book", "own.book", "--json"
    ),
    "record list, a name": _in_book("list"),
    "progress, a name": _in_book("progress", "{}"),
    "progress --json, a name": _in_book("progress", "{}", "--json"),
    "progress --to, a name": _in_book("progress", "{}", "--to", "page"),
    "progress, another name": _in_book("progress", "Ben"),
    "next, a name": _in_book("next", "{}"),
    "next --json, a name": _in_book("next", "{}", "--json"),
    "next, another name": _in_book("next", "Ben"),
    "next --harp": _in_book("next", "--harp", "{}"),
    "next --position": _in_book("next", "--position", "{}"),
    "next --minutes": _in_book("next", "--minutes", "{}"),
    "place, a name": _in_book("place", "--student", "{}"),
    "place --harp": _word("place", "--harp", "{}"),
    "place --position": _word("place", "--level", "2", "--position", "{}"),
    "place --level": _word("place", "--level", "{}"),
    "class, a name": _in_book("class"),
    "class --json, a name": _in_book("class", "--json"),
    "class, no such course": _word("class", "{}", "--book", "own.book"),
    "class, a student of the course": _class(title="{}", lesson="{}", student="{}"),
    "class, a student whom it does not know": _class(title="{}", lesson="{}", student="Ben"),
    "class --json, a course": _class("--json", title="{}", lesson="{}", student="Ben"),
    "record list --json, a name": _in_book("list", "--json"),
    "record export, a name": _in_book("export"),
    "record forget, a name": _in_book("forget", "{}"),
    "record forget --json, a name": _in_book("forget", "{}", "--json"),
    "record forget, another name": _in_book("forget", "Ben"),
    "record add, another's take": _in_book("add", "own.json", "--student", "Ben"),
    "record export --student": _in_book("export", "--student", "{}{}"),
    "hear --student": _word("hear", "own.drill", "--student", "{}", "--book", "own.book"),
    "hear --book": _word("hear", "own.drill", "--student", "Ada", "--book", "{}"),
    "hear --book, nobody's": _word("hear", "own.drill", "--book", "{}"),
    "completion": _word("completion", "{}"),
    "an unknown command": _word("{}"),
    "an unknown option": _word("notes", "--{}"),
    "an unknown option of a letter": _word("make", "own.drill", "-{}"),
    "one word too many": _word("notes", "{}", "{}"),
    "an option without its value": _word("--{}"),
}  # fmt: skip
COMPLETING: dict[str, str] = {
    f"completing {what} in {shell}": shell for shell in ("bash", "zsh", "fish")
    for what in ("a drill", "a form", "a command")
}  # fmt: skip
_STARTS = {
    "a drill": "reedmill make ", "a form": "reedmill backing --form ", "a command": "reedmill ",
}  # fmt: skip


def _completing(name: str, shell: str, text: str) -> dict[str, str]:
    start = _STARTS[name.split("completing ")[1].split(" in ")[0]]
    quoted = "'" + text + "'"
    return {
        "_REEDMILL_COMPLETE": f"{shell}_complete", "COMP_WORDS": start + quoted,
        "COMP_CWORD": quoted if shell == "fish" else str(len(start.split())),
    }  # fmt: skip


def pack_cases(scratch: Path) -> list[Case]:
    """The life of one pack whose every name is hostile, in its order."""
    text, folder = everything(), scratch / "pack"
    folder.mkdir()
    _course(folder, f"{text}.toml", title=text, lesson=text, student=text, about=text)
    pack = ("pack", f"{text}.toml", "--out", text, "--jobs", "1")
    changed = (folder / f"{text}.toml").read_text().replace('"Home"', '"Away"')
    away = {"own.drill": DRILL.replace("Home", "Away"), f"{text}.toml": changed}
    return [
        Case("pack --explain", (*pack, "--explain"), str(folder)),
        Case("pack again", pack, str(folder)),
        Case("pack again --json", (*pack, "--json"), str(folder)),
        Case("pack, another drill", (*pack, "--explain", "--json"), str(folder), writes=away),
        Case("clean a pack --json", ("clean", text, "--json"), str(folder)),
        Case(
            "pack, the first drill",
            pack,
            str(folder),
            writes={"own.drill": DRILL, f"{text}.toml": changed.replace('"Away"', '"Home"')},
        ),
        Case("clean a pack", ("clean", text), str(folder)),
        Case(
            "clean a pack, its course gone",
            ("clean", text),
            str(folder),
            writes={f"{text}.toml": None},
        ),
    ]


def cases(scratch: Path) -> Iterator[Case]:
    """All of them, their files written below *scratch*."""
    yield from pack_cases(scratch)
    numbers = count()
    for name, words in {**NAMES, **PLACES}.items():
        kinds = list(HOSTILE)
        if name in PLACES:  # each place meets a third of the texts, and each text many places
            kinds = kinds[list(PLACES).index(name) % 3 :: 3]
            kinds = [*dict.fromkeys(("LF", *kinds))]
        for kind in kinds:
            folder = scratch / f"{next(numbers)}"
            folder.mkdir()
            yield Case(f"{name}: {kind}", tuple(words(folder, hostile(kind))), str(folder))
    for name, shell in COMPLETING.items():
        for kind in HOSTILE:
            yield Case(f"{name}: {kind}", (), str(scratch), _completing(name, shell, hostile(kind)))


def _count() -> None:
    """Say which combinations leak in whatever Reedmill is found first."""
    with TemporaryDirectory() as scratch:
        shown = run_all(list(cases(Path(scratch))), Path(scratch))
    bad = [(each.case.name, leaks(each.output)) for each in shown]
    bad = [(name, found) for name, found in bad if found]
    for name, found in bad:
        print(f"{name}: {', '.join(found)}")
    broken = [each.case.name for each in shown if b"Traceback" in each.output]
    print(f"{len(bad)} of {len(shown)} combinations leak; tracebacks: {len(broken)}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--run"]:
        _run_plan(Path(sys.argv[2]))
    else:
        _count()
