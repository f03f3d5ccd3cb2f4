"""Courses with a few signs changed, as a slip of the hand or a stranger would change them."""

from __future__ import annotations

import random
from pathlib import Path

COURSES = Path(__file__).resolve().parents[1] / "courses"

# Signs and words that mean something in TOML, so that a change reaches its rules.
PIECES = (
    '"', "'", '"""', "'''", "[", "]", "[[", "]]", "{", "}", "=", ".", ",", "#", "\n", "\r\n", "\r",
    "\t", " ", "\\", "\\u12", "\\uD800", "\\n", "\x07", "\x7f", "\u201c", "a", "0", "01", "1_0",
    "1__0", "0x", "0xF", "1e", "1.5", "+inf", "nan", "true", "1979-05-27", "2026-02-30", "07:32:00",
    "a = 1\n", "a.b = 1\n", "[a]\n", "[[a]]\n", "[a.b]\n", "x = {a = 1, b.c = 2}\n", "x.a = 1\n",
    "[defaults]\n", "[[lessons]]\n", "[lessons.exercises]\n", "[page]\n",
    "title = 1\n", "y = [1, 2,]\n",
)  # fmt: skip


def sources() -> list[str]:
    """The shipped courses, and a short one in which a change seldom misses."""
    short = (
        'title = "x" # y\nharps = ["C", "A"]\n[page]\npaper.size = "a4"\n[[lessons]]\n'
        "text = '''a\nb'''\n[lessons.page]\nx = { a = 1, b = [ 2, { c = 3 } ] }\n[[lessons]]\n"
        "day = 2026-05-01 07:32:00Z\n"
    )
    return [short, short, *(path.read_text("utf-8") for path in sorted(COURSES.glob("*.toml")))]


def mutant(rng: random.Random, texts: list[str]) -> str:
    """One of *texts* with one to three places cut, doubled or filled with something else."""
    text = rng.choice(texts)
    for _ in range(rng.randint(1, 3)):
        at = rng.randrange(len(text) + 1)
        end = min(len(text), at + rng.choice((0, 0, 1, 1, 2, 5, 30)))
        piece = rng.choice((rng.choice(PIECES), "", text[at:end] * 2))
        text = text[:at] + piece + text[end:]
    return text
