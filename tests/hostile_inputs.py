"""Small files and commands that ask for far too much, in one table, and how they are run.

Each row must be refused with its words and exit code before it has cost much: seconds of
processor time, so that a busy machine is not an excuse, and megabytes of memory, both as the
operating system counts them.  The address space of the command is bounded as ``ulimit -v``
bounds it, so that one that grows is killed and does no harm.

A row of another kind goes into the list of its own and then into ``ROWS``.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from hostile_fonts import many_instruments, many_samples, packed_bomb

Content = bytes | Callable[[], bytes]


@dataclass(frozen=True, slots=True)
class Hostile:
    """One input that asks for too much, and what has to come of it."""

    name: str
    arguments: tuple[str, ...]  # of the command; files by their names, in a folder of their own
    says: str  # stands in what is printed
    files: Mapping[str, Content] = field(default_factory=dict)  # name -> bytes, or what makes them
    exit_code: int = 2
    seconds: float = 4.0  # of processor time, twice what is promised: machines differ
    megabytes: int = 300  # of memory at most, start-up and libraries included


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one row."""

    row: Hostile
    exit_code: int  # negative: the signal it died of
    seconds: float  # of processor time
    megabytes: float  # the most memory it had
    said: str  # all it printed

    @property
    def first_line(self) -> str:
        """The first line it printed."""
        return self.said.strip().split("\n")[0]


# Runs in an interpreter of its own, because the peak of a forked process begins with that of
# whoever forked it, and a test run is large.
_LAUNCHER = """
import json, os, resource, signal, sys
megabytes, *command = sys.argv[1:]
child = os.fork()
if child == 0:
    resource.setrlimit(resource.RLIMIT_AS, (int(megabytes) << 20,) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.alarm(120)
    os.execv(command[0], command)
_, status, used = os.wait4(child, 0)
code = os.waitstatus_to_exitcode(status)
print(json.dumps([code, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""
_ALLOWED_MB = 300  # of address space over what the libraries themselves take
_QUIET = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONHASHSEED": "0"}


REEDMILL = (sys.executable, "-m", "reedmill.cli")


def run(row: Hostile, folder: Path, command: tuple[str, ...] = REEDMILL) -> Outcome:
    """Write the files of *row* into *folder* and run *command* with its arguments there."""
    for name, content in row.files.items():
        (folder / name).write_bytes(content if isinstance(content, bytes) else content())
    said = folder / ".said"
    launcher = (sys.executable, "-S", "-c", _LAUNCHER, str(_address_space_mb()))
    with said.open("wb") as file:
        report = subprocess.run(
            [*launcher, *command, *row.arguments],
            cwd=folder, env=os.environ | _QUIET, stdout=subprocess.PIPE, stderr=file, check=True,
        )  # fmt: skip
    *printed, numbers = report.stdout.decode().rstrip("\n").split("\n")
    code, seconds, megabytes = json.loads(numbers)
    text = said.read_text("utf-8", "replace") + "\n".join(printed)
    return Outcome(row, code, seconds, megabytes, text)


@cache
def _address_space_mb() -> int:
    """What a command may take: the start of Python and its heavy libraries, and the allowance."""
    said = subprocess.run(
        [
            sys.executable, "-c",
            "import numpy, lark, pydantic, reedmill.expand, reedmill.practice.practice\n"
            "print(*[line for line in open('/proc/self/status') if line.startswith('VmPeak')])",
        ],
        env=os.environ | _QUIET, stdout=subprocess.PIPE, check=True, text=True,
    ).stdout  # fmt: skip
    return int(said.split()[1]) // 1024 + _ALLOWED_MB


HEAD = f"{'s':>5} {'MB':>5} {'exit':>4}  {'input':<44} first line"


def line(outcome: Outcome) -> str:
    """The outcome as a line under ``HEAD``: what it cost, exit code, name and first line said."""
    return (
        f"{outcome.seconds:5.2f} {outcome.megabytes:5.0f} {outcome.exit_code:4d}  "
        f"{outcome.row.name:<44.44} {outcome.first_line:.100}"
    )


# --- drills ----------------------------------------------------------------------------------


def _drill(*lines: str, title: str = "Home") -> bytes:
    return f'drill "{title}"\n{"".join(f"  {line}" + chr(10) for line in lines)}'.encode()


_CHECK = ("check", "mine.drill")
_BARS = "has more than 1,000 bars"
_NOTES = "notes; the most is 2,000"


def _on(name: str, says: str, *lines: str) -> Hostile:
    return Hostile(name, _CHECK, says, {"mine.drill": _drill(*lines)})


def _cheap_rests(*command: str) -> Hostile:
    drill = _drill("meter 1/4", "play ((r:64)x100)x20")
    return Hostile(f"128,000 bars of rest: {command[0]}", command, _BARS, {"mine.drill": drill})


def _moved_copies() -> bytes:
    copies = (_drill('from "Home"', "move up 1", title=f"No. {n}") for n in range(490))
    return _drill("play " + "2 " * 60_000) + b"".join(copies)


def _children_of_a_long_one() -> bytes:
    copies = (_drill('from "Home"', "move up 1", title=f"No. {n}") for n in range(490))
    return _drill("play " + "(2 3)x100 " * 9) + b"".join(copies)


DRILLS = (
    _cheap_rests("check", "mine.drill"),
    _cheap_rests("make", "mine.drill", "--to", "tab,musicxml,midi"),
    _cheap_rests("expand", "mine.drill"),
    _on("an echo of a long rest", _BARS, "meter 1/4", "echo", "play (r:64)x9 -2"),
    _on("sections of whole bars", _BARS, *['section "A"\n  play -2:64'] * 70),
    _on("a long note slid to for ever", _BARS, "play -3:64 " + "~-3:64 " * 200),
    _on("repeats six deep", _NOTES, "play ((((((-2)x100)x100)x100)x100)x100)x100"),
    _on("bar lines repeated", _NOTES, "play (((|)x100)x100)x100"),
    _on("triplets of triplets", _NOTES, "play triplet(triplet((-2)x100)x100)x100"),
    _on(
        "rungs times orders", _NOTES,
        "rungs " + "-3 -4 " * 90, "order " + "up " * 9999, "phrase rung",
    ),
    _on(
        "a phrase for each of many turns", _NOTES,
        "rungs " + "all of -3 " * 200, "phrase (rung)x100",
    ),
    _on("endings of endings", _NOTES, "play " + "((-2 -4) 1st ((-3)x100) 2nd (-4))x100 " * 9),
    _on("2,000 rungs", "names 2,000 rungs", "rungs " + "-3 -4 " * 1000, "play first"),
    _on(
        "15,000 plans for the mouth", "15,000 plans",
        "embouchure lips" + " or lips" * 14_999, "play -2",
    ),
    _on("66,000 notes written out", _NOTES, "play " + "-2 " * 66_000),
    Hostile("copies of a long drill", _CHECK, _NOTES, {"mine.drill": _moved_copies}),
    Hostile(
        "490 children of a drill of 1,800 notes", _CHECK, "the file would have more than",
        {"mine.drill": _children_of_a_long_one},
    ),
    Hostile(
        "a thousand drills", _CHECK, "drills",
        {"mine.drill": b"".join(_drill("play 1", title=f"No. {n}") for n in range(1000))},
    ),
)  # fmt: skip

# --- long numbers ----------------------------------------------------------------------------

_DIGITS = "at most 9 are read"
_LONG = "9" * 50_000

NUMBERS = (
    *(
        _on(f"50,000 digits: {line:.20}", _DIGITS, line, "play -2")
        for line in (f"tempo {_LONG}", f"level {_LONG}", f"meter {_LONG}/4", f"meter 4/{_LONG}",
                     f"pickup 1/{_LONG}", f"length {_LONG}", f"positions {_LONG}")
    ),
    *(
        _on(f"50,000 digits: play {music:.14}", _DIGITS, f"play {music}")
        for music in (f"-{_LONG}", f"-2:{_LONG}", f"-2:1/{_LONG}", f"-2x{_LONG}")
    ),
    Hostile(
        "50,000 digits: bars of a form", ("check", "mine.form"), _DIGITS,
        {"mine.form": f'form "Mine"\n  bars I7 x{_LONG}\n'.encode()},
    ),
    Hostile(
        "50,000 digits: a beat of a feel", ("check", "mine.feel"), _DIGITS,
        {"mine.feel": f'feel "Mine"\n  bass root on {_LONG}\n'.encode()},
    ),
    Hostile(
        "5,000 digits: an option", ("make", "Two bars home", "--repeat", "9" * 5000),
        "has more than 9 digits",
    ),
    Hostile(
        "5,000 digits: a ladder",
        ("make", "Two bars home", "--ladder", f"60 to {_LONG:.5000} by 1"),
        "tempo ladder",
    ),
)  # fmt: skip

# --- what multiplies on the command line -----------------------------------------------------

_PLANS = (
    "embouchure lips or tongue left or tongue right or anchors lips, rungs tongue left "
    "or anchors lips, rungs tongue right or anchors tongue left, rungs lips"
)
_HARPS = "G,Ab,A,Bb,B,C,Db,D,Eb,E,F,F#"


def _many(count: int, *lines: str) -> bytes:
    return b"".join(_drill(*lines, title=f"No. {n}") for n in range(count))


_LADDER = ("--ladder", "20 to 79 by 1", "--repeat", "100")
_SILENT = ("--to", "midi")
_FAST = ("--tempo", "300")
_LONG_FORM = b'form "Long"\n  bars I7 x64\n'

COMMANDS = (
    Hostile(
        "5,000 harps", ("make", "Two bars home", "--harp", "C," * 4999 + "C", *_SILENT),
        "comes to 5,000 pieces",
    ),
    Hostile(
        "a harp with a long name", ("make", "Two bars home", "--harp", "C " * 50_000),
        "there is no harp",
    ),
    Hostile(
        "drills times plans times harps", ("make", "mine.drill", "--harp", _HARPS, *_SILENT),
        "comes to 7,200 pieces", {"mine.drill": _many(100, _PLANS, "play -2 -3")},
    ),
    Hostile(
        "notes times harps", ("make", "mine.drill", "--harp", _HARPS, *_SILENT),
        "comes to 120,000 notes", {"mine.drill": _many(5, "play ((-2 -3)x100)x10")},
    ),
    Hostile(
        "the same file over and over", ("check", *["mine.drill"] * 3, *["none.drill"]),
        "none.drill", {"mine.drill": _many(3, "play -2")},
    ),
    Hostile(
        "a ladder times repeats", ("make", "Home from every rung", "--to", "wav", *_LADDER),
        "more than 3 hours",
    ),
    Hostile(
        "a ladder times repeats apart, in four types, on twelve harps",
        ("make", "Two bars home", "--harp", _HARPS, "--to", "wav", *_LADDER, "--apart",
         "--audio", "wav,flac,ogg,mp3"),
        "more than 100 hours",
    ),
    Hostile(
        "echoes of every bar", ("make", "mine.drill", "--to", "wav", "--echo", "1", *_LADDER),
        "more than 3 hours",
        {"mine.drill": _drill("meter 1/8", "tempo 300", "play -2:1 (-3 r)x100 -4")},
    ),
    Hostile(
        "a long form over and over",
        (
            "make", "Two bars home", "--over", "mine.form", "--feel", "mine.feel",
            "--choruses", "30", *_FAST, *_SILENT,
        ),
        "has 1,920 bars",
        {"mine.form": _LONG_FORM, "mine.feel": b'feel "Mine"\n  bass root on 1\n'},
    ),
    Hostile(
        "a busy line over a long form",
        ("make", "mine.drill", "--over", "mine.form", "--choruses", "15", *_FAST, *_SILENT),
        "more than 2,000 notes",
        {"mine.form": _LONG_FORM, "mine.drill": _drill("length 1/8", "play (-2)x100 (-2)x28")},
    ),
    Hostile(
        "a million choruses", ("make", "Two bars home", "--over", "Twelve bars",
                               "--choruses", "1000000", *_SILENT),
        "write 1 to 50",
    ),
    Hostile(
        "a backing of hours",
        ("backing", "--form", "mine.form", "--choruses", "50", "--tempo", "20", *_SILENT),
        "a backing lasts at most 60", {"mine.form": _LONG_FORM},
    ),
)  # fmt: skip

# --- courses ---------------------------------------------------------------------------------


def _course(top: str, exercise: str, lessons: int = 1, exercises: int = 1, end: str = "") -> bytes:
    """A course whose lessons all have the same exercise."""
    each = f"[[lessons.exercises]]\n{exercise}\n" * exercises
    lesson = "".join(f'[[lessons]]\ntitle = "No. {n}"\n{each}' for n in range(lessons))
    return f'title = "Mine"\n{top}\n{lesson}{end}'.encode()


_ALL_HARPS = f"harps = {json.dumps(_HARPS.split(','))}"
_EVERYWHERE = "positions = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]"
_ON_ALL = f'harps = "all"\n{_EVERYWHERE}'
_WITH_LADDERS = 'hand_out = "audio"\nrepeat = 40\nladder = "20 to 79 by 1"\napart = true'
_COURSE = ("check", "mine.toml")


def _hours_of_ladders() -> bytes:
    exercise = f'drill = "Two bars home"\n{_ON_ALL}\n{_WITH_LADDERS}'
    return _course(_ALL_HARPS, exercise, lessons=10)


def _bounded_course(name: str, says: str, course: Content, **files: bytes) -> Hostile:
    drills = {name.replace("_", "."): content for name, content in files.items()}
    return Hostile(name, _COURSE, says, {"mine.toml": course, **drills})


COURSES = (
    _bounded_course(
        "lessons times harps times positions times plans", "more than 10,000 pieces",
        lambda: _course(
            _ALL_HARPS,
            f'drill = "Two bars home"\n{_ON_ALL}\nembouchure = ["lips", "tongue left"]',
            lessons=10, exercises=10,
        ),
    ),
    _bounded_course(
        "a drill of 2,000 notes on everything", "more than 500,000 notes",
        lambda: _course(
            _ALL_HARPS, f'file = "mine.drill"\n{_ON_ALL}\nhand_out = "midi"', exercises=2
        ),
        mine_drill=_drill("play ((-2 -3)x100)x10"),
    ),
    _bounded_course(
        "ladders times repeats times harps", "more than 200 hours of sound",
        _hours_of_ladders,
    ),
    _bounded_course(
        "an hour for each of 200 students in every type", "more than 200 hours of sound",
        lambda: _course(
            'harps = "C"',
            'drill = "Two bars home"\nhand_out = "audio"\nrepeat = 100\ndrone = "root"\n'
            'stems = true\naudio = ["wav", "flac", "ogg", "mp3"]',
            lessons=5,
            end="".join(f'[[students]]\nname = "No. {n}"\n' for n in range(200)),
        ),
    ),
    _bounded_course(
        "long forms under every exercise", "more than 200 hours of sound",
        lambda: _course(
            _ALL_HARPS,
            f'drill = "Two bars home"\n{_ON_ALL}\nhand_out = "audio"\ntempo = 20\n'
            'backing = { form = "mine.form", feel = "Medium shuffle", choruses = 10 }',
            lessons=4,
        ),
        mine_form=_LONG_FORM,
    ),
    Hostile(
        "the same by pack", ("pack", "mine.toml", "--out", "pack"), "more than 200 hours of sound",
        {"mine.toml": _hours_of_ladders},
    ),
)  # fmt: skip

# --- files as files -------------------------------------------------------------------------

_PACK = ("pack", "mine.toml", "--out", "pack")
_FONT = ("soundfont", "mine.sf2")
_TUNING = ("notes", "--tuning", "mine.toml")
_DOTTED = b"a" + b".a" * 60_000 + b" = 1\n"
_LESSON = 'title = "A"\nharps = "C"\n' + "".join(
    f'[[lessons]]\ntitle = "{n}"\ntext_file = "mine.md"\n[[lessons.exercises]]\n'
    'drill = "Two bars home"\n'
    for n in range(100)
)


def _file(name: str, arguments: tuple[str, ...], says: str, **files: Content) -> Hostile:
    named = {key.replace("_", "."): content for key, content in files.items()}
    return Hostile(name, arguments, says, named)


FILES = (
    _file("a name of 60,000 dots: check", ("check", "mine.toml"), "dots in it", mine_toml=_DOTTED),
    _file("a name of 60,000 dots: pack", _PACK, "dots in it", mine_toml=_DOTTED),
    _file("a name of 60,000 dots: tuning", _TUNING, "larger than 20 kB", mine_toml=_DOTTED),
    _file(
        "200,000 brackets: pack", _PACK, "mine.toml", mine_toml=b"a = " + b"[" * 200_000,
    ),
    _file(
        "200,000 brackets: tuning", _TUNING, "larger than 20 kB",
        mine_toml=b"blow = " + b"[" * 200_000,
    ),
    _file(
        "20 kB of ![ in each of 100 lessons", _PACK, "mine.md", mine_toml=_LESSON.encode(),
        mine_md=b"![" * 10_000,
    ),
    Hostile(
        "an endless device: pack", ("pack", "/dev/zero", "--out", "pack"), 'no course "/dev/zero"'
    ),
    Hostile("an endless device: a drill", ("check", "/dev/zero"), 'no drill "/dev/zero"'),
    _file("a font that unpacks to a gigabyte", _FONT, "too much memory", mine_sf2=packed_bomb),
    _file("a font of 60,000 instruments", _FONT, "mine.sf2", mine_sf2=many_instruments),
    _file("a font of 60,000 samples", _FONT, "mine.sf2", mine_sf2=many_samples),
)  # fmt: skip

ROWS: tuple[Hostile, ...] = (*DRILLS, *NUMBERS, *COMMANDS, *COURSES, *FILES)
