"""Limits on the markup of one lesson text, so that any text is parsed in a moment.

The rules of CommonMark look ahead: at every bracket for the one that closes it, at every line
for what it might continue.  A text made of nothing else takes the square of its length.  What
starts such a search is counted beforehand; the bounds are many times what a lesson needs, and
a text that reaches them all takes about a tenth of a second.
"""

from __future__ import annotations

import re

from reedmill.base.errors import InputError

MOST_LINES = 1_000  # with something on them
MOST_BRACKETS = 200  # [, which begins a link or the description of a picture
MOST_SIGNS = 2_000  # of the other signs that begin something

_BOUNDS = (
    (
        re.compile(r"\["), MOST_BRACKETS, "opening square brackets",
        "Leave out links, or write round brackets for what is not a link.",
    ),
    (
        re.compile(r"[]*_`<>&\\!]"), MOST_SIGNS,
        "signs of markup: * _ ` < > & ! ] and the backslash",
        "Write it plainer.",
    ),
    (
        re.compile(r"^[^\n]*\S", re.MULTILINE), MOST_LINES, "lines with something on them",
        "Join lines that belong together.",
    ),
)  # fmt: skip


def check_markup(text: str, name: str) -> None:
    """Refuse a *text* with more markup than a lesson has; *name* is for messages.

    ``InputError`` with the line on which it is too much.
    """
    for sign, most, what, instead in _BOUNDS:
        for count, found in enumerate(sign.finditer(text)):
            if count == most:
                line = text.count("\n", 0, found.start()) + 1
                raise InputError(
                    f"{name} has more than {most:,} {what}; line {line} holds one too many. "
                    f"{instead} Or spread the text over several lessons."
                )
