"""Checks of one file: what making would refuse of it, without making.

Everything here is asked of the same functions that make, so that the two cannot disagree.
LilyPond is not run, and nothing is written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reedmill.band.accompany import USUAL_FEEL
from reedmill.band.arranger import arrange, check_amount
from reedmill.band.backing_parser import BAND_KINDS, FormOrFeel, parse_band
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.shelf import find_feel, find_form
from reedmill.base.errors import InputError, PatternError, pointing
from reedmill.base.gathering import apart, gathering, in_order
from reedmill.base.source import Span
from reedmill.checking.trying import Settings, Tries
from reedmill.expand import versions
from reedmill.harp import Harp
from reedmill.language import Drill, parse, read_pattern
from reedmill.language.words import MAX_NOTES
from reedmill.library import shipped_drills
from reedmill.practice.practice import Recording
from reedmill.practice.sound_limits import check_scores, check_sound_length
from reedmill.score.score import Score
from reedmill.sheet.letters import places, remedy
from reedmill.theory.positions import Position

USUAL_FORM = "Twelve bars"  # over which a feel is tried
_CHORUSES = 4  # what backing plays when it is not told
# The texts a sheet shows, by the words their lines begin with.
_SHOWN = re.compile(r'^[ \t]*(?:drill|about|listen|section|form|feel)[ \t]*("(?:\\.|[^"\\])*")')


@dataclass(frozen=True, slots=True)
class Checked:
    """The mistakes and warnings found in one file."""

    mistakes: tuple[InputError, ...]  # by their place, each once
    warnings: tuple[PatternError, ...] = ()  # what is made, but not as it was meant
    scores: tuple[Score, ...] = ()  # of drills that are right, in their usual position
    held: tuple[Any, ...] = ()  # the forms and feels, or the course
    settings: Settings = field(default_factory=Settings)  # which harp and position each is for


def check_drills(path: Path, harps: Sequence[Harp], positions: Sequence[Position]) -> Checked:
    """Check the drills of the file at *path* on every harp, in *positions* or all they suit."""
    texts: dict[str, str] = {}

    def read() -> tuple[Drill, ...]:
        texts[str(path)] = read_pattern(path)
        return parse(texts[str(path)], str(path), shipped_drills())

    return _checked_drills(read, texts, harps, positions)


def check_library_drills(
    find: Callable[[], tuple[Drill, ...]], harps: Sequence[Harp], positions: Sequence[Position]
) -> Checked:
    """Check the drills that *find* finds, such as those of the library."""
    return _checked_drills(find, {}, harps, positions)


def _checked_drills(
    read: Callable[[], tuple[Drill, ...]], texts: dict[str, str], harps: Sequence[Harp],
    positions: Sequence[Position],
) -> Checked:  # fmt: skip
    tries = Tries(tuple(positions))
    with gathering() as found:
        drills = read()
        with apart():
            _check_amounts(drills, harps, positions)
            # of a file that holds too much, the drills up to there would take long to play
            for drill in () if _too_much(found) else drills:
                for harp in harps:
                    tries.play(drill, harp)
            check_sound_length(tries.scores, Recording())
    words = (each for name, text in texts.items() for each in unsigned(text, name))
    return Checked(
        tuple(in_order(found)),
        tuple(in_order([*tries.warnings, *words])),
        tuple(tries.scores),
        settings=tries.settings,
    )


def _too_much(found: Sequence[InputError]) -> bool:
    """Tell whether a file was refused for the total of what is in it."""
    keys = (each.key for each in found if isinstance(each, PatternError))
    return "too-many-notes-in-a-file" in keys


def _check_amounts(
    drills: Sequence[Drill], harps: Sequence[Harp], positions: Sequence[Position]
) -> None:
    """Refuse more than ``make`` takes at once, on every harp in every position."""
    pieces = [drill for drill in drills if not drill.broken for _ in versions(drill)]
    notes = sum(min(drill.count(len(drill.rungs)), MAX_NOTES) for drill in pieces)
    times = len(harps) * max(1, len(positions))
    check_scores(len(pieces) * times, notes * times)


def unsigned(text: str, name: str) -> Iterator[PatternError]:
    """Yield a warning for every word of *text* that a sheet may have no signs for."""
    for number, line in enumerate(text.split("\n"), start=1):
        shown = None if line.isascii() else _SHOWN.match(line)
        if shown is None:
            continue
        for at, word in places(shown[1]):
            yield letters_warning(
                word, Span(name, number, shown.start(1) + at + 1, len(word)), text
            )


def letters_warning(word: str, span: Span, text: str) -> PatternError:
    """Return the warning for letters without a sign."""
    codes = ", ".join(f"U+{ord(letter):04X}" for letter in dict.fromkeys(word[:4]))
    return PatternError(
        f'a sheet leaves out "{word[:20]}" ({codes})',
        f"{remedy(word)} All else is made.",
        span,
        key="letters-without-a-sign",
    ).with_source(text)


# --- courses --------------------------------------------------------------------------


def check_course(path: Path) -> Checked:
    """Check the course at *path*: every drill of every student, and the files it names."""
    from reedmill.pack.course.elsewhere import played_elsewhere
    from reedmill.pack.course.inspection import inspected

    held: tuple[Any, ...] = ()
    warnings: list[PatternError] = []
    with gathering() as found:
        course, text = inspected(path)
        held = (course,)
        warnings = [
            letters_warning(word, Span(str(path), number, at + 1, len(word)), text)
            for number, line in enumerate(text.split("\n"), start=1)
            if not line.isascii() and not line.lstrip().startswith("#")
            for at, word in places(line)
        ]
        warnings += [_notice(each, path, text) for each in course.notices]
        warnings += [
            PatternError(notice, "", place, key="not-meant-here").with_source(text)
            for place, notice in dict.fromkeys(played_elsewhere(course))
            if place is not None
        ]
    return Checked(tuple(in_order(found)), tuple(warnings), held=held)


def _notice(notice: str, path: Path, text: str) -> PatternError:
    """Return *notice* of a course at the line that names its book."""
    fact, _, remedy = notice.partition(". ")
    lines = enumerate(text.split("\n"), start=1)
    number, line = next(each for each in lines if each[1].lstrip().startswith("book"))
    span = Span(str(path), number, 1, len(line))
    return PatternError(fact, remedy, span, key="not-in-the-book").with_source(text)


# --- forms and feels ------------------------------------------------------------------


def check_band(path: Path) -> Checked:
    """Check the forms and feels at *path*, in every key and at every tempo of their range."""
    held: tuple[FormOrFeel, ...] = ()
    text = ""
    with gathering() as found:
        text = read_pattern(path, BAND_KINDS)
        held = parse_band(text, str(path))
        for each in held:
            _check_played(each, text)
    return Checked(tuple(in_order(found)), tuple(unsigned(text, str(path))), held=held)


def _check_played(each: FormOrFeel, text: str) -> None:
    """Play *each* as ``backing`` does: a form with the usual feel, a feel over the usual form."""
    form = each if isinstance(each, Form) else find_form(USUAL_FORM)
    feel = each if isinstance(each, BandFeel) else find_feel(USUAL_FEEL)
    with apart():
        try:
            _play(form, feel)
        except PatternError:
            raise
        except InputError as error:
            raise pointing(error, each.span).with_source(text) from None


def _play(form: Form, feel: BandFeel) -> None:
    position = Position(form.positions[0] if form.positions else 2)
    for tempo in (feel.tempo_bpm, feel.usual_tempo_bpm, feel.tempo_goal_bpm or feel.tempo_bpm):
        check_amount(form, feel, _CHORUSES, tempo)
    arrange(form, feel, Harp("C").key_in(position), choruses=1)  # no key changes who plays when
