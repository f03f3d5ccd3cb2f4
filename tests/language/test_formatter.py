"""Tidying a pattern changes how it looks, never what it means, and loses no comment."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedmill.base.errors import PatternError
from reedmill.language.formatter import tidy
from reedmill.language.mistakes import MISTAKES
from reedmill.language.parser import drills_as_written
from reedmill.library import patterns_dir

SHIPPED = sorted(patterns_dir().rglob("*.drill"))


def meaning(part: object) -> object:
    """A drill or a part of it without the places it was written at."""
    if isinstance(part, tuple | list):
        return [meaning(each) for each in part]
    if is_dataclass(part):
        names = [each.name for each in fields(part) if each.name not in ("span", "texts")]
        return {name: meaning(getattr(part, name)) for name in names}
    return part


def what_is_written(text: str) -> object:
    return meaning(drills_as_written(text, "mine.drill"))


# --- drills written at random, in the worst of hands -----------------------------------

gaps = st.sampled_from([" ", "  ", "\t", "   \t "])
maybe_gap = st.sampled_from(["", "", " ", "\t"])
dashes = st.sampled_from(["-", "\u2212", "\u2013"])
ticks = st.lists(st.sampled_from(["'", "\u2019", "\u2032"]), max_size=3).map("".join)
comments = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\r\n"), max_size=12
).map(lambda text: ("# " if text[:1].isdigit() else "#") + text)  # in a tune #4 is a degree
scraps = st.sampled_from(["a", "\u00e9", " ", "#", "\\\\", '\\"', "\\n", "x", "|", "{", "\u201c"])
quoted = st.lists(scraps, max_size=8).map(lambda pieces: f'"t{"".join(pieces)}"')
lengths = st.sampled_from([":2", ":1/2", ":3/2", ":1.", ":1/2..", ":2/4"])
reeds = st.one_of(
    st.builds("{}{}{}".format, dashes, st.integers(1, 10), ticks),
    st.builds("{}{}".format, st.sampled_from(["", "+", "0", "+0"]), st.integers(1, 10)),
    st.sampled_from(["6^", "-3q", "10'q"]),
)
holes = st.sampled_from(["-2&3", "-4 & 5", "\u22121&\u22124", "1&+4", "-3&2", "-2'&3q", "+5&6&7"])
roles = st.sampled_from(["anchor", "rung", "previous", "next", "first", "last", "r"])
degrees = st.builds(
    "{}{}{}".format,
    st.sampled_from(["", "b", "#"]), st.integers(1, 7),
    st.sampled_from(["", "+", "-", "\u2212", "\u2013", "q", "q+"]),
)  # fmt: skip
chords = st.sampled_from(["1&5", "1 & b3&5", "1&1+", "3q&5\u2212", "#4&7"])


styles = st.sampled_from(["", "", "", "mute ", "vibrato4  ", "pull mute ", "fall\tvibrato "])


@st.composite
def notes(draw: st.DrawFn, heads: st.SearchStrategy[str]) -> str:
    """One note with whatever may stand on it, slid into or repeated or neither."""
    head = draw(heads)
    kind = draw(st.sampled_from(["plain", "plain", "repeated", "slid"]))
    attacked = head != "r" and kind != "slid"  # only then can it be accented
    style = draw(styles) if head != "r" else ""
    marks = draw(st.lists(st.sampled_from(["!"]), max_size=1)) if attacked else []
    length = draw(st.lists(lengths, max_size=1))
    gap = draw(maybe_gap)
    note = style + gap.join([head, *marks, *length])
    if kind == "slid" and head != "r" and draw(st.booleans()):
        return f"~{gap}{draw(lengths)} {note}"
    if kind == "repeated":
        return f"{note} x{draw(st.integers(1, 4))}"
    return f"~{gap}{note}" if kind == "slid" and head != "r" else note


def music(heads: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    def grown(items: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
        inside = st.builds(lambda gap, found: gap.join(found), gaps, st.lists(items, min_size=1))
        return st.one_of(
            st.builds("({}){}".format, inside, st.sampled_from(["", "x2", " x3"])),
            st.builds("triplet{}({})".format, maybe_gap, inside),
            st.builds("{}({})x2".format, st.sampled_from(["slap ", "scoop mute"]), inside),
            st.builds("( {} ) 1st({}) 2nd ( {})".format, inside, items, items),
        )

    items = st.recursive(notes(heads) | st.just("|"), grown, max_leaves=6)
    return st.builds(lambda gap, found: gap.join(found), gaps, st.lists(items, min_size=1))


def without_lone_holes(line: str) -> bool:
    """False for a hole alone in brackets without a sign: a draw to some and a blow to others."""
    return not re.search(r"\(\s*(~\s*)?(10|[1-9])\s*\)", line)


plans = st.sampled_from(
    ["lips", "tongue left", "anchors lips rungs tongue  right", "anchors lips ,rungs lips"]
)
ORDERS = ["down", "down up", "down,up ,listed"]
reed_music = music(reeds | roles | holes).filter(without_lone_holes)
lines = st.one_of(
    st.builds("about {}".format, quoted),
    st.builds("listen{}{}".format, maybe_gap, quoted),
    st.sampled_from(["level 3", "tempo  56 to 84", "tempo 60", "meter 12/8", "feel shuffle"]),
    st.sampled_from(
        ["pickup 1/2", "length\t2", "allow overbends", "octave  low", "anchor root", "echo"]
    ),
    st.sampled_from(["positions 2", "positions 1 2,3", "over I iv,ending", "move up 1"]),
    st.builds("embouchure {}".format, st.lists(plans, min_size=1, max_size=9).map("  or ".join)),
    st.builds("from {}".format, quoted),
    st.builds("anchor  {}".format, reeds),
    st.builds("rungs {} all of\t-3 down to -3'' bends of -4".format, reeds),
    st.builds("order {}".format, st.sampled_from(ORDERS)),
    st.builds("{} {}".format, st.sampled_from(["phrase", "ending", "play"]), reed_music),
    st.builds("tune {}".format, music(degrees | roles | chords)),
    st.builds("section {}".format, quoted),
)


def first_word(line: str) -> str:
    found = re.match(r"[a-z]+", line)
    assert found
    return found[0]


def whole(lines: list[str]) -> list[str]:
    """*lines* without a second one of a kind, a section last."""
    kept: list[str] = []
    seen: set[str] = set()
    for line in sorted(lines, key=lambda line: line.startswith("section")):
        word = first_word(line)
        if word not in seen:
            kept.append(line)
        seen.add(word)
    return kept


@st.composite
def files(draw: st.DrawFn) -> str:
    """A pattern file: drills, comments and blank lines in any layout."""
    text: list[str] = []

    def put(line: str) -> None:
        trouble = st.one_of(st.just(""), st.builds("{}{}".format, maybe_gap, comments))
        text.extend(draw(st.lists(trouble, max_size=3)))
        tail = draw(st.one_of(st.just(""), st.builds("{}{}".format, gaps, comments)))
        text.append(draw(maybe_gap) + line + tail)

    for _ in range(draw(st.integers(1, 3))):
        put(f"drill{draw(maybe_gap)}{draw(quoted)}")
        for line in whole(draw(st.lists(lines, max_size=5))):
            put(line)
    text.extend(draw(st.lists(st.one_of(st.just(""), comments), max_size=3)))
    return draw(st.sampled_from(["\n", "\r\n"])).join(text)


def comments_of(text: str) -> list[str]:
    """The comments of *text* in order, found without the project's parser.

    A # in quotes belongs to a title, and on a tune line one before a digit to a degree.
    """
    found = []
    for line in re.split(r"\r?\n", text):
        in_tune = bool(re.match(r"\s*tune\b", line))
        music_only = re.sub(r'"(\\.|[^"\\])*"', lambda text: "_" * len(text[0]), line)
        at = re.search(r"#(?!\d)" if in_tune else "#", music_only)
        if line.lstrip(" \t").startswith("#"):
            found.append(line.strip(" \t"))
        elif at:
            found.append(line[at.start() :].strip(" \t"))
    return found


@settings(max_examples=40, deadline=None)
@given(files())
def test_tidying_keeps_what_is_meant(text: str) -> None:
    assert what_is_written(tidy(text)) == what_is_written(text)


@settings(max_examples=40, deadline=None)
@given(files())
def test_tidying_twice_is_tidying_once(text: str) -> None:
    once = tidy(text)
    assert tidy(once) == once


@settings(max_examples=40, deadline=None)
@given(files())
def test_no_comment_is_lost_or_moved_past_another(text: str) -> None:
    assert comments_of(tidy(text)) == comments_of(text)


@settings(max_examples=40, deadline=None)
@given(files())
def test_the_layout_is_the_one_that_is_promised(text: str) -> None:
    inside = False  # a drill
    words_at: set[int] = set()
    tidied = tidy(text)
    assert tidied.endswith("\n")
    assert "\n\n\n" not in tidied
    assert not tidied.startswith("\n")
    for line in tidied.split("\n"):
        if line.startswith("drill "):
            inside, words_at = True, set()
        elif line and not line.startswith("#"):
            assert inside
            assert re.match(r"  \S", line)
            found = re.match(r"  [a-z]+ +(?=\S)", line)
            if found and not line.startswith(("  #", "  echo")):
                words_at.add(found.end())
                assert len(words_at) == 1
        code = line.partition("#")[0]
        assert not {"\t", "\u2212", "\u2013", "\u2019", "\u2032"} & set(re.sub('".*"', "", code))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_shipped_patterns_keep_their_meaning_and_their_comments(path: Path) -> None:
    text = path.read_text("utf-8")
    tidied = tidy(text, path.name)
    assert what_is_written(tidied) == what_is_written(text)
    assert comments_of(tidied) == comments_of(text)
    assert tidy(tidied) == tidied


def test_there_are_shipped_patterns() -> None:
    assert len(SHIPPED) > 3


# --- the whole text of some ------------------------------------------------------------

EXACT = {
    "a drill in a hurry": (
        'drill   "Home"\nanchor \u22122\nrungs -3 -3\u2019 -3\u2032\u2032\n'
        "order down up\nphrase anchor rung\n",
        """\
drill "Home"
  anchor  -2
  rungs   -3 -3' -3''
  order   down, up
  phrase  anchor rung
""",
    ),
    "what belongs to a note stands by it": (
        'drill "x"\n play +2 :1/2 x2 -3 ! :1. ~ -3\'  ( -2 -4 ) x2 '
        "| ~-4 triplet ( -2 r:2 ~-2) |-1\n",
        """\
drill "x"
  play  2:1/2x2 -3!:1.~-3' (-2 -4)x2 | ~-4 triplet(-2 r:2~-2) | -1
""",
    ),
    "a repeated role keeps its space": (
        'drill "x"\n rungs -3\n phrase rung  x2 r x2 rung:2 x2 rung!x2\n',
        """\
drill "x"
  rungs   -3
  phrase  rung x2 r x2 rung:2x2 rung!x2
""",
    ),
    "degrees, and a comment behind a raised one": (
        'drill "x"\n tune 1 #4 b3~3 5\u2013 1+ ( 2 )1st( 3 )2nd( 4 )#end\n',
        """\
drill "x"
  tune  1 #4 b3~3 5- 1+ (2) 1st (3) 2nd (4)  #end
""",
    ),
    "comments keep their places": (
        """\


# the file
# goes on


# about A
drill "A" # first
# in A
  play -2
   # still A
# about B
drill "B"
  play -2   # two

  # below B

# the end

""",
        """\
# the file
# goes on

# about A
drill "A"  # first
  # in A
  play  -2
  # still A

# about B
drill "B"
  play  -2  # two

# below B

# the end
""",
    ),
    "as few backslashes as can be": (
        r'drill "a\b \\ \\n \"c\" \\\\"' + "\n  play -2\n",
        r'drill "a\b \ \n \"c\" \\\\"' + "\n  play  -2\n",
    ),
    "lists and plans": (
        'drill "x"\n positions 1 2,3\n play -2\n'
        " embouchure lips  or anchors tongue  left rungs lips\n",
        """\
drill "x"
  positions   1, 2, 3
  play        -2
  embouchure  lips or anchors tongue left, rungs lips
""",
    ),
    "lines of another system": ('drill "x"\r\nplay -2\r\n', 'drill "x"\n  play  -2\n'),
    "a last line without an end": ('drill "x"\nplay -2', 'drill "x"\n  play  -2\n'),
}


@pytest.mark.parametrize(("text", "tidied"), EXACT.values(), ids=EXACT)
def test_a_tidied_pattern_in_full(text: str, tidied: str) -> None:
    assert tidy(text) == tidied


@pytest.mark.parametrize("lone", ["(+1)", "(01)", "( +01 )", "(~+1)", "((+1) -2)x2", "-2 x2 (+1)"])
def test_a_blow_alone_in_brackets_keeps_its_sign(lone: str) -> None:
    """A bare hole in brackets is refused, for some write a draw so."""
    tidied = tidy(f'drill "t"\nplay -2 {lone}')
    assert "(+1)" in tidied.replace("~", "")
    assert tidy(tidied) == tidied


# Mistakes that are found only when drills are put together, or on a harp.
LATER = {
    "bend-too-deep", "no-note-to-bend-to", "bend-of-the-other-reed", "no-overbend",
    "slide-between-reeds", "slide-from-nowhere", "bar-does-not-add-up", "pickup-too-long",
    "too-many-bars", "too-many-notes", "too-many-notes-in-a-file", "nothing-to-play",
    "rungs-without-phrase", "not-two-bars",
    "phrase-without-rungs",
    "two-kinds-of-music", "anchor-not-named", "no-root", "rung-outside-phrase",
    "rung-without-rungs", "no-bends", "bends-above-themselves", "no-reed-for-degree",
    "degree-needs-overbend", "no-slide-between-degrees", "unknown-parent", "circle",
    "one-title-twice", "nothing-to-move", "moved-off-the-harp", "pickup-does-not-add-up",
    "does-not-go-with-from", "moved-to-no-note", "triplet-not-of-threes",
    "no-breath-for-degrees", "nothing-below",
    "scoop-of-overbend", "scoop-of-several", "shake-of-two-holes", "slap-of-chord",
    "slide-after-end", "slide-outlasts-note", "shake-after-lift",
    "nothing-held", "lift-moves-hole", "length-on-lift", "nothing-held-in-tune",
    "octave-without-tune",
}  # fmt: skip


@pytest.mark.parametrize("key", sorted(LATER))
def test_a_drill_that_cannot_be_played_can_be_tidied(key: str) -> None:
    text = MISTAKES[key].broken
    assert what_is_written(tidy(text)) == what_is_written(text)


@pytest.mark.parametrize("key", sorted(set(MISTAKES) - LATER - {"not-utf-8"}))
def test_a_text_that_cannot_be_read_is_not_tidied(key: str) -> None:
    with pytest.raises(PatternError) as caught:
        tidy(MISTAKES[key].broken, "mine.drill")
    assert caught.value.key == key
    assert caught.value.span.file == "mine.drill"
    assert caught.value.source_line == MISTAKES[key].broken.split("\n")[caught.value.span.line - 1]


@pytest.mark.parametrize(
    ("written", "tidied"),
    [
        ("(+3) -2", "(+3) -2"),
        ("-2 (+3)", "-2 (+3)"),
        ("(-2) 1st (+3) 2nd (+4)", "(-2) 1st (3) 2nd (4)"),
        ("(+3) 1st (-2) 2nd (-3)", "(3) 1st (-2) 2nd (-3)"),
        ("triplet(+3)", "triplet(3)"),
        ("(+3)x2", "(3)x2"),
        ("-2 (+3 -4) (-2 +3)", "-2 (3 -4) (-2 3)"),
    ],
)
def test_a_blow_keeps_its_sign_where_brackets_alone_could_mean_a_draw(
    written: str, tidied: str
) -> None:
    """Some read (3) as a draw; an ending, a repeat or a triplet cannot be taken for one."""
    assert tidy(f'drill "x"\n  play {written}\n') == f'drill "x"\n  play  {tidied}\n'
