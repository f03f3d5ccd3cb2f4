"""The blocks of a page besides the music: heading, facts, practice boxes, tab, foot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from reedmill.base.text import from_right
from reedmill.formats.text_tab import COLUMNS
from reedmill.harp import RICHTER, Harp
from reedmill.score.arrangement import Arrangement
from reedmill.score.how_tuned import unusual_tuning
from reedmill.score.score import Feel, Score
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    FAINT,
    INK,
    LINE,
    accidental,
    at,
    box,
    circle,
    coloured,
    lilypond_string,
    overlay,
    resized,
    rule,
    small,
    small_lines,
    wrapped,
)
from reedmill.sheet.wrapping import wide_letters
from reedmill.theory.meter import Meter
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

_TAB_HEADING = (
    "plain tab", "-3 draw", "3 blow", "' a semitone of bend", "^ overbend", "~ slide", "! accent",
    ". rest", "_ goes on", ",out ,in breathe",
)  # fmt: skip
PLAN_LEFT = 11.4
"""Where the words of the embouchure plan start, in staff spaces."""

CAUTION = (
    "Rest lips and jaw often; breathe normally and stop when you feel dizzy. "
    "Pain or dizziness that comes back is a matter for a teacher or a doctor."
)
LISTENING_CAUTION = f"Listen at a moderate level, especially with headphones. {CAUTION}"
"""The caution of a page that is filled in while listening."""

_TITLE_SIZES, _TITLE_LETTER = (7.0, 4.5, 2.0), 2.9  # width of a letter at the largest
ABOUT_LETTER = 1.12
"""Mean width in staff spaces of a letter of what a page is about, measured and rounded up."""

TITLE_LINE = 3.0
"""Height in staff spaces of a line of a title at size 0, which six steps double."""

_VSPACE = 3.0  # staff spaces of \vspace #1, by define-markup-commands.scm of LilyPond 2.24
TITLE_AIR = 0.6
"""Staff spaces under a title, or what a page is about, of several lines."""

_TAB_SIZE, _TAB_LETTER = -2.0, 1.06  # and mean width of a letter, of the plain tab
_HEADING_TOP = 1.3  # of small print over its line
_PASSES = 3  # clean ones in a row before the next tempo
_LADDER_STEPS = 6  # tempi from start to goal: a week of practice, common practice
_CONTINUED = 10.0  # staff spaces at the right of a later page's head
_LAYOUT_ROOM = 16  # letters of a layout's name that fit beside "harp"


def title(score: Score, width: float) -> list[str]:
    """Return title, purpose and a rule."""
    return titled(score.title, score.about, width)


def titled(name: str, about: str, width: float) -> list[str]:
    """Draw the head of every kind of page: its *name*, what it is *about* and a rule."""
    size, letter = title_size(name, width)
    first = f"\\bold {coloured(INK, resized(size, wrapped(name, width)))}"
    second = coloured(FAINT, resized(0.5, wrapped(about, width)))
    lines = [first, *_air(name, letter, width)]
    if about:
        lines += [second, *_air(about, ABOUT_LETTER, width)]
    return [*lines, "\\vspace #0.25", rule(width, INK)]


def _air(text: str, letter: float, width: float) -> list[str]:
    """Room under a *text* of several lines, whose last would else lean on what follows."""
    return [f"\\vspace #{TITLE_AIR / _VSPACE:g}"] if wide_letters(text) * letter > width else []


def title_size(name: str, width: float) -> tuple[float, float]:
    """Return the largest size at which *name* fits one line, else the smallest, and its width."""
    for size in _TITLE_SIZES:
        letter = _TITLE_LETTER * 2 ** ((size - _TITLE_SIZES[0]) / 6)
        if wide_letters(name) * letter <= width:
            break
    return size, letter


def facts_row(score: Score, width: float) -> str:
    """Return harp, position, key, meter and tempo in one row."""
    key, _, mode = score.key_words.partition(" ")
    meter = score.meter.name + (" shuffle" if score.feel is Feel.SHUFFLE else "")
    goal = f" to {score.tempo_goal_bpm}" if score.tempo_goal_bpm else ""
    tempo = lilypond_string(f" = {score.tempo_bpm}{goal}")
    entries = [
        (0.0, harp_heading(score.harp), harp_markup(score.harp)),
        (0.15, "position", lilypond_string(score.position.label.replace(" position", ""))),
        (
            0.41,
            "key of the music",
            f"\\concat {{ {accidental(key)} {lilypond_string(f' {mode}')} }}",
        ),
        (0.61, "meter", lilypond_string(meter)),
        (0.79, "tempo", f"\\concat {{ {beat_sign(score.meter)} {tempo} }}"),
    ]
    layers = [
        overlay(
            at(share * width, 0, coloured(INK, f"\\sans \\bold {resized(0.5, value)}")),
            at(share * width, 2.9, small(label)),
        )
        for share, label, value in entries
    ]
    return overlay(*layers)


def harp_markup(harp: Harp) -> str:
    """Return the register and key of *harp* with real signs, as markup."""
    register = lilypond_string(harp.register + " " if harp.register else "")
    return f"\\concat {{ {register} {accidental(harp.key)} }}"


def harp_heading(harp: Harp) -> str:
    """Return the label over a harp's name, which names any layout but Richter."""
    if harp.layout == RICHTER:
        return "harp"
    words = harp.layout.words
    return f"harp, {words if len(words) <= _LAYOUT_ROOM else words[: _LAYOUT_ROOM - 1] + '…'}"


def beat_sign(meter: Meter) -> str:
    """Return the note that a tempo counts, as markup."""
    dotted = "." if meter.compound else ""
    value = meter.unit // 2 if meter.compound else meter.unit
    return f"\\fontsize #-1 \\note {{ {value}{dotted} }} #0.7"


def embouchure(score: Score, width: float) -> list[str]:
    """Return the embouchure plan as a line of its own, when there is one."""
    if score.embouchure is None:
        return []
    label = overlay(small("embouchure"), at(PLAN_LEFT, 0, "\\null"))
    text = coloured(INK, resized(-1, wrapped(score.embouchure.words, width - PLAN_LEFT)))
    return [overlay(label, at(PLAN_LEFT, 0, f"\\sans {text}"))]


def playing_over(score: Score, width: float) -> list[str]:
    """Return the band's form and feel as a line of its own, when there is a band."""
    if score.band is None:
        return []
    text = coloured(INK, resized(-1, wrapped(band_words(score.band), width - PLAN_LEFT)))
    return [overlay(small("over"), at(PLAN_LEFT, 0, f"\\sans {text}"))]


def band_words(band: Arrangement) -> str:
    """Return form, feel and number of choruses in words."""
    many = "1 chorus" if band.choruses == 1 else f"{band.choruses} choruses"
    return f"{band.form}, {band.feel}; {many} of {band.bars_a_chorus} bars"


def listen_for(score: Score, width: float) -> list[str]:
    """Return the text on what to listen for, under its heading."""
    if not score.listen:
        return []
    text = coloured(INK, resized(0.5, wrapped(score.listen, width)))
    return [small("listen for"), text, "\\vspace #0.4"]


TEMPO_HEADING = f"tempo ladder: {_PASSES} clean passes in a row, then the next tempo"


def tempo_ladder(score: Score, width: float) -> list[str]:
    """Return tempi from the drill's own to its goal, each with boxes for clean passes."""
    heading = coloured(FAINT, f"\\sans {resized(-3, wrapped(TEMPO_HEADING, width))}")
    tempos = ladder_tempos(score)
    step = width / len(tempos)
    cells = [_tempo_box(each, at_x * step, step - 0.6) for at_x, each in enumerate(tempos)]
    return [heading, "\\vspace #0.2", overlay(at(0, 4.6, "\\null"), *cells)]


def ladder_tempos(score: Score) -> list[int]:
    """Return the score's own ladder, or whole tempi in even steps from the start to the goal.

    Without a goal, slow ones come first.  Of a long ladder some rungs are shown, with both
    its ends.
    """
    if score.tempi_bpm:
        many = len(score.tempi_bpm)
        shown = min(many, _LADDER_STEPS)
        return [score.tempi_bpm[round(n * (many - 1) / max(shown - 1, 1))] for n in range(shown)]
    goal = score.tempo_goal_bpm or score.tempo_bpm
    start = score.tempo_bpm if goal != score.tempo_bpm else max(20, goal * 7 // 10)
    steps = min(_LADDER_STEPS, abs(goal - start) + 1)
    if steps < 2:
        return [goal]
    return [start + round(Fraction((goal - start) * n, steps - 1)) for n in range(steps)]


def _tempo_box(tempo: int, x: float, width: float) -> str:
    middle = x + width / 2
    ticks = [circle(middle + (n - (_PASSES - 1) / 2) * 1.7, 1.2, 0.5) for n in range(_PASSES)]
    number = at(
        middle, 2.5, f"\\center-align \\sans \\bold {resized(-0.5, lilypond_string(str(tempo)))}"
    )
    frame = coloured(LINE, box(x, 0, width, 4.4, filled=False, line=0.12))
    return overlay(frame, coloured(INK, number), *(coloured(FAINT, tick) for tick in ticks))


def note_lines(count: int, width: float) -> list[str]:
    """Return ruled lines for the student's own notes."""
    if not count:
        return []
    lines = [part for _ in range(count) for part in ("\\vspace #1.35", rule(width))]
    return ["\\vspace #0.3", small("notes: name, date, what I heard"), *lines]


def tab_heading(score: Score) -> tuple[str, ...]:
    """Return the phrases over the plain tab of *score*, which explain its signs."""
    several = any(note.beside for note in score.notes)
    quarters = any(reed.quarter for note in score.notes for reed in note.reeds)
    return (
        *_TAB_HEADING,
        *(["& holes together"] if several else []),
        *(["q a quarter tone lower"] if quarters else []),
    )


def tab_block(
    tab: Sequence[str],
    heading_words: Sequence[str],
    width: float,
    *,
    folded: bool = False,
    apart: bool = False,
) -> str:
    """Return the plain tab, line by line as the text renderer has it, free to flow over pages.

    Its lines are never broken; where one is wider than the page all are set smaller.
    *heading_words* are what ``tab_heading`` gives.  *folded* says that it has repeat
    signs, *apart* that boxes and not ruled lines stand above.
    """
    lines = [
        coloured(INK, f"\\typewriter {resized(tab_size(tab, width), lilypond_string(line))}")
        for line in tab
    ]
    again = ("|: :| again",) if folded else ()
    heading = small_lines((*heading_words, *again), width)
    if apart:  # a line of nothing would have a distance of its own
        heading = overlay(at(0, _HEADING_TOP + 0.9, "\\null"), heading)
    body = "\n".join([heading, *lines])
    return f"\\markuplist \\override-lines #'(baseline-skip . 2.7) \\column-lines {{\n{body}\n}}"


def tab_columns(look: Look) -> int:
    """Return how many columns of plain tab a line of *look* has room for."""
    return min(COLUMNS, int(look.width / (_TAB_LETTER * look.grown(_TAB_SIZE))))


def tab_size(tab: Sequence[str], width: float) -> float:
    """Return the font size in steps at which the longest line of plain tab fits."""
    longest = max(map(wide_letters, tab)) * _TAB_LETTER
    return _TAB_SIZE + min(0.0, 6 * math.log2(width / longest))


def foot(score: Score, width: float) -> str:
    """Return the foot of a page: caution, name of the sheet, and tuning.

    No number: one page needs none, another says at its head what it goes on with, and in a
    book the number is the book's.
    """
    return foot_of(" · ".join([score.title, played_on(score), *unusual_tuning(score)]), width)


def played_on(score: Score) -> str:
    """Harp and position in words, with the real signs of music."""
    return on_harp(score.harp, score.position)


def on_harp(harp: Harp, position: Position) -> str:
    """Return *harp* and *position* in words, as every kind of page has them at its foot."""
    return f"{with_signs(harp.label)}, {position.ordinal} position"


def foot_of(name: str, width: float, caution: str = CAUTION) -> str:
    """Return the foot of a page: *caution*, and the *name* of what is above."""
    lines = [
        rule(width),
        coloured(FAINT, f"\\sans {resized(-4, wrapped(caution, width))}"),
        coloured(FAINT, f"\\sans {resized(-4, _name_in(width, name))}"),
    ]
    return "\\override #'(baseline-skip . 2) \\left-column {\n" + "\n".join(lines) + "\n}"


def _name_in(width: float, name: str) -> str:
    """Return *name* on one line with its parts in order, on several where it is too long."""
    line, lines = lilypond_string(name), wrapped(name, width)
    if from_right(name):  # Pango turns a string around; \\hspace keeps two of them apart
        first, dot, others = name.partition(" · ")
        line = (
            f"\\concat {{ {lilypond_string(first)} \\hspace #0 {lilypond_string(dot + others)} }}"
        )
        lines = f"\\left-column {{ {wrapped(first, width)} {wrapped(others, width)} }}"
    return f"\\first-fitting #{width:g} {line} {lines}"


def running_head(score: Score, width: float) -> str:
    """Return the line over every page but the first."""
    return running_head_of(f"{score.title} · {played_on(score)}", width)


def running_head_of(words: str, width: float) -> str:
    """Return the line of *words* over every page but the first, which says "continued".

    The number of each line's first bar says how far it is; in a book the page has the book's.
    """
    text = coloured(FAINT, f"\\sans {resized(-2, wrapped(words, width - _CONTINUED))}")
    going_on = coloured(FAINT, f"\\sans \\right-align {resized(-2, lilypond_string('continued'))}")
    line = overlay(text, at(width, 0, going_on))
    return (
        f"\\unless \\on-first-page-of-part \\left-column {{ {line} {rule(width)} \\vspace #0.5 }}"
    )
