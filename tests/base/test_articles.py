"""The article before a word goes by its sound.

Outside facts: the names of the letters and numbers as they are said in English (Cambridge
Advanced Learner's Dictionary: "A/an and the"): an F, an S, an 8, an 11, an 18, but a U, a one.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import reedmill
from reedmill.base.articles import with_article
from reedmill.base.errors import InputError
from reedmill.base.text import printable
from reedmill.harp import HARP_KEYS, RICHTER, Harp, Reed
from reedmill.practice.practice import Practice
from together import together


@pytest.mark.parametrize("register", ["", "low ", "high "])
def test_every_harp_has_the_article_that_is_said(register: str) -> None:
    for key in HARP_KEYS:
        name = f"{register}{key}"
        article = "an" if not register and key[0] in "AEF" else "a"
        assert with_article(f"{name} harp") == f"{article} {name} harp"
        flat = name.replace("b", " flat")
        assert Harp.parse(name).spoken == f"{article} {flat} harp"


@together(("words", "article"), [
    ("octave", "an"), ("unison", "a"), ("echo", "an"), ("alteration", "an"), ("offset", "an"),
    ("repeat", "a"), ("usual reed", "a"), ("equal harp", "an"), ("one", "a"), ("once", "a"),
    ("unusual reed", "an"), ("unimportant note", "an"), ("European harp", "a"),
    ("SVG", "an"), ("PDF", "a"), ("PNG", "a"), ("MP3", "an"), ("MIDI file", "a"), ("FLAC", "a"),
    ("8th", "an"), ("80th", "an"), ("800th", "an"), ("11th", "an"), ("18th", "an"), ("1st", "a"),
    ("110th", "a"), ("180th", "a"), ("11000th", "an"), ("256th", "a"), ("A", "an"), ("B", "a"),
    ("Eb", "an"), ("F#", "an"), ("G major", "a"), ("U", "a"),
])  # fmt: skip
def test_an_article_goes_by_the_sound(words: str, article: str) -> None:
    assert with_article(words) == f"{article} {words}"


def test_messages_have_the_article_that_is_said() -> None:
    with pytest.raises(InputError, match=r"^an echo of 999 bars cannot be played"):
        Practice(echo_bars=999)
    with pytest.raises(InputError, match=r"^a repeat of 999 times cannot be played"):
        Practice(repeats=999)
    fact, _ = Harp("F#").refusal(Reed.parse("-5'")) or ("", "")
    assert "does not bend a semitone on a Richter harp" in fact
    even = replace(RICHTER, name=printable("even"))
    fact, remedy = Harp("Eb", layout=even).refusal(Reed.parse("-5'")) or ("", "")
    assert "does not bend a semitone on an even harp" in fact
    assert "on an Eb even harp" in remedy


def test_an_article_is_chosen_in_one_place() -> None:
    """Who writes "a {harp}" or asks for a first letter gets it wrong for an A or an SVG."""
    sources = Path(reedmill.__file__).parent.rglob("*.py")
    by_hand = re.compile(
        r"""["']an?["'] if|\ba \{(?:[\w.]*\.)?(?:label|harp|key|words|ending|what)\b"""
    )
    found = [f"{path.name}: {hit}" for path in sources if path.name != "articles.py"
             for hit in by_hand.findall(path.read_text("utf-8"))]  # fmt: skip
    assert found == []
