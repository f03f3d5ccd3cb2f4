"""Nothing that a stranger named controls the terminal: the one door of the command line.

The command lines run on a pseudo-terminal, whose other end sees every byte (``terminal.py``).
"""

from __future__ import annotations

import ast
import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

import reedmill
from reedmill.base.stopping import Stopped
from reedmill.base.text import printable, readable
from reedmill.cli.picture import text_columns
from reedmill.cli.saying import Redrawn, say, say_json, warn
from terminal import (
    COMPLETING,
    DRILL,
    FORGED,
    HOSTILE,
    NAMES,
    Shown,
    cases,
    everything,
    hostile,
    leaks,
    on_terminal,
    run_all,
)

PACKAGE = Path(reedmill.__file__).parent
ASKED = 206  # combinations of hostile names and commands, at the least


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> list[Shown]:
    scratch = tmp_path_factory.mktemp("terminal")
    return run_all(list(cases(scratch)), scratch)


# --- what a terminal is sent -------------------------------------------------------------


def test_no_name_controls_the_terminal(shown: list[Shown]) -> None:
    found = {each.case.name: leaks(each.output) for each in shown}
    assert {name: leaked for name, leaked in found.items() if leaked} == {}
    print(f"{len(found)} combinations")
    assert len(found) == len(shown) > ASKED
    assert len(NAMES) * len(HOSTILE) > ASKED


def test_every_command_is_among_them(shown: list[Shown]) -> None:
    from reedmill.cli import cli

    given = {word for each in shown for word in each.case.words[:1]}
    assert given >= set(cli.commands)


def test_each_name_is_shown_although_it_is_harmless(shown: list[Shown]) -> None:
    named = [each for each in shown if each.case.name.startswith(("check: ", "format: "))]
    assert len(named) == 2 * len(HOSTILE)
    for each in named:
        assert printable(each.case.words[1]).encode() in each.output, each.case.name


def test_none_of_them_is_a_mistake_of_the_program(shown: list[Shown]) -> None:
    """Exit code 2 refuses input, 1 is for what could not be made: one folder is in a file."""
    broken = (b"Traceback", b"Reedmill failed")
    assert [each.case.name for each in shown if any(b in each.output for b in broken)] == []
    failed = [each.case.name for each in shown if each.code not in (0, 2)]
    assert [name for name in failed if "--out in a file" not in name] == []


def test_data_give_the_very_name_back(shown: list[Shown]) -> None:
    rows = [each for each in shown if each.code == 0 and "--json" in each.case.words]
    assert len(rows) > 5 * len(HOSTILE)
    for each in rows:
        data, words = json.loads(each.output), each.case.words
        if words[0] == "check" and words[1] != "course.toml":
            assert data["files"][0]["file"] == words[1]
        elif "--out" in words and words[0] in ("make", "backing"):
            [made] = data["files"]
            assert Path(made["path"]).parent == Path(words[words.index("--out") + 1])
            assert (Path(each.case.folder) / made["path"]).is_file()


def test_what_is_completed_is_one_candidate(shown: list[Shown]) -> None:
    lines = {"bash": 1, "zsh": 3, "fish": 1}
    asked = [each for each in shown if each.case.environment]
    assert len(asked) == len(COMPLETING) * len(HOSTILE)
    for each in asked:
        shell = each.case.name.partition(" in ")[2].partition(":")[0]
        assert each.output.count(b"\n") in (0, lines[shell]), each.case.name


@pytest.mark.parametrize("kind", HOSTILE)
def test_the_finder_of_leaks_finds_each(kind: str) -> None:
    """So that the tests above could fail."""
    assert leaks(hostile(kind).encode("utf-8", "surrogateescape")) != []
    assert leaks(b"\x1b[1mHome\x1b[0m\n  tab  output/home.txt\n") == []


# --- the door ---------------------------------------------------------------------------


def test_each_line_said_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    say(f"mine\n{FORGED}", "two")
    warn(everything())
    Redrawn().line(f"busy\r{FORGED}")
    out, err = capsys.readouterr()
    assert out == f"mine {FORGED}\ntwo\n"
    assert err.count("\n") == 2
    assert leaks((out + err).encode()) == []


def test_a_line_drawn_anew_hides_the_longer_one_before(capsys: pytest.CaptureFixture[str]) -> None:
    line = Redrawn()
    for text in ("10 of 10 made", "done", "", ""):
        line.draw(text)
    assert capsys.readouterr().err == "\r10 of 10 made\rdone         \r    \r"


class StopsWhenShown(io.StringIO):
    """A terminal on which a signal comes just after something was shown."""

    def flush(self) -> None:
        """Stop, but for the flush of an empty one when it ends."""
        if self.getvalue():
            raise Stopped(15)


def test_a_line_whose_drawing_was_stopped_is_cleared_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    line = Redrawn()
    monkeypatch.setattr(sys, "stderr", StopsWhenShown())
    with pytest.raises(Stopped):
        line.draw("2 of 8 made")
    monkeypatch.setattr(sys, "stderr", after := io.StringIO())
    line.draw("")
    assert after.getvalue() == f"\r{' ' * len('2 of 8 made')}\r"


def test_data_hold_no_character_to_obey_and_all_of_the_name(
    capsys: pytest.CaptureFixture[str],
) -> None:
    given = {everything(): everything() + "\U000e0001 \u00e9 \u266d"}  # a tag, RFC 8259 escapes it
    say_json(given)
    text = capsys.readouterr().out
    assert json.loads(text) == given
    assert "\\udb40\\udc01 \u00e9 \u266d" in text
    assert [c for c in text if not readable(c) and c != "\n"] == []


def test_data_that_are_no_json_are_not_printed() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        say_json({"hz": float("nan")})


# --- as a process: encodings, closed and full outputs, and what goes wrong inside ---------


def environment(**more: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("LC_")}
    return {**kept, "PYTHONPATH": str(PACKAGE.parent), **more}


def command(*words: str) -> list[str]:
    return [sys.executable, "-m", "reedmill.cli", *words]


def run(*words: str, **more: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        command(*words), env=environment(**more), capture_output=True, timeout=60, check=False
    )


@pytest.fixture
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


# A name of a musician who writes in French, with a flat sign and a byte that is no UTF-8.
_FRENCH = "\u00e9tude \u266d\udc9b.drill"


@pytest.mark.usefixtures("_here")
@pytest.mark.parametrize(
    ("encoding", "expected"),
    [
        ({"LC_ALL": "C"}, b"\xc3\xa9tude \xe2\x99\xad[U+DC9B].drill"),  # PEP 540: UTF-8
        ({"PYTHONIOENCODING": "ascii"}, b"[U+00E9]tude [U+266D][U+DC9B].drill"),
        ({"PYTHONIOENCODING": "ascii:strict"}, b"[U+00E9]tude [U+266D][U+DC9B].drill"),
        ({"PYTHONIOENCODING": "latin-1"}, b"\xe9tude [U+266D][U+DC9B].drill"),
    ],
)
def test_a_terminal_of_another_encoding_shows_what_it_can(
    encoding: Mapping[str, str], expected: bytes
) -> None:
    Path(_FRENCH).write_text(DRILL)
    done = run("check", _FRENCH, **encoding)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(expected + b": right, 1 drill\n")
    data = run("check", _FRENCH, "--json", **encoding)
    coded = "utf-8" if "LC_ALL" in encoding else "ascii"
    assert json.loads(data.stdout.decode(coded))["files"][0]["file"] == _FRENCH
    missing = run("check", "\udc9b31m", **encoding)
    assert (missing.returncode, missing.stdout) == (2, b"")
    assert b'"[U+DC9B]31m"' in missing.stderr


@pytest.mark.parametrize("columns", ["0", "1", "-5", "9" * 30, "\x1b[31m", "x\n"])
def test_help_stays_readable_whatever_the_width_is_said_to_be(columns: str) -> None:
    output, code = on_terminal(command("make", "--help"), environment(COLUMNS=columns))
    assert code == 0
    assert leaks(output) == []
    assert max(map(len, output.decode().splitlines())) <= 100


@pytest.mark.usefixtures("_here")
def test_a_reader_that_has_had_enough_ends_it_quietly() -> None:
    script = '"$@" | head -1'
    done = subprocess.run(
        ["sh", "-c", script, "sh", *command("drills", "--tab")],
        env=environment(), capture_output=True, timeout=60, check=True,
    )  # fmt: skip
    assert done.stdout.count(b"\n") == 1
    assert done.stderr == b""


@pytest.mark.parametrize("words", [("drills",), ("--help",), ("--version",), ("notes", "--json")])
def test_an_output_that_is_full_is_told(words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            command(*words), env=environment(), stdout=full, stderr=subprocess.PIPE, timeout=60,
            check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.decode() == (
        "What was to be printed could not be written (No space left on device). "
        "Give the command again with its output elsewhere.\n"
    )


@pytest.mark.parametrize("closed", ["1>&-", "2>&-", "1>&- 2>&-", "2>/dev/full"])
def test_closed_outputs_change_nothing_else(closed: str) -> None:
    for words, code in ((("notes",), 0), (("notes", "--harp", "X"), 2)):
        done = subprocess.run(
            ["sh", "-c", f'"$@" {closed}', "sh", *command(*words)],
            env=environment(), capture_output=True, timeout=60, check=False,
        )  # fmt: skip
        assert done.returncode == code
        assert b"Traceback" not in done.stderr


_SABOTAGED = """
import sys, threading, warnings
import reedmill.cli
from reedmill.cli import commands
def broken(**_):
    {what}
commands.cli.commands["notes"].callback = broken
sys.argv = ["reedmill", "notes"]
reedmill.cli.main()
"""


def sabotaged(what: str, **more: str) -> tuple[str, int]:
    """What a terminal shows when a command does *what* inside."""
    program = _SABOTAGED.replace("{what}", what)
    output, code = on_terminal([sys.executable, "-c", program], environment(**more))
    assert leaks(output) == []
    return output.decode(), code


_FAILED = (
    "Reedmill failed (ValueError: x[U+001B][31m {FORGED}). That is a mistake in Reedmill, not in "
    "your files. Give the command again with REEDMILL_DETAILS=1 before it to see where, and "
    "please report what it shows.\n"
).replace("{FORGED}", FORGED)
_RAISE = f'raise ValueError("x\\x1b[31m\\n{FORGED}")'


def test_an_error_nobody_foresaw_is_a_sentence() -> None:
    assert sabotaged(_RAISE) == (_FAILED, 1)


def test_its_details_are_shown_to_who_asks_for_them() -> None:
    text, code = sabotaged(_RAISE, REEDMILL_DETAILS="1")
    assert code == 1
    assert text.startswith(_FAILED + "  Traceback (most recent call last):\n")
    assert all(line.startswith("  ") for line in text.splitlines()[1:])


@pytest.mark.parametrize(
    ("what", "said"),
    [
        ("raise MemoryError", "This machine does not have enough memory for that.\n"),
        (
            f'open("x\\x1b[31m\\n{FORGED}")',
            f"x[U+001B][31m {FORGED}: cannot be read or written (No such file or directory).\n",
        ),
    ],
)
def test_what_the_machine_refuses_is_said_as_such(what: str, said: str) -> None:
    assert sabotaged(what) == (said, 1)


@pytest.mark.parametrize(
    "what",
    [
        f'warnings.warn("x\\x1b[31m\\n{FORGED}")',
        "import numpy; numpy.float64(1) / numpy.float64(0)",
        f'd = threading.Thread(target=lambda: 1 / 0, name="\\n{FORGED}"); d.start(); d.join()',
        "type('X', (), {'__del__': lambda self: 1 / 0})()",
    ],
)
def test_what_python_says_to_developers_does_not_reach_a_player(what: str) -> None:
    assert sabotaged(what) == ("", 0)


@pytest.mark.parametrize(
    "what",
    [
        f'print("x\\x1b[31m\\x9b\\u202e\\r{FORGED}")',
        f'import logging; logging.warning("x\\x1b[31m\\x9b\\u202e\\r{FORGED}")',
    ],
)
def test_what_a_library_prints_is_made_printable(what: str) -> None:
    text, code = sabotaged(what)
    assert code == 0
    assert f"x[U+001B][31m[U+009B][U+202E] {FORGED}\n" in text


# --- nothing goes round it --------------------------------------------------------------

# Where something may be printed besides, and why.
BESIDE = {
    "cli/saying.py": "it is the door",
    "base/stopping.py": "one fixed sentence, at a moment when nothing more may be imported",
    "sound/soundfont/font_process.py": "a process of its own: its streams are pipes to its parent",
    "pack/run/worker.py": "a process of its own: its streams are pipes to its parent",
}


def printing(path: Path) -> Iterator[str]:
    """Every place in *path* that prints or takes hold of a standard stream."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        text = ast.unparse(node) if isinstance(node, ast.Attribute | ast.Call) else ""
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in {"print", "echo", "secho", "input", "breakpoint"}:
                yield f"{path}:{node.lineno}: {text}"
        elif isinstance(node, ast.Attribute) and (
            text in {"sys.stdout", "sys.stderr", "sys.__stdout__", "sys.__stderr__"}
            or text in {"click.echo", "click.secho", "click.echo_via_pager"}
            or node.attr in {"print_exc", "print_exception", "print_stack"}
        ):
            yield f"{path}:{node.lineno}: {text}"


def test_nothing_is_printed_past_the_door() -> None:
    found: dict[str, Any] = {
        path.relative_to(PACKAGE).as_posix(): list(printing(path)) for path in PACKAGE.rglob("*.py")
    }
    assert {name: said for name, said in found.items() if said and name not in BESIDE} == {}
    assert found["cli/saying.py"]  # they are found where there are some


def test_columns_stand_under_one_another_whatever_letters_they_hold() -> None:
    """East Asian letters take two columns (Unicode Annex 11), a vowel over a letter none."""
    rows = [("回家", "1"), ("Home", "2"), ("집으로", "3"), ("กำลังดี", "4")]
    # by hand: 4, 4, 6 and 5 columns, then two between the columns
    assert text_columns(("", "n"), rows).split("\n") == [
        "        n", "回家    1", "Home    2", "집으로  3", "กำลังดี   4",
    ]  # fmt: skip


def test_a_line_of_progress_leaves_nothing_of_a_wider_one(
    capfd: pytest.CaptureFixture[str],
) -> None:
    shown = Redrawn()
    shown.draw("回家.wav")  # eight columns
    shown.draw("abc")
    shown.draw("")
    assert capfd.readouterr().err == "\r回家.wav\rabc     \r   \r"
