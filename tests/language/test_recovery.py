"""All mistakes of a file at once: every wrong line is told once, and nothing that follows from it.

What stands in each file was made wrong by hand; a mistake is expected where the wrong word stands.
"""

from __future__ import annotations

import pytest

from reedmill.base.errors import PatternError
from reedmill.base.gathering import gathering
from reedmill.language import parse

RIGHT = 'drill "Right"\n  play -2\n'

Told = list[tuple[int, int, str]]
"""Line and column of a mistake, and which it is."""

FILES: dict[str, tuple[str, Told, list[str]]] = {
    "two lines of a drill": (
        RIGHT + '\ndrill "a"\n  level 9\n  tempo 60\n  meter 5/5\n  play -2 -3\n',
        [(5, 9, "number-out-of-range"), (7, 9, "no-such-meter")],
        ["a"],
    ),
    "lines that are wrong only together": (
        RIGHT + 'drill "a"\n  tempo 60\n  tempo 70\n  level 2\n  level 3\n  play -2\n'
        'drill "b"\n  level 0\n  play -2\n',
        [(5, 3, "second-line"), (7, 3, "second-line"), (10, 9, "number-out-of-range")],
        ["a", "b"],
    ),
    "lines that stand twice, with others between": (
        RIGHT + 'drill "a"\n  tempo 60\n  level 2\n  tempo 70\n  play -2\n  level 3\n',
        [(6, 3, "second-line"), (8, 3, "second-line")],
        ["a"],
    ),
    "what stands above the first drill, once": (
        "play -3\nlevel 2\n" + RIGHT,
        [(1, 1, "line-before-drill")],
        [],
    ),
    "lines of one piece of music": (
        RIGHT + 'drill "a"\n  play -2 x\n    -3 -4\n    y -4\n  level 7\n',
        [(4, 11, "unknown-note"), (6, 5, "unknown-line"), (7, 9, "number-out-of-range")],
        ["a"],
    ),
    "lines that go on with the music of another": (
        RIGHT + 'drill "a"\n  play -2 -3\n    -3 x\n    -4 y\n  level 7\n',
        [(5, 8, "unknown-note"), (6, 8, "unknown-note"), (7, 9, "number-out-of-range")],
        ["a"],
    ),
    "music whose brackets reach over lines, as far as it can be read": (
        'drill "a"\n  play (-2 x\n    -3)x2 -11\n  level 7\n',
        [(2, 12, "unknown-note"), (4, 9, "number-out-of-range")],
        ["a"],
    ),
    "a heading, but no parent that may have been meant by it": (
        RIGHT + 'drill Wrong\n  level 8\n  play -2\ndrill "c"\n  from "Wrong"\n',
        [(3, 7, "does-not-fit"), (4, 9, "number-out-of-range")],
        [],
    ),
    "a second piece of music with its lines": (
        RIGHT + 'drill "a"\n  rungs -3\n  phrase rung\n    -2\n  phrase rung\n    -3\n  level 6\n',
        [(7, 3, "second-line"), (9, 9, "number-out-of-range")],
        ["a"],
    ),
    "lines of sections": (
        'drill "a"\n  section "A"\n  tempo 60\n  play -2\n  section ""\n  play -11\n',
        [(3, 3, "line-inside-section"), (5, 11, "empty-section"), (6, 8, "no-such-hole")],
        ["a"],
    ),
    "a drill without music, but none whose music may have been lost": (
        'drill "a"\n  level 9\ndrill "b"\n  from "a"\n  tempo 10\ndrill "c"\n  level 1\n',
        [(2, 9, "number-out-of-range"), (5, 9, "number-out-of-range"), (6, 7, "nothing-to-play")],
        ["a", "b", "c"],
    ),
}


@pytest.mark.parametrize(("text", "told", "broken"), FILES.values(), ids=FILES)
def test_every_wrong_line_is_told_once(text: str, told: Told, broken: list[str]) -> None:
    with gathering() as found:
        drills = parse(text)
    mistakes = [error for error in found if isinstance(error, PatternError)]
    assert len(mistakes) == len(found)
    assert sorted((e.span.line, e.span.column, e.key) for e in mistakes) == told
    assert [drill.title for drill in drills if drill.broken] == broken
    lines = text.split("\n")
    assert all(error.source_line == lines[error.span.line - 1] for error in mistakes)


@pytest.mark.parametrize(("text", "told", "broken"), FILES.values(), ids=FILES)
def test_where_nothing_is_gathered_one_of_them_is_raised(
    text: str, told: Told, broken: list[str]
) -> None:
    """Which comes first depends on what is read first; none is made up."""
    del broken
    with pytest.raises(PatternError) as caught:
        parse(text)
    found = caught.value
    places = [(line, column) for line, column, _ in told]
    assert (found.span.line, found.span.column) in places


WRONG = "  level 9\n"


@pytest.mark.parametrize(("wrong", "told"), [(199, 199), (200, 200), (201, 200), (300, 200)])
@pytest.mark.parametrize("between", ["", 'drill "b{}"\n  play -2\n'])
def test_after_200_mistakes_a_file_is_read_no_further(wrong: int, told: int, between: str) -> None:
    """It is something else, or broken throughout; in one drill as in many."""
    lines = (between.format(number) + WRONG for number in range(wrong))
    with gathering() as found:
        parse('drill "a"\n  play -2\n' + "".join(lines))
    assert len(found) == told
    assert len({str(error) for error in found}) == told
