"""Make what is answered by ear: dictations, and recordings that ask which rung it was.

The names of these files do not tell the drill, whose title may name a hole: they have its number,
as the pages in them do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.choosing import chosen_word
from reedmill.base.errors import InputError
from reedmill.base.writing import Content, Parts
from reedmill.make.made_files import (
    Before,
    PlacedFile,
    RequestedFile,
    check_free,
    place,
    tentative,
)
from reedmill.make.naming import dictation_file_name, page_words, question_words
from reedmill.practice.asking import answered_recording, dictated_plan, question_plan
from reedmill.practice.sound_limits import check_hours, check_scores
from reedmill.score.rung_questions import (
    Asking,
    RungQuestion,
    RungQuestions,
    dictation_title,
    drill_number,
    questions_title,
    rung_questions,
    without_plan,
)
from reedmill.score.score import Score

if TYPE_CHECKING:
    from reedmill.make.made_files import FileName
    from reedmill.practice.practice import Recording, RecordingPlan
    from reedmill.sheet.look import Look

DICTATION_FORMATS = ("sheet", "tones", "questions")
_PAGES_A_RUN = 20  # of drills, for one LilyPond
_ANSWERS = "answers"

AS_USUAL = Asking()


@dataclass(frozen=True, slots=True)
class MadeDictation:
    """One file that was made to be answered by ear."""

    path: Path
    kind: str  # dictation-pdf, questions-pdf, or audio; of answers alone, answers-pdf
    drill: Score
    before: Before = Before.NOTHING  # what was at its place
    asked: RungQuestions | None = None  # in it, where it asks for rungs

    @property
    def number(self) -> int:
        """The number that stands on its pages for the drill."""
        return drill_number(self.drill)

    @property
    def replaced(self) -> bool:
        """True when the file replaced another."""
        return self.before is not Before.NOTHING

    def data(self) -> dict[str, object]:
        """Return the row for ``--json``."""
        return {
            "path": str(self.path),
            "kind": self.kind,
            "number": self.number,
            "drill": self.drill.title,
            "harp": self.drill.harp.full_name,
            "position": self.drill.position.number,
            "replaced": self.replaced,
        }


def make_dictations(
    scores: Sequence[Score],
    out: Path,
    to: Sequence[str] = DICTATION_FORMATS,
    *,
    asking: Asking = AS_USUAL,
    types: tuple[str, ...] = ("wav",),
    pure: bool = False,
    look: Look | None = None,
    apart: bool = False,
    progress: Callable[[str], None] | None = None,
    replace: bool = False,
) -> list[MadeDictation]:
    """Make dictations of *scores* in the folder *out* and return the files made, in order.

    *to* names ``sheet``, the rhythm of a drill to be filled in; ``tones``, what is to be heard for
    it; and ``questions``, a recording that asks for its rungs as *asking* says, with a page to
    tick on.  Sound is in files of *types*, in tones that keep still where they are *pure*.  The
    answers are the last page of each PDF, or *apart* in a file of their own.

    The same request replaces its own files; anything else that is in the way only with
    *replace*.  Raises ``InputError`` for an unknown format, for a drill without two rungs that are
    to be asked for, and ``InTheWayError``, which is one, for a file that may not be replaced, all
    before anything is made; ``RenderError`` when a file cannot be made.
    """
    formats = dictations_named(to)
    recording = answered_recording(types, pure=pure)
    heard = _heard_apart(scores)
    check_scores(len(heard), sum(len(score.notes) for score in heard))
    wanted = _Wanted(formats, asking, recording, look, apart)
    pieces = [piece for score in heard for piece in wanted.pieces(score)]
    seconds = sum(float(piece.plan.length_s) for piece in pieces if piece.plan)
    check_hours(seconds * len(types) / 3600)
    check_free(out, [file for piece in pieces for file in piece.files], replace=replace)
    made: list[MadeDictation] = []
    for start in range(0, len(pieces), _PAGES_A_RUN):
        found = _made(pieces[start : start + _PAGES_A_RUN], wanted, out, replace=replace)
        for each in found:
            if progress:
                progress(each.path.name)
        made += found
    return made


def dictations_named(names: Sequence[str]) -> tuple[str, ...]:
    """Return what is to be made, each once; ``InputError`` for a name there is not, or none."""
    asked = [name for name in names if name.strip()]
    if not asked:
        raise InputError(f"no dictation is named. Choose from: {', '.join(DICTATION_FORMATS)}.")
    return tuple(dict.fromkeys(chosen_word("dictation", name, DICTATION_FORMATS) for name in asked))


def dictations_data(made: Sequence[MadeDictation]) -> dict[str, object]:
    """Return the files for ``--json``, and what each recording asks for."""
    recorded = {id(each.asked): each.asked for each in made if each.kind == "audio" and each.asked}
    return {
        "files": [each.data() for each in made],
        "recordings": [_asked_data(asked) for asked in recorded.values()],
    }


def _asked_data(asked: RungQuestions) -> dict[str, object]:
    score, asking = asked.drill, asked.asking
    return {
        "number": drill_number(score),
        "drill": score.title,
        "harp": score.harp.full_name,
        "position": score.position.number,
        "seed": asking.seed,
        "pause_s": asking.pause_s,
        "given": asked.given.tab,
        "questions": [_question_data(each) for each in asked.questions],
    }


def _question_data(question: RungQuestion) -> dict[str, object]:
    sounding = question.answer.rungs[0].top
    return {
        "question": question.number,
        "start_s": int(question.start_s),
        "rungs": [each.tab for each in question.answer.rungs],
        "midi": sounding.pitch.midi,
        "name": sounding.pitch.name,
        "hz": round(sounding.hz, 4),
        "degree": sounding.degree.name,
        "cents_from_natural": round(question.answer.cents_from_natural, 2) + 0.0,
    }


@dataclass(frozen=True, slots=True)
class _Piece:
    """The files on one drill that are made together: the pages of a book, or of two, or sounds."""

    score: Score
    files: tuple[RequestedFile, ...]
    kinds: tuple[str, ...]  # of each of them
    plan: RecordingPlan | None = None  # of sounds; pages have none
    asked: RungQuestions | None = None  # by pages or sounds


@dataclass(frozen=True, slots=True)
class _Wanted:
    """The choices of one call, the same for every score."""

    formats: tuple[str, ...]
    asking: Asking
    recording: Recording
    look: Look | None
    apart: bool

    def pieces(self, score: Score) -> Iterator[_Piece]:
        """Yield what is made of *score*."""
        if "sheet" in self.formats:
            yield self._pages(score, "dictation", None)
        if "tones" in self.formats:
            name = dictation_file_name(score, "dictation", self._heard)
            yield self._sounds(score, name, dictated_plan(score))
        if "questions" in self.formats:
            score = replace(score, variant=())  # its tempo is not heard
            asked = rung_questions(score, self.asking)
            yield self._pages(score, "questions", asked)
            words = (*question_words(self.asking), *self._heard)
            name = dictation_file_name(score, "which-rung", words)
            yield self._sounds(score, name, question_plan(asked), asked)

    @property
    def _heard(self) -> tuple[str, ...]:
        """The words that tell a recording from one of other tones."""
        return ("pure",) if self.recording.pure else ()

    def _sounds(
        self, score: Score, name: FileName, plan: RecordingPlan, asked: RungQuestions | None = None
    ) -> _Piece:
        types = self.recording.types
        files = tuple(RequestedFile(name, f".{kind}") for kind in types)
        return _Piece(score, files, ("audio",) * len(types), plan, asked)

    def _pages(self, score: Score, kind: str, asked: RungQuestions | None) -> _Piece:
        title = "dictation" if asked is None else "which-rung"
        words = (*(question_words(asked.asking) if asked else ()), *page_words(self.look))
        books = ((), (_ANSWERS,)) if self.apart else ((),)
        files = tuple(
            RequestedFile(dictation_file_name(score, title, (*words, *more)), ".pdf")
            for more in books
        )
        kinds = (f"{kind}-pdf", "answers-pdf")[: len(files)]
        return _Piece(score, files, kinds, asked=asked)


def _heard_apart(scores: Sequence[Score]) -> list[Score]:
    """Return *scores* without their plans for the mouth, those that then sound alike once."""
    found: dict[object, Score] = {}
    for score in map(without_plan, scores):
        name = dictation_file_name(score, "dictation")
        found.setdefault((name, score.notes), score)
    return list(found.values())


def _made(
    pieces: Sequence[_Piece], wanted: _Wanted, out: Path, *, replace: bool
) -> list[MadeDictation]:
    """Make the files of *pieces*, placed together."""
    files = [file for piece in pieces for file in piece.files]
    pages = iter(_drawn([piece for piece in pieces if piece.plan is None], wanted))
    with Parts() as parts:
        for piece in pieces:
            contents = (
                _sounds(piece.plan, wanted) if piece.plan else [next(pages) for _ in piece.files]
            )
            for file, content in zip(piece.files, contents, strict=True):
                parts.write(tentative(out, file), content)
        placed = iter(place(parts, out, files, replace=replace))
    return [_told(next(placed), piece, kind) for piece in pieces for kind in piece.kinds]


def _told(placed: PlacedFile, piece: _Piece, kind: str) -> MadeDictation:
    return MadeDictation(placed.path, kind, piece.score, placed.before, piece.asked)


def _drawn(pieces: Sequence[_Piece], wanted: _Wanted) -> list[Content]:
    """Draw the pages of *pieces*, in the order of their files."""
    if not pieces:
        return []
    from reedmill.sheet.dictation import bound
    from reedmill.sheet.engrave import Engraver
    from reedmill.sheet.frame import preamble, swept
    from reedmill.sheet.look import Look

    look = wanted.look or Look()
    with Engraver() as engraver:
        books: list[str] = []
        for piece in pieces:
            title, parts = _parts(piece, look)
            for inside in [[part] for part in parts] if wanted.apart else [parts]:
                books.append(bound(len(books), title, inside))
        engraver.feed(preamble(look) + swept(books))
        return list(engraver.sheets(len(books)))


def _parts(piece: _Piece, look: Look) -> tuple[str, list[str]]:
    """Return the title of a book, and its pages to fill in and those of the answers."""
    from reedmill.sheet.dictation import dictation_parts
    from reedmill.sheet.rung_question_page import question_parts

    if piece.asked is None:
        return dictation_title(piece.score), dictation_parts(piece.score, look)
    return questions_title(piece.score), question_parts(piece.asked, look)


def _sounds(plan: RecordingPlan, wanted: _Wanted) -> Iterator[Content]:
    from reedmill.sound.recording.record import whole_mix

    for file in whole_mix(plan, wanted.recording):
        yield file.save
