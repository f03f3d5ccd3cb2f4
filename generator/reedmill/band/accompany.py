"""A band under a drill: a form and a feel by their titles, in the drill's own key and tempo."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reedmill.band.arranger import arrange
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.shelf import find_feel, find_form
from reedmill.base.remedies import Remedy
from reedmill.expand.over import choruses_for, laid_over_band, way_named
from reedmill.score.score import Caution, Score

USUAL_FEEL = "Medium shuffle"


@dataclass(frozen=True, slots=True)
class Accompaniment:
    """The form and feel that play under a drill, and how the drill is laid over them."""

    form: str  # a title, or a .form file
    feel: str = USUAL_FEEL  # a title, or a .feel file
    way: str = "loop"  # one of expand.over.WAYS
    choruses: int | None = None  # None: as many as the drill needs
    seed: int = 0  # what the band draws its choices by


def accompanied(score: Score, under: Accompaniment) -> Score:
    """Lay *score* over the band that *under* describes.

    Raises ``InputError`` where there is no such form or feel, or the two do not go
    together.
    """
    form, feel = find_form(under.form), find_feel(under.feel)
    return laid(score, form, feel, under.choruses, way_named(under.way), seed=under.seed)


def _variant(under_feel: str, way: str, choruses: int | None, seed: int) -> tuple[str, ...]:
    """Name every unusual choice of a drill laid over a form, in words for its file name."""
    words = {
        under_feel: under_feel != USUAL_FEEL,
        {"chords": "laid on chords", "once": "laid once"}.get(way, way): way != "loop",
        f"{choruses} choruses": choruses is not None,
        f"seed {seed}": seed != 0,
    }
    return tuple(word for word, unusual in words.items() if unusual)


def laid(
    score: Score, form: Form, feel: BandFeel, choruses: int | None, way: str, *, seed: int = 0
) -> Score:
    """Lay *score* over *form* played with *feel*, at its own tempo and in its own key.

    *choruses* ``None`` is as many as it takes to hear all of the score once.  Raises
    ``InputError`` when they do not go together.
    """
    variant = _variant(feel.title, way, choruses, seed)
    if choruses is None:
        choruses = choruses_for(score, len(form.bars), feel.meter)
    band = arrange(form, feel, score.key, choruses=choruses, tempo_bpm=score.tempo_bpm, seed=seed)
    whole = with_tempo_notice(laid_over_band(score, band, way), feel)
    return replace(whole, variant=(*score.variant, *variant))


def with_tempo_notice(score: Score, feel: BandFeel) -> Score:
    """Add a warning to *score* where its tempo is outside the range of *feel*."""
    said = feel.tempo_notice(score.tempo_bpm)
    if not said or not score.notes:
        return score
    return replace(
        score, warnings=(*score.warnings, Caution(said, score.notes[0].span, Remedy.TEMPO_OF_FEEL))
    )
