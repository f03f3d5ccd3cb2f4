"""The pages of a recording of questions about rungs: boxes to tick, and the answers.

Every question has a row with its number and when it comes; where too many rungs are asked about
for boxes of their own there is one to write in.  Rows are as high as the page has room for, so
that a dozen fill it, and flow on to more pages.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from reedmill.score.how_tuned import unusual_tuning
from reedmill.score.rung_questions import (
    CLICKS,
    RungAnswer,
    RungQuestion,
    RungQuestions,
    drill_number,
    questions_title,
)
from reedmill.score.score import SoundingReed
from reedmill.sheet.blocks import (
    LISTENING_CAUTION,
    foot_of,
    played_on,
    running_head_of,
    titled,
)
from reedmill.sheet.frame import block
from reedmill.sheet.heads import (
    NAME_LINE,
    HeadFact,
    facts_markup,
    foot_height,
    harp_facts,
    name_line,
    titled_height,
)
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    INK,
    LINE,
    accidental,
    at,
    box,
    coloured,
    lilypond_string,
    overlay,
    resized,
    rule,
    small,
)
from reedmill.sheet.page import edges

_MOST_TICKED = 8  # rungs that have boxes of their own
# Staff spaces: the columns of numbers and times, rows, and what lies around the table.
_NUMBER, _TIME, _WIDEST = 8.4, 9.0, 16.0
_LOWEST_ROW, _HIGHEST_ROW, _HEADING = 5.2, 8.4, 6.0
_FACTS, _APART, _RUNNING_HEAD, _SLACK = 9.8, 4.0, 7.0, 3.0
_SMALLER = 1.5  # steps by which names are smaller for each hole of a breath beyond two
_TICKS_APART = 0.18  # more than the letter leaves: two and three are two rungs
_BOX, _WRITTEN = 3.2, 24.0  # the side of a box, and the width of one to write in


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of the table: where it begins, what stands over it and in each of its rows."""

    x: float
    heading: str
    cell: Callable[[RungQuestion], str]


def question_parts(asked: RungQuestions, look: Look) -> list[str]:
    """Return LilyPond input for the pages to tick on, then for those of the answers.

    Each is the inside of a book, or of a part of one.
    """
    score = asked.drill
    number = drill_number(score)
    to_tick = _Pages(
        asked, look, questions_title(score), _instruction(asked), tuple(_boxes(asked, look)),
        named=True,
    )  # fmt: skip
    told = _Pages(
        asked, look, f"Answers to {number}", f"Which rung was it, in {score.title}",
        tuple(_told(look)),
    )  # fmt: skip
    return [to_tick.source(), told.source()]


def _instruction(asked: RungQuestions) -> str:
    what = "the anchor" if asked.drill.anchor_holes else "a note to measure by"
    many = {2: "Two"}.get(CLICKS, str(CLICKS))
    words = f"{many} clicks, then {what}, {asked.given.words}, then a rung. Which one was it?"
    if asked.asking.told:
        words += (
            f" After {asked.asking.pause_s} seconds the rungs come, from the highest down to the "
            "one that it was."
        )
    return words


# --- columns ------------------------------------------------------------------------------


def _numbers(look: Look) -> Iterator[_Column]:
    yield _Column(0.0, small("question"), lambda asked: _text(str(asked.number)))
    at_x = _NUMBER * look.grown(-3)
    yield _Column(at_x, small("at"), lambda asked: small(_clock(int(asked.start_s))))


def _left(look: Look) -> float:
    """Return where the columns after the numbers and times begin."""
    return (_NUMBER + _TIME) * look.grown(-3)


def _boxes(asked: RungQuestions, look: Look) -> Iterator[_Column]:
    """Yield a column of boxes for each rung, or one to write in."""
    yield from _numbers(look)
    left = _left(look)
    if len(asked.answers) > _MOST_TICKED:
        frame = coloured(LINE, box(0, -1.1, _WRITTEN, 4.2, filled=False, line=0.12))
        yield _Column(left, small("the rung, as tab"), lambda _: frame)
        return
    step = min(_WIDEST, (look.width - left) / len(asked.answers))
    square = coloured(LINE, box(0, -0.6, _BOX, _BOX, filled=False, line=0.14))
    for place, answer in enumerate(asked.answers):
        yield _Column(left + place * step, _heading(answer), lambda _: square)


def _heading(answer: RungAnswer) -> str:
    """Return the tab of a rung, its ticks well apart."""
    parts = [part for part in re.split("(?=')", answer.tab) if part]
    apart = f" \\hspace #{_TICKS_APART:g} ".join(map(lilypond_string, parts))
    larger = resized(1, f"\\concat {{ {apart} }}")
    return coloured(ACCENT, f"\\sans \\bold {larger}")


def _told(look: Look) -> Iterator[_Column]:
    """Yield what each question asked for."""
    yield from _numbers(look)
    left = _left(look)
    room = look.width - left
    columns = (
        (0.0, "the rung", lambda asked: _heading(asked.answer)),
        (0.26, "note", lambda asked: _names([each.pitch.name for each in _first(asked)])),
        (0.46, "degree", lambda asked: _names([each.degree.name for each in _first(asked)])),
        (0.62, "from the natural note", lambda asked: _text(from_natural(asked.answer))),
    )
    for share, heading, cell in columns:
        yield _Column(left + share * room, small(heading), cell)


def from_natural(answer: RungAnswer) -> str:
    """Return in words how far a rung is from the natural note of its reed: ``100 cents below``."""
    cents = round(answer.cents_from_natural)
    if not cents:
        return "the natural note"
    return f"{abs(cents)} cents {'below' if cents < 0 else 'above'}"


def _clock(seconds: int) -> str:
    """Return a place in a recording as players show it.

    >>> _clock(75)
    '1:15'
    """
    return f"{seconds // 60}:{seconds % 60:02d}"


def _text(words: str) -> str:
    return coloured(INK, f"\\sans {resized(0.5, lilypond_string(words))}")


def _first(asked: RungQuestion) -> tuple[SoundingReed, ...]:
    """Return what sounds in a question; of rungs that sound alike, in the first."""
    return asked.answer.rungs[0].sounding


def _names(names: Sequence[str]) -> str:
    """Return the *names* of all holes of a breath, as tab has them."""
    apart = f" {lilypond_string('&')} ".join(map(accidental, names))
    steps = 0.5 - _SMALLER * max(0, len(names) - 2)
    together = resized(steps, f"\\concat {{ {apart} }}")
    return coloured(INK, f"\\sans {together}")


# --- pages --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Pages:
    """The pages of one table."""

    asked: RungQuestions
    look: Look
    title: str
    about: str
    columns: Sequence[_Column]
    named: bool = False  # with a line for the student's name

    def source(self) -> str:
        """Return LilyPond input for the pages, as the inside of a book's part."""
        score, width = self.asked.drill, self.look.width
        name = f"{self.title} · {played_on(score)}"
        first, *later = self._tables()
        return "\n".join(
            [
                edges(
                    running_head_of(name, width),
                    foot_of(" · ".join([name, *self._settings()]), width, LISTENING_CAUTION),
                ),
                block(3.4, *titled(self.title, self.about, width), "\\vspace #0.3", self._facts()),
                *([block(2.6, *name_line(self.look.width))] if self.named else []),
                first,
                *(f"\\pageBreak\n{each}" for each in later),
            ]
        )

    def _settings(self) -> list[str]:
        """Return what tells a recording from others about the same drill and harp."""
        asking = self.asked.asking
        return [f"seed {asking.seed}", *unusual_tuning(self.asked.drill)]

    def _facts(self) -> str:
        return facts_markup(list(_facts(self.asked)), self.look.width)

    def _tables(self) -> list[str]:
        """Return the table as a markup for each page."""
        page = self.look.height - foot_height(self.look, LISTENING_CAUTION) - _SLACK - _HEADING
        head = titled_height(self.title, self.about, self.look) + _FACTS + _APART
        head += NAME_LINE if self.named else 0.0
        rows = self.asked.questions
        fitting = int((page - head) / _LOWEST_ROW)
        row = min(_HIGHEST_ROW, (page - head) / min(len(rows), fitting))
        later = int((page - _RUNNING_HEAD) / row)
        cuts = [0, *range(fitting, len(rows), later), len(rows)]
        return [self._table(rows[here:there], row) for here, there in pairwise(cuts)]

    def _table(self, rows: Sequence[RungQuestion], row: float) -> str:
        layers = [at(0, 0, "\\null"), at(0, -_HEADING, rule(self.look.width, INK))]
        layers += [at(column.x, 1.4 - _HEADING, column.heading) for column in self.columns]
        for place, question in enumerate(rows, start=1):
            foot = -_HEADING - place * row
            middle = foot + row / 2 - 1.0
            layers += [at(column.x, middle, column.cell(question)) for column in self.columns]
            layers.append(at(0, foot, rule(self.look.width)))
        return f"\\markup {overlay(*layers)}"


def _facts(asked: RungQuestions) -> Iterator[HeadFact]:
    score = asked.drill
    yield from harp_facts(score.harp, score.position)
    label = "anchor" if score.anchor_holes else "to measure by"
    given = asked.given.tab
    yield HeadFact(label, lilypond_string(given), len(given))
    many = str(len(asked.order))
    yield HeadFact("questions", lilypond_string(many), len(many))
    pause = f"{asked.asking.pause_s} seconds"
    yield HeadFact("time to answer", lilypond_string(pause), len(pause))
