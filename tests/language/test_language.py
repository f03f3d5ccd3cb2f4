"""The pattern language: what it accepts, what it means, and what it says when it is broken."""

from __future__ import annotations

import contextlib
import re
import time
import tracemalloc
from dataclasses import fields
from fractions import Fraction
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import reedmill
from broken_drills import BROKEN
from reedmill.base.errors import InputError, PatternError, ReedmillError
from reedmill.base.gathering import gathering
from reedmill.cli import cli
from reedmill.cli.command_remedies import COMMAND_LINE
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import Event, Group, parse, parse_file
from reedmill.language.builder import Builder
from reedmill.language.drill import Drill, Section
from reedmill.language.words import DIRECTIONS, LINES, MAX_DRILLS, ROLES, Word
from reedmill.theory.positions import Position

HOME = """\
drill "Home from every rung"
  about    "Step onto each rung of hole 3 draw and come home to the root."
  level    1
  tempo    56
  anchor   -2
  rungs    -3 -3' -3''
  order    down, up
  phrase   anchor rung             # played once for every rung
  ending   anchor:2

drill "Lean on the rung before"
  anchor   -2
  rungs    -3 -3' -3''
  phrase   anchor previous:1/2~rung:1/2
  ending   anchor:2

drill "Home from every rung, on hole 2"
  from     "Home from every rung"
  anchor   -1
  rungs    all of -2
"""


def tabs(text: str, at: int = 0) -> str:
    """The tab of a drill played on a C harp, slides with ~."""
    score = expand(parse(text)[at], Harp("C"), Position(2))
    return " ".join(("~" if note.joined else "") + note.reed.tab for note in score.notes)


def read_and_expand(text: str, name: str = "pattern") -> None:
    """Everything the project does with a pattern before it renders anything."""
    for drill in parse(text, name):
        expand(drill, Harp("C"), Position(2))


# --- what it means --------------------------------------------------------------------


def test_the_three_drills_of_a_first_lesson_read_as_a_teacher_reads_them() -> None:
    home, lean, moved = parse(HOME)
    assert (home.title, home.level, home.tempo_bpm) == ("Home from every rung", 1, 56)
    assert home.about == "Step onto each rung of hole 3 draw and come home to the root."
    assert lean.tempo_bpm is None
    assert (moved.tempo_bpm, moved.about, moved.order) == (56, home.about, ("down", "up"))
    assert tabs(HOME, 0) == "-2 -3 -2 -3' -2 -3'' -2 -3'' -2 -3' -2 -3 -2"
    assert tabs(HOME, 1) == "-2 -3 -2 -3 ~-3' -2 -3' ~-3'' -2"
    assert tabs(HOME, 2) == "-1 -2 -1 -2' -1 -2'' -1 -2'' -1 -2' -1 -2 -1"


def test_every_note_carries_its_length_and_place() -> None:
    [drill] = parse('drill "x"\n  play -2:3/2 r (3 ~3:1/4)x2 | 6^')
    first, rest, group, _bar, last = drill.play
    assert isinstance(first, Event)
    assert isinstance(rest, Event)
    assert isinstance(group, Group)
    assert isinstance(last, Event)
    assert (first.length, first.span.line, first.span.column, first.span.width) == (
        Fraction(3, 2), 2, 8, 6,
    )  # fmt: skip
    assert rest.rest
    assert (group.times, group.count) == (2, 4)
    assert last.reed is not None
    assert last.reed.over


@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        ("1, 2", (1, 2)),
        ("2nd position, third position", (2, 3)),
        ("cross harp 3rd", (2, 3)),
        ("straight harp, cross, fifth pos", (1, 2, 5)),
        ("2 2nd second cross", (2,)),
        ("12", (12,)),
    ],
)
def test_positions_are_read_in_the_words_players_use(words: str, numbers: tuple[int, ...]) -> None:
    """Straight harp is first position and cross harp second: common practice."""
    [drill] = parse(f'drill "x"\n  positions {words}\n  play -2\n')
    assert drill.positions == numbers


def test_a_position_takes_more_than_the_word_for_it() -> None:
    with pytest.raises(PatternError, match='there is no position "harp"'):
        parse('drill "x"\n  positions harp\n  play -2\n')


def test_a_tempo_is_one_number_or_a_range_of_two() -> None:
    one, two = parse('drill "x"\n tempo 60\n play -2\ndrill "y"\n tempo 60 to 80\n play -2\n')
    assert (one.tempo_bpm, one.tempo_goal_bpm) == (60, None)
    assert (two.tempo_bpm, two.tempo_goal_bpm) == (60, 80)


def test_the_end_of_a_range_of_tempi_is_refused_as_a_tempo() -> None:
    """Both numbers are tempi: the message names the line, not the number before."""
    with pytest.raises(PatternError, match="tempo 900 is out of range") as refused:
        parse('drill "x"\n  tempo 60 to 900\n  play -2\n')
    assert refused.value.span is not None
    assert (refused.value.span.line, refused.value.span.column) == (2, 15)


@pytest.mark.parametrize(("heading", "column"), [("drill", 1), ('  drill "Last"', 9)])
def test_one_drill_too_many_is_told_at_its_title_or_at_its_line(heading: str, column: int) -> None:
    drills = [f'drill "{number}"\n  play -2' for number in range(MAX_DRILLS)]
    with gathering() as found:
        parse("\n".join([*drills, heading, "  play -2", ""]))
    [told] = [each for each in found if f"there are {MAX_DRILLS + 1} drills" in str(each)]
    assert isinstance(told, PatternError)
    assert told.span is not None
    assert (told.span.line, told.span.column) == (2 * MAX_DRILLS + 1, column)


@pytest.mark.parametrize(
    ("written", "number", "octave"),
    [("1", 1, 0), ("7-", 7, -1), ("8", 1, 1), ("9+", 2, 2), ("14", 7, 1), ("14--", 7, -1)],
)
def test_a_degree_from_8_on_lies_in_the_octave_above(
    written: str, number: int, octave: int
) -> None:
    """An octave is seven degrees: the 8 is the 1 above, as in a chord's 9 (its 2)."""
    [drill] = parse(f'drill "x"\n  tune {written}\n')
    [event] = drill.tune
    assert isinstance(event, Event)
    assert event.sung is not None
    assert (event.sung.degree.number, event.sung.octave) == (number, octave)


def test_a_drill_is_equal_and_shown_alike_whatever_stands_below_it_in_its_file() -> None:
    text = 'drill "x"\n  play -2\n'
    alone, among = parse(text)[0], parse(f'{text}drill "y"\n  from "x"\n  move up 1\n')[0]
    assert alone.texts != among.texts
    assert alone == among
    with gathering() as found:
        wrong_below = parse(f"{text}  level 9\n")[0]
    assert found
    assert wrong_below.broken
    assert wrong_below == alone
    assert repr(alone) == repr(among)
    child = parse(f'{text}drill "y"\n  from "x"\n  move up 1\n')[1]
    assert child.moved is child.move
    assert "moved=" not in repr(child)
    assert "broken=" not in repr(child)


@pytest.mark.parametrize("typed", ["\u2212 3\u2019", "\u22123\u2032", "\u20133\u2019"])
def test_what_a_word_processor_makes_of_tab_is_still_tab(typed: str) -> None:
    assert tabs(f'drill "x"\n  play {typed.replace(" ", "")}') == "-3'"


def test_line_ends_of_every_system_and_a_byte_order_mark_are_read(tmp_path: Path) -> None:
    path = tmp_path / "mine.drill"
    path.write_bytes(b'\xef\xbb\xbfdrill "x"\r\n  play -2 | # home\r\n'.replace(b" |", b":4 |"))
    [drill] = parse_file(path)
    assert drill.title == "x"


def test_quotes_and_backslashes_inside_a_title() -> None:
    [drill] = parse(r'drill "say \"home\" \\ twice \n"' + "\n play -2")
    assert drill.title == r'say "home" \ twice \n'


def test_play_goes_on_over_lines_and_remarks_are_no_music() -> None:
    assert tabs('drill "x" # one\n\n# two\n play -2 # -3\n play -4\n') == "-2 -4"


@pytest.mark.parametrize("word", LINES)
def test_every_word_has_a_rule_and_a_method_that_builds_it(word: str) -> None:
    rules = (Path(reedmill.__file__).parent / "language" / "grammar.lark").read_text("utf-8")
    assert f'"{word}"' in rules, (
        f"the word '{word}' is in language/words.py, and no rule of grammar.lark reads it"
    )
    assert callable(getattr(Builder, word, None)), (
        f"grammar.lark reads the word '{word}', and Builder in language/builder.py has no method "
        f"'{word}' for it"
    )


@pytest.mark.parametrize("word", sorted({each.name for each in fields(Drill)} & LINES.keys()))
def test_every_line_that_a_drill_keeps_is_asked_for(word: str) -> None:
    """A line that is read and then forgotten would be dropped in silence."""
    package = Path(reedmill.__file__).parent
    hub, deriving = package / "language" / "drill.py", package / "language" / "derive.py"
    rooms = (each for each in package.rglob("*.py") if each.parent != hub.parent)
    asked = re.compile(rf"\bdrill\.{word}\b")
    by_others = any(asked.search(each.read_text("utf-8")) for each in (deriving, *rooms))
    assert by_others or re.search(rf"\bself\.{word}\b", hub.read_text("utf-8")), (
        f"a Drill keeps its line '{word}', and nobody asks for it: give it its meaning in expand/"
    )


@pytest.mark.parametrize("word", LINES.values(), ids=lambda word: word.name)
def test_the_example_of_every_line_works(word: object) -> None:
    example = getattr(word, "example")  # noqa: B009  parametrised values are objects to mypy
    name = getattr(word, "name")  # noqa: B009
    base = {"anchor": "anchor -2", "rungs": "rungs -3", "phrase": "phrase anchor rung"}
    parent = 'drill "Home from every rung"\n' + "\n".join(base.values()) + "\n"
    with_parent = {"from": [], "move": ['from "Home from every rung"']}
    if name in with_parent:
        lines = [*with_parent[name], example]
        text = parent + "\n".join(['drill "child"', *lines])
    elif name == "section":
        text = "\n".join(['drill "x"', base["anchor"], base["rungs"], example, base["phrase"]])
    elif name == "octave":
        text = "\n".join(['drill "x"', example, "tune 1"])
    elif name == "over":
        text = "\n".join(['drill "x"', example, "play -2:4 | -2:4 |"])
    elif name == "drill":
        text = "\n".join([example, *base.values()])
    elif name in ("play", "tune"):
        text = f'drill "x"\n{example}'
    else:
        text = 'drill "x"\n' + "\n".join((base | {name: example}).values())
    assert expand(parse(text)[-1], Harp("C"), Position(2)).notes


@pytest.mark.parametrize("role", ROLES)
def test_every_role_can_be_played(role: str) -> None:
    assert tabs(f'drill "x"\n anchor -2\n rungs -3 -3\'\n phrase {role}')


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_every_order_can_be_played(direction: str) -> None:
    played = tabs(f"drill \"x\"\n rungs -3' -3 -3''\n order {direction}\n phrase rung")
    assert played == {
        "down": "-3 -3' -3''", "up": "-3'' -3' -3", "listed": "-3' -3 -3''",
    }[direction]  # fmt: skip


# --- what it says when it is broken ------------------------------------------------------


@pytest.mark.parametrize(("label", "text", "message"), BROKEN, ids=[row[0] for row in BROKEN])
def test_a_broken_pattern_is_explained(label: str, text: str, message: str) -> None:
    with pytest.raises(PatternError) as caught:
        read_and_expand(text, "mine.drill")
    assert str(caught.value.worded(COMMAND_LINE)) == message, label


@pytest.mark.parametrize(("label", "text", "message"), BROKEN, ids=[row[0] for row in BROKEN])
@pytest.mark.parametrize("command", ["make", "check"])
def test_a_broken_pattern_ends_with_code_2_and_writes_nothing(
    label: str, text: str, message: str, command: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    Path("mine.drill").write_text(text, "utf-8", newline="")
    result = CliRunner().invoke(cli, [command, "mine.drill"])
    assert (result.exit_code, result.stdout) == (2, ""), label
    assert result.stderr == message + "\n"
    assert [path.name for path in tmp_path.iterdir()] == ["mine.drill"]


@pytest.mark.parametrize(
    ("lines", "key", "column"),
    [
        ("play -2~x", "unknown-note", 11),
        ("tune x", "unknown-degree", 8),
        ("tune 1~x", "unknown-degree", 10),  # a degree is asked for there too
        ("phrase -2~x", "unknown-note", 13),
    ],
)
def test_what_is_no_note_is_answered_in_the_signs_of_its_line(
    lines: str, key: str, column: int
) -> None:
    with pytest.raises(PatternError) as caught:
        parse(f'drill "x"\n  {lines}\n')
    assert (caught.value.key, caught.value.span.column) == (key, column)


@pytest.mark.parametrize("above", ["", 'drill "x"\n'])
def test_a_quote_that_begins_a_line_and_is_not_closed_is_told_there(above: str) -> None:
    with pytest.raises(PatternError) as caught:
        parse(f'{above}"Home\n')
    assert caught.value.key == "unclosed-quote"
    assert (caught.value.span.line, caught.value.span.column) == (above.count("\n") + 1, 1)


ONCE = [each for name, each in LINES.items() if name not in ("drill", "section", "play", "tune")]
OF_A_SECTION = frozenset(each.name for each in fields(Section)) - {"span", "name"}


@pytest.mark.parametrize("line", ONCE, ids=lambda line: line.name)
def test_a_line_that_stands_twice_is_told_by_its_word_at_the_second(line: Word) -> None:
    with pytest.raises(PatternError) as caught:
        parse(f'drill "x"\n  {line.example}\n  {line.example}\n')
    found = caught.value
    assert found.fact == f"this drill has a second {line.name} line"
    assert (found.span.line, found.span.column, found.span.width) == (3, 3, len(line.name))


@pytest.mark.parametrize("line", ONCE, ids=lambda line: line.name)
def test_a_line_of_the_whole_drill_is_told_by_its_word_inside_a_section(line: Word) -> None:
    """A section has music, a length, an order and an echo of its own, and no other line."""
    own = line.name in OF_A_SECTION
    text = 'drill "x"\n  section "A"\n  play -2\n' + f"  {line.example}\n" * (2 if own else 1)
    with pytest.raises(PatternError) as caught:
        parse(text)
    assert caught.value.fact == (
        f"this section has a second {line.name} line"
        if own
        else f"this {line.name} line stands inside a section"
    )
    assert caught.value.source_line.strip() == line.example
    assert caught.value.span.column == 3


FILES = [
    (
        "not UTF-8",
        b'drill "Hei\xdf"\n  play -2\n',
        "mine.drill:1:11: this is not UTF-8 text: byte 0xDF cannot be read\n"
        "  Save the file again with the encoding UTF-8 (most editors offer it in Save As).\n",
    ),
    (
        "too large",
        b"#" * 200_001,
        "mine.drill: this file is larger than 200 kB. Split it into several files.\n",
    ),
    (
        "a folder",
        None,
        "mine.drill: cannot read this file: it is a folder. Name a file in it.\n",
    ),
]


@pytest.mark.parametrize(("label", "content", "message"), FILES, ids=[row[0] for row in FILES])
def test_a_file_that_is_not_a_pattern_is_explained(
    label: str, content: bytes | None, message: str, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    if content is None:
        Path("mine.drill").mkdir()
    else:
        Path("mine.drill").write_bytes(content)
    result = CliRunner().invoke(cli, ["make", "mine.drill"])
    assert (result.exit_code, result.stderr) == (2, message), label
    assert not Path("output").exists()


def test_an_unknown_harp_is_explained(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(cli, ["make", "Home from every rung", "--harp", "X"])
    assert (result.exit_code, result.stderr) == (
        2,
        'there is no harp "X". Harps are G, Ab, A, Bb, B, C, Db, D, Eb, E, F, F#; '
        "put low or high before one for an octave under or over.\n",
    )
    assert not Path("output").exists()


# --- what a stranger's file can do ---------------------------------------------------------

SCRAPS = st.sampled_from(
    [*LINES, *ROLES, *DIRECTIONS, "all of", "bends of", "down to", "r", "~", "|", "(", ")", "x3",
     ":1/2", ":2", "-3", "-3'", "4", "6^", "-11",
     "&", "-2&3", "-3q", "slap", "shake", "vibrato4", '"Home"', '"', "#", "\n", "\n  ", ",", "4/4",
     "60", "\\", "\u201c", "\0", "é"]
)  # fmt: skip


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.one_of(st.text(max_size=300), st.lists(SCRAPS, max_size=60).map(" ".join)))
def test_no_text_raises_anything_but_our_own_errors(text: str) -> None:
    with contextlib.suppress(ReedmillError):  # any other exception fails the test
        read_and_expand('drill "x"\n' + text)


@pytest.mark.parametrize(
    "music",
    [
        "(" * 5_000,
        "((((((-2)x100)x100)x100)x100)x100)x100",
        "-2 " * 3_300,
        "-" + "2'" * 4_000,
        "-3" + "'" * 9_000,
        ":" * 9_000,
        "-2x100 " * 1_000,
    ],
    ids=["brackets", "repeats", "notes", "tab", "ticks", "colons", "runs"],
)
def test_a_small_file_costs_little(music: str) -> None:
    tracemalloc.start()
    began = time.process_time()
    with pytest.raises(InputError):
        read_and_expand(f'drill "x"\n  play {music}\n')
    seconds = time.process_time() - began
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert seconds < 5  # a second without the tracing that this test adds
    assert peak < 200e6
