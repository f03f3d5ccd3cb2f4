"""A Score as an HTML page for screen readers: the sheet in text, from top to bottom.

LilyPond 2.24 cannot tag its PDF (ISO 14289-1), so a screen reader finds no order and no headings
in a sheet.  This page has what the sheet has, bar by bar in a table with headings (WCAG 2.1,
1.3.1): tab with lengths as a drill writes them, note names and degrees, chords where a band
plays.  It has no script, no picture and no address, and needs nothing from anywhere.

A screen reader leaves out what it takes for punctuation, the ticks of a bend among it, and some
know no flat.  So where there are signs each text is there twice: once to be seen, and in words.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from reedmill.base.text import printable
from reedmill.formats.text_tab import (
    LEGEND,
    Bar,
    band_said,
    bar_in_words,
    bar_said,
    chords_said,
    said_over,
    tempo_said,
    tuning,
)
from reedmill.score.notation import bars
from reedmill.score.score import Note, Score, SoundingReed
from reedmill.score.sign_key import explained_signs
from reedmill.theory.degrees import with_real_signs
from reedmill.theory.pitch import signs_in_words, with_signs

_STYLE = (
    ":root{color-scheme:light dark}body{font:1.1rem/1.5 sans-serif;max-width:50rem;"
    "margin:1rem auto;padding:0 1rem}table{border-collapse:collapse;width:100%}"
    "th,td{border-bottom:1px solid;padding:.3rem .6rem;text-align:left;vertical-align:top}"
    "dt{font-weight:bold}dd{margin:0 0 .4rem}.said{position:absolute;width:1px;height:1px;"
    "overflow:hidden;clip-path:inset(50%);white-space:nowrap;user-select:none}"
)


def html_bytes(score: Score) -> bytes:
    """Return *score* as an HTML page in UTF-8: equal scores give equal bytes.

    Every text is made printable and stands in text nodes only, where ElementTree escapes it.
    """
    root = ET.Element("html", lang="en")
    _head(root, score)
    body = ET.SubElement(root, "body")
    main = ET.SubElement(body, "main")
    _sub(main, "h1", score.title, dir="auto")
    if score.about:
        _sub(main, "p", score.about, dir="auto")
    _facts(main, score)
    _bars(main, score)
    _list(main, "By bar and beat", said_over(score))
    _where(main, score.notes)
    if score.listen:
        _sub(main, "h2", "Listen for")
        _sub(main, "p", score.listen, dir="auto")
    _signs(main, score)
    ET.indent(root, "")
    text: str = ET.tostring(root, "unicode", method="html")
    return f"<!DOCTYPE html>\n{text}\n".encode()


def _sub(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    child = ET.SubElement(parent, tag, attributes)
    child.text = printable(text)
    return child


def _told(parent: ET.Element, tag: str, text: str, said: str, **attributes: str) -> None:
    """Add *text* for those who see it and *said* for those who hear it, once where they agree."""
    if text == said:
        _sub(parent, tag, text, **attributes)
        return
    child = ET.SubElement(parent, tag, attributes)
    ET.SubElement(child, "span", {"aria-hidden": "true"}).text = printable(text)
    ET.SubElement(child, "span", {"class": "said"}).text = printable(said)


def _head(root: ET.Element, score: Score) -> None:
    head = ET.SubElement(root, "head")
    ET.SubElement(head, "meta", charset="utf-8")
    ET.SubElement(head, "meta", name="viewport", content="width=device-width, initial-scale=1")
    policy = "default-src 'none'; style-src 'unsafe-inline'"
    ET.SubElement(head, "meta", {"http-equiv": "Content-Security-Policy", "content": policy})
    _sub(head, "title", score.title)
    _sub(head, "style", _STYLE)


def _facts(main: ET.Element, score: Score) -> None:
    key, _, mode = score.key_words.partition(" ")
    rows = {
        "Harp": with_signs(score.harp.label),
        "Position": score.position.label,
        "Key of the music": f"{with_signs(key)} {mode}".rstrip(),
        "Meter": score.meter.name,
        "Tempo": tempo_said(score).removeprefix("tempo "),
        "Tuning": ", ".join(tuning(score)),
        "Over": band_said(score),
    }
    facts = ET.SubElement(main, "dl")
    for name, value in rows.items():
        if value:
            _sub(facts, "dt", name)
            _told(facts, "dd", value, signs_in_words(value), dir="auto")


def _bars(main: ET.Element, score: Score) -> None:
    _sub(main, "h2", "Bar by bar")
    table = ET.SubElement(main, "table")
    heads = ["Bar", *(["Chords"] if score.band else []), "Tab", "Notes", "Degrees"]
    row = ET.SubElement(ET.SubElement(table, "thead"), "tr")
    for head in heads:
        _sub(row, "th", head, scope="col")
    rows = ET.SubElement(table, "tbody")
    names = {int(start // score.meter.beats): name for start, name in score.sections}
    for number, bar in enumerate(bars(score)):
        if number in names:
            rows = rows if number == 0 else ET.SubElement(table, "tbody")
            line = ET.SubElement(rows, "tr")
            _sub(line, "th", names[number], scope="rowgroup", colspan=str(len(heads)), dir="auto")
        _bar(ET.SubElement(rows, "tr"), number, bar, score)


def _bar(row: ET.Element, number: int, bar: Bar, score: Score) -> None:
    _sub(row, "th", str(number if score.pickup else number + 1), scope="row")
    if score.band:
        chords = with_real_signs(chords_said(score, number))
        _told(row, "td", chords, ", ".join(map(signs_in_words, chords.split())))
    played = [each.note for each in bar if each.note and not each.tied_on]
    _told(row, "td", bar_said(score, bar), bar_in_words(score, bar))
    for name in (_pitch, _degree):
        both = [[name(each) for each in note.sounded] for note in played]
        shown = " ".join("&".join(each.shown for each in names) for names in both)
        said = ", ".join(" and ".join(each.said for each in names) for names in both)
        _told(row, "td", shown, said)


@dataclass(frozen=True, slots=True)
class _Name:
    """A note or degree as it is seen and as it is heard."""

    shown: str
    said: str


def _pitch(sounding: SoundingReed) -> _Name:
    pitch = sounding.pitch
    return _named(pitch.letter + with_real_signs(pitch.note[1:]) + str(pitch.octave))


def _degree(sounding: SoundingReed) -> _Name:
    return _named(sounding.degree.printed)


def _named(shown: str) -> _Name:
    plain = signs_in_words(shown.replace("q", ""))
    return _Name(shown, f"{plain} lowered a quarter tone" if "q" in shown else plain)


def _where(main: ET.Element, notes: Iterable[Note]) -> None:
    """List tab, note and degree of each reed that is played, lowest hole first."""
    found = {each.reed: each for note in notes for each in note.sounded}
    ordered = sorted(found.values(), key=lambda each: (each.reed.hole, each.pitch.midi))
    words = {}
    for each in ordered:
        pitch, degree = _pitch(each), _degree(each)
        shown = f"{each.reed.tab}: {pitch.shown}, degree {degree.shown}"
        words[shown] = f"{each.reed.words}: {pitch.said}, degree {degree.said}"
    _list(main, "Where the notes are", words, words.__getitem__)


def _signs(main: ET.Element, score: Score) -> None:
    """List what the signs of the tab mean."""
    told = {row: _sign_said(row) for line in LEGEND.split("\n") for row in line.split("   ")}
    for each in explained_signs(score):
        told[f"{each.written} {each.meaning}"] = f"{_written_said(each.written)}: {each.meaning}"
    _list(main, "Signs", told, told.__getitem__)


def _written_said(tab: str) -> str:
    """Return tab as its letters and signs are said: ``minus 2 and 3``, ``vibrato 4``."""
    named = {"-": "minus ", "&": " and ", "'": " apostrophe", "^": " caret", "~": "tilde ",
             ":": "colon ", "q": " q"}  # fmt: skip
    said = tab if tab.isalpha() else re.sub(r"[-&'^~:]|(?<=[\d'])q", lambda it: named[it[0]], tab)
    return re.sub(r"(?<=[a-z])(?=\d)", " ", said)


_SIGN_NAMES = {"'": "apostrophe", "^": "caret", "!": "exclamation mark", "~": "tilde",
               ",out": "comma, out", ",in": "comma, in"}  # fmt: skip


def _sign_said(row: str) -> str:
    """Return a row of the legend with its sign in words."""
    sign, _, meaning = row.partition(" ")
    said = _SIGN_NAMES.get(sign)
    if said is None:
        return re.sub(r"(?<!\w)-(?=\d)", "minus ", row).replace(":", " colon ")
    return f"{said}: {meaning}"


def _list(
    main: ET.Element, name: str, rows: Iterable[str], said: Callable[[str], str] = signs_in_words
) -> None:
    given = list(rows)
    if not given:
        return
    _sub(main, "h2", name)
    inside = ET.SubElement(main, "ul")
    for row in given:
        _told(inside, "li", row, said(row))
