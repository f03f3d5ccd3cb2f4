"""The ends of every range: the last that is read, and the first that is refused.

The numbers are those of the table "How much a file may hold" (patterns/README.md) and of its
chapters on tempo and meter, written out here a second time.
"""

from __future__ import annotations

import pytest

from reedmill.base.errors import PatternError
from reedmill.language import parse


def play(*lines: str, music: str = "-2") -> str:
    return "\n  ".join(['drill "x"', *lines, f"play {music}\n"])


def text_of(length: int) -> str:
    return f'"{"a" * length}"'


def nested(depth: int) -> str:
    return "(" * depth + "-2 -2" + ")" * depth


def rungs(count: int) -> str:
    return f'drill "x"\n  rungs {"-3 " * count}\n  phrase rung\n'


READ_AND_REFUSED: dict[str, tuple[str, str, str]] = {
    "a title": (
        f"drill {text_of(120)}\n play -2\n", f"drill {text_of(121)}\n play -2\n", "text-too-long",
    ),
    "the name of a section": (
        play(f"section {text_of(120)}"), play(f"section {text_of(121)}"), "text-too-long",
    ),
    "about": (play(f"about {text_of(600)}"), play(f"about {text_of(601)}"), "text-too-long"),
    "listen": (play(f"listen {text_of(600)}"), play(f"listen {text_of(601)}"), "text-too-long"),
    "the lowest level": (play("level 1"), play("level 0"), "number-out-of-range"),
    "the highest level": (play("level 5"), play("level 6"), "number-out-of-range"),
    "the slowest tempo": (play("tempo 20"), play("tempo 19"), "number-out-of-range"),
    "the fastest tempo": (play("tempo 300"), play("tempo 301"), "number-out-of-range"),
    "a range of tempi": (
        play("tempo 60 to 300"), play("tempo 60 to 301"), "number-out-of-range",
    ),
    "the first position": (play("positions 1"), play("positions 0"), "number-out-of-range"),
    "the last position": (play("positions 12"), play("positions 13"), "number-out-of-range"),
    "the shortest meter": (play("meter 1/4"), play("meter 0/4"), "no-such-meter"),
    "the longest meter": (play("meter 16/8"), play("meter 17/8"), "no-such-meter"),
    "halves": (play("meter 2/2"), play("meter 3/3"), "no-such-meter"),
    "quarters": (play("meter 4/4"), play("meter 5/5"), "no-such-meter"),
    "eighths": (play("meter 6/8"), play("meter 6/9"), "no-such-meter"),
    "rungs": (rungs(200), rungs(201), "too-many-rungs"),
    "plans of the mouth": (
        play(f"embouchure lips{' or lips' * 8}"), play(f"embouchure lips{' or lips' * 9}"),
        "too-many-plans",
    ),
    "a repeat": (play(music="(-2 -3)x100"), play(music="(-2 -3)x101"), "repeats-out-of-range"),
    "no repeat": (play(music="(-2 -3)x1"), play(music="(-2 -3)x0"), "repeats-out-of-range"),
    "brackets": (play(music=nested(6)), play(music=nested(7)), "brackets-too-deep"),
    "beats": (play(music="-2:64"), play(music="-2:65"), "unplayable-length"),
    "eighths of a beat": (play(music="-2:1/8"), play(music="-2:1/9"), "uncountable-length"),
    "sixths of a beat": (play(music="-2:1/6"), play(music="-2:1/7"), "uncountable-length"),
    "quarters of a beat": (play(music="-2:1/4"), play(music="-2:1/5"), "uncountable-length"),
    "dots": (play(music="-2:1.."), play(music="-2:1..."), "too-many-dots"),
    "degrees": (
        'drill "x"\n tune 14\n', 'drill "x"\n tune 15\n', "no-such-degree",
    ),
    "octaves up": ('drill "x"\n tune 1+++\n', 'drill "x"\n tune 1++++\n', "no-such-degree"),
    "octaves down": ('drill "x"\n tune 1---\n', 'drill "x"\n tune 1----\n', "no-such-degree"),
    "the lowest hole": (play(music="1"), play(music="0"), "no-such-hole"),
    "the highest hole": (play(music="10"), play(music="11"), "no-such-hole"),
    "digits": (
        play(music="-2:000000001"), play(music="-2:0000000001"), "number-too-long",
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("read", "refused", "key"), READ_AND_REFUSED.values(), ids=READ_AND_REFUSED
)
def test_the_last_that_is_read_and_the_first_that_is_refused(
    read: str, refused: str, key: str
) -> None:
    assert parse(read)
    with pytest.raises(PatternError) as caught:
        parse(refused)
    assert caught.value.key == key


@pytest.mark.parametrize(("drills", "refused"), [(500, False), (501, True)])
def test_a_file_has_500_drills_at_most(*, drills: int, refused: bool) -> None:
    text = "".join(f'drill "{number}"\n play -2\n' for number in range(drills))
    if not refused:
        assert len(parse(text)) == drills
        return
    with pytest.raises(PatternError) as caught:
        parse(text)
    assert caught.value.key == "too-many-drills"
    assert caught.value.span.line == 2 * 500 + 1


def test_a_file_has_10000_notes_at_most_and_a_parent_in_the_library_none_of_them() -> None:
    library = parse('drill "Home"\n level 2\n play -2\n')
    full = "".join(
        f'drill "{number}"\n from "Home"\n play ((-2 -3)x100)x10\n' for number in range(5)
    )
    assert len(parse(full, library=library)) == 5
    with pytest.raises(PatternError) as caught:
        parse(full + 'drill "One more"\n play -2\n', library=library)
    assert caught.value.key == "too-many-notes-in-a-file"
    assert caught.value.span.line == 16
