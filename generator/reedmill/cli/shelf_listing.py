"""The shipped forms and feels to read in a terminal of eighty columns: titles, or all of them."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from reedmill.base.text import columns
from reedmill.cli.saying import columns_shown, say, say_heading

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reedmill.band.shelf import FeelData, FormData, ShelfData

_GROUP = 9  # columns of what a row of titles has in common
_PHRASE = 4  # bars, counted together
_LINE = 8  # bars: two phrases, the most that fit where every bar has another chord
_ONE_LINE = 12  # bars that fit beside one another where most of them are repeated


def show_shelf_titles(shelf: ShelfData) -> None:
    """Print the titles of *shelf* alone, on one screen: forms by bars, feels by meter."""
    say_heading("Forms")
    for bars, forms in groupby(shelf["forms"], key=lambda form: form["bars"]):
        _print_titles(f"{bars} bars", [form["title"] for form in forms])
    say_heading("Feels")
    by_meter = groupby(sorted(shelf["feels"], key=_meter), key=_meter)
    for (_, meter), feels in by_meter:
        _print_titles(meter, [feel["title"] for feel in feels])
    say(
        "What each is for, its chords and tempos:  reedmill backing --list",
        'Hear one:  reedmill backing --form "Twelve bars" --feel "Slow shuffle" --harp A',
    )


def _print_titles(name: str, titles: Sequence[str]) -> None:
    """Print *titles* in lines that break between two of them; a title may hold a comma."""
    *most, last = titles
    line = f"  {name:<{_GROUP}}"
    for piece in (*(f"{title};" for title in most), last):
        if columns(f"{line}{piece}") > columns_shown():
            say(line.rstrip())
            line = " " * (2 + _GROUP)
        line += f"{piece} "
    say(line.rstrip())


def show_shelf_list(shelf: ShelfData) -> None:
    """Print *shelf*: forms by their length, feels by their meter and swing."""
    for bars, forms in groupby(shelf["forms"], key=lambda form: form["bars"]):
        say_heading(f"Forms of {bars} bars")
        for form in forms:
            say(f"  {form['title']}", *(f"    {line}" for line in _about_form(form)))
    for kind, feels in groupby(sorted(shelf["feels"], key=_kind), key=_kind):
        say_heading(f"Feels in {_kind_words(*kind)}")
        for feel in feels:
            goal = f" to {feel['tempo_goal']}" if feel["tempo_goal"] else ""
            say(f"  {feel['title']} ({feel['tempo']}{goal})", f"    {feel['about']}")


def _about_form(form: FormData) -> Iterator[str]:
    yield form["about"]
    yield from chord_lines(form["chords"])
    named = {word: form[word] for word in ("turnaround", "ending", "stops", "breaks")}
    if form["positions"]:
        named["positions"] = ", ".join(map(str, form["positions"]))
    for word, said in named.items():
        if said:
            yield f"{word:<12}{said}"


def chord_lines(chords: str) -> Iterator[str]:
    """Yield the bars of *chords* in lines, equal ones of a phrase together as a form writes them.

    >>> list(chord_lines("I7 | I7 | I7 V7 | I7 | I7 | V7"))
    ['I7 x2 | I7 V7 | I7 | I7 | V7']
    """
    bars = chords.split(" | ")
    line = len(bars) if len(bars) <= _ONE_LINE else _LINE
    for first in range(0, len(bars), line):
        phrases = range(first, min(first + line, len(bars)), _PHRASE)
        yield " | ".join(_together(bars[at : at + _PHRASE]) for at in phrases)


def _together(bars: list[str]) -> str:
    runs = [(bar, len(list(run))) for bar, run in groupby(bars)]
    return " | ".join(bar + (f" x{times}" if times > 1 else "") for bar, times in runs)


def _meter(feel: FeelData) -> tuple[bool, str]:
    """Return the meter of a feel, in the order of the list: fours before threes."""
    beats = int(feel["meter"].partition("/")[0])
    return beats % 3 == 0, feel["meter"]


def _kind(feel: FeelData) -> tuple[bool, str, bool]:
    """Return the kind of a feel, in the order of the list."""
    return *_meter(feel), feel["swing"] != "1"


def _kind_words(_threes: bool, meter: str, swung: bool) -> str:
    return f"{meter}, swung" if swung else meter
