"""Places in TOML text, held against tomllib: what stands at a place is what tomllib read."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedmill.base.source import Span
from reedmill.base.toml_places import Places, TablePath

DEEPEST = 8  # a curriculum goes no deeper, and places are kept no deeper


def slice_at(text: str, span: Span) -> str:
    """What stands from *span* on, to the end of the text."""
    lines = text.split("\n")
    return "\n".join([lines[span.line - 1][span.column - 1 :], *lines[span.line :]])


def first_line_at(text: str, span: Span) -> str:
    return slice_at(text, span)[: span.width]


def leaves(value: object, path: TablePath = ()) -> list[tuple[TablePath, object]]:
    """Every value of what tomllib read that holds no others, with its path."""
    if isinstance(value, dict) and value:
        return [leaf for key, inner in value.items() for leaf in leaves(inner, (*path, key))]
    if isinstance(value, list) and value:
        return [leaf for at, inner in enumerate(value) for leaf in leaves(inner, (*path, at))]
    return [(path, value)]


def begins_with_value(rest: str, value: object) -> bool:
    """True when some beginning of *rest* reads, by tomllib, as *value*."""
    for end in range(1, len(rest) + 1):
        try:
            read = tomllib.loads(f"it = {rest[:end]}\n")
        except tomllib.TOMLDecodeError:
            continue
        if list(read) == ["it"] and same(read["it"], value):
            return True
    return False


def same(one: object, two: object) -> bool:
    return type(one) is type(two) and (one == two or str(one) == str(two))  # nan is like nan


def check(text: str) -> Places:
    """Everything that tomllib finds in *text* is where the places say."""
    places = Places(text, "a.toml")
    for path, value in leaves(tomllib.loads(text)):
        if 0 < len(path) <= DEEPEST:
            check_value(text, places, path, value)
        for end in range(1, min(len(path), DEEPEST) + 1):
            if isinstance(path[end - 1], str):
                check_key(text, places, path[:end])
    return places


def check_value(text: str, places: Places, path: TablePath, value: object) -> None:
    span = places.values[path]
    header = first_line_at(text, span)
    if value == {} and header.startswith("["):  # an empty table stands at its header
        assert names_in(tomllib.loads(header))[-1] == last_name(path)
    else:
        assert begins_with_value(slice_at(text, span), value), path


def check_key(text: str, places: Places, path: TablePath) -> None:
    written = first_line_at(text, places.keys[path])
    if written.startswith("["):
        assert path[-1] in names_in(tomllib.loads(written))
    else:
        assert list(tomllib.loads(f"{written} = 1")) == [path[-1]]


def last_name(path: TablePath) -> str:
    return next(each for each in reversed(path) if isinstance(each, str))


def names_in(header: object) -> list[str]:
    """The names of a header that stands alone, such as ``[[a.b]]``, in order."""
    names = []
    while header:
        if isinstance(header, list):
            header = header[0]
            continue
        assert isinstance(header, dict)
        [(name, header)] = header.items()
        names.append(name)
    return names


# --- by hand ----------------------------------------------------------------------------

COURSE = '''\
# a comment with = [ and "
title = "Home" # and another
page.paper = 'a4'
"about" = """
Two lines, a "quote",
and """" # the end of it

[defaults]
harps = [ "F", # high
  "C", ["A"],
]
backing = {form = "x", feel = { "a b" = 1, c.d = [ {e=1}, {e = 2} ] } }

[[lessons]]
title = "One"
  [[lessons.exercises]]
  drill = "A"
  [[lessons.exercises]]
  drill   =   "B"

[[lessons]]
tempo=60
[lessons.sound]
click = true
[[lessons.exercises]]
drill = 1979-05-27 07:32:00
'''

WHERE: dict[TablePath, tuple[str, str]] = {
    ("title",): ("a.toml:2:9", '"Home"'),
    ("page", "paper"): ("a.toml:3:14", "'a4'"),
    ("about",): ("a.toml:4:11", '"""'),
    ("defaults",): ("a.toml:8:1", "[defaults]"),
    ("defaults", "harps"): ("a.toml:9:9", '[ "F", # high'),
    ("defaults", "harps", 0): ("a.toml:9:11", '"F"'),
    ("defaults", "harps", 1): ("a.toml:10:3", '"C"'),
    ("defaults", "harps", 2, 0): ("a.toml:10:9", '"A"'),
    ("defaults", "backing", "form"): ("a.toml:12:19", '"x"'),
    ("defaults", "backing", "feel", "a b"): ("a.toml:12:41", "1"),
    ("defaults", "backing", "feel", "c", "d", 1, "e"): ("a.toml:12:64", "2"),
    ("lessons",): ("a.toml:14:1", "[[lessons]]"),
    ("lessons", 0, "title"): ("a.toml:15:9", '"One"'),
    ("lessons", 0, "exercises", 1): ("a.toml:18:3", "[[lessons.exercises]]"),
    ("lessons", 0, "exercises", 1, "drill"): ("a.toml:19:15", '"B"'),
    ("lessons", 1): ("a.toml:21:1", "[[lessons]]"),
    ("lessons", 1, "tempo"): ("a.toml:22:7", "60"),
    ("lessons", 1, "sound", "click"): ("a.toml:24:9", "true"),
    ("lessons", 1, "exercises", 0, "drill"): ("a.toml:26:9", "1979-05-27 07:32:00"),
}


@pytest.mark.parametrize("path", WHERE, ids=lambda path: ".".join(map(str, path)))
def test_where_a_value_stands(path: TablePath) -> None:
    span = check(COURSE).value(path)
    assert (span.place, first_line_at(COURSE, span)) == WHERE[path]


def test_where_a_key_stands() -> None:
    places = check(COURSE)
    keys: dict[TablePath, str] = {
        ("page",): "page",
        ("about",): '"about"',
        ("defaults", "backing", "feel", "a b"): '"a b"',
        ("lessons", 0, "exercises", 1, "drill"): "drill",
    }
    assert {path: first_line_at(COURSE, places.key(path)) for path in keys} == keys


def test_what_is_missing_is_shown_at_the_table_it_is_missing_from() -> None:
    places = check(COURSE)
    assert places.value(("lessons", 1, "title")).place == "a.toml:21:1"
    assert places.key(("lessons", 0, "exercises", 1, "harps", 3)).place == "a.toml:18:3"
    assert places.value(("author",)).place == "a.toml:1:1"


TEXTS = {
    "nothing": "",
    "a comment": "# title = 1",
    "no line end": "a = 1",
    "a quote in a key": '"a\\"b" = 1\n\'c"d\' = 2',
    "a key with an escape": '"\\u0041" = 1',
    "an empty key": "\"\" = 1\na.'' = 2",
    "an empty table and list": "[a]\n[b]\nc = []\nd = {}\n",
    "strings that end in quotes": 'a = """x"""""\nb = \'\'\'y\'\'\'\'\'\nc = """"""\nd = 1',
    "escapes before a quote": 'a = "\\\\"\nb = "\\""\nc = """\\""""\nd = 1',
    "signs inside strings": "a = '#[]{}=,'\nb = \"#[]{}=,\" # c = 3\nd = 1",
    "a list over lines": "a = [ # one\n 1 , # two\n\n 2\n , ]\nb = 1",
    "numbers": "a = [1_000, -0, 1e6, +inf, nan, 0.1e-2]\nb = 1",
    "times": "a = [1979-05-27, 07:32:00, 1979-05-27T07:32:00Z]\nb = 1",
    "dots with space": "a . b . c = 1\n[ d . e ]\nf = 2\n[[ g . h ]]\ni = 3",
    "lists in lists of tables": "[[a]]\n[[a.b]]\n[[a.b.c]]\nd=1\n[[a.b]]\n[[a.b.c]]\nd=2\n[[a]]\n"
    "[[a.b]]\n[a.b.c]\nd=3",
    "a table after what is in it": "[a.b]\nc = 1\n[a]\nd = 2",
    "wide and combining signs": 'a = "\u7df4\u7fd2" # x\n"b\u0301" = "c"\n',
    "odd blanks": "\n\n \t a\t=\t1 \t# x\n\t[b]\t\n\tc = 1",
}


@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_what_stands_at_a_place_is_what_tomllib_read(text: str) -> None:
    check(text)


# --- any text ---------------------------------------------------------------------------

words = st.text("ab-\"'.#[]{}=, \t\\\u7df4", max_size=6)
blanks = st.sampled_from(["", " ", "  ", "\t"])
breaks = st.sampled_from(["", " ", "\n", " # c ] , }\n", "\n\n  "])


def basic(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\t", "\\t") + '"'


@st.composite
def strings(draw: st.DrawFn) -> str:
    text = draw(words)
    styles = [basic(text), f'"""\n{text}\\\\"""'.replace("\\\\", "")]
    if "'" not in text:
        styles += [f"'{text}'", f"'''{text}\n'''"]
    if "\\" in text or '""' in text or text.endswith('"'):
        del styles[1]
    return draw(st.sampled_from(styles))


@st.composite
def keys(draw: st.DrawFn) -> str:
    name = draw(st.sampled_from(["a", "b-1", "C_", "2", "a b", 'q"', "x.y", "#"]))
    return name if name.replace("-", "").replace("_", "").isalnum() else basic(name)


scalars = st.one_of(
    strings(),
    st.sampled_from(["1", "-2", "0x1F", "1_0", "1.5", "1e6", "true", "false", "inf"]),
    st.sampled_from(["1979-05-27", "07:32:00", "1979-05-27 07:32:00", "1979-05-27T07:32:00Z"]),
)


@st.composite
def values(draw: st.DrawFn, depth: int = 2) -> str:
    kind = draw(st.sampled_from(["scalar", "list", "table"])) if depth else "scalar"
    if kind == "list":
        inner = draw(st.lists(values(depth - 1), max_size=3))
        body = ",".join(f"{draw(breaks)}{each}{draw(breaks)}" for each in inner)
        return f"[{body}{draw(st.sampled_from(['', ','])) if inner else ''}{draw(breaks)}]"
    if kind == "table":
        names = draw(st.lists(keys(), max_size=3, unique=True))
        pairs = [f"{draw(blanks)}{n}{draw(blanks)}={draw(values(depth - 1))}" for n in names]
        return "{" + f"{draw(blanks)},".join(pairs) + "}"
    return draw(scalars)


@st.composite
def lines(draw: st.DrawFn) -> str:
    kind = draw(st.sampled_from(["pair", "pair", "pair", "table", "list", "comment"]))
    if kind == "comment":
        return draw(st.sampled_from(["", "# a = 1", "   # [b]"]))
    dotted = f"{draw(blanks)}.{draw(blanks)}".join(draw(st.lists(keys(), min_size=1, max_size=3)))
    if kind == "table":
        return f"{draw(blanks)}[{draw(blanks)}{dotted}{draw(blanks)}]"
    if kind == "list":
        return f"[[{dotted}]]{draw(blanks)}# x"
    return f"{draw(blanks)}{dotted}{draw(blanks)}={draw(blanks)}{draw(values())}{draw(blanks)}"


def readable(parts: list[str]) -> str:
    """As many of the lines as tomllib reads together, leaving out those it does not."""
    text = ""
    for part in parts:
        try:
            tomllib.loads(text + part + "\n")
        except tomllib.TOMLDecodeError:
            continue
        text += part + "\n"
    return text


@settings(max_examples=300, deadline=None)
@given(st.lists(lines(), max_size=10))
def test_every_value_of_any_text_stands_at_its_place(parts: list[str]) -> None:
    check(readable(parts))


def test_a_deep_text_is_scanned_no_deeper_than_a_curriculum_goes() -> None:
    text = ".".join("a" * 30) + " = [[[[[[[[[[1]]]]]]]]]]"
    places = Places(text, "a.toml")
    assert max(map(len, places.values | places.keys)) == DEEPEST
    deep: Any = ("a",) * 20
    assert places.value(deep).line == 1
