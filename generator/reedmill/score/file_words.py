"""The words that tell the file of one score from that of another: harp, position, tuning."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reedmill.base.text import file_slug
from reedmill.harp import Harp
from reedmill.score.arrangement import Arrangement
from reedmill.score.how_tuned import USUAL_A4_HZ
from reedmill.score.score import Score
from reedmill.theory.degrees import CHROMATIC
from reedmill.theory.intonation import INTONATIONS, Intonation


def harp_words(harp: Harp) -> str:
    """Return a harp as in a file name: ``low-f-sharp``, ``c-natural-minor``."""
    return file_slug(harp.full_name.replace("#", " sharp"))


def score_words(score: Score) -> Iterator[str]:
    """Yield harp and position, then what differs from the drill as written.

    That is its embouchure, form, tempo, ladder and tuning.
    """
    yield harp_words(score.harp)
    yield score.position.ordinal
    if score.harp.own:
        yield f"tuned as {score.harp.own.name}"
    if score.embouchure:
        yield score.embouchure.short
    if score.band and score.notes:
        yield f"over {score.band.form}"
    yield from score.variant
    if score.band and score.notes:
        yield from absent_words(score.band)
    if score.tempi_bpm:
        yield _ladder(score.tempi_bpm)
    yield from tuning_words(score.reference_hz, score.intonation)


def absent_words(band: Arrangement) -> Iterator[str]:
    """Yield the players who are left out: ``without bass``."""
    if band.absent:
        yield f"without {' '.join(part.value.lower() for part in band.absent)}"


def _ladder(tempi_bpm: Sequence[int]) -> str:
    if len(tempi_bpm) < 2:
        return f"ladder {tempi_bpm[0]}"
    step = abs(tempi_bpm[1] - tempi_bpm[0])
    return f"{tempi_bpm[0]} to {tempi_bpm[-1]} by {step}"


def tuning_words(reference_hz: float, intonation: Intonation) -> Iterator[str]:
    """Yield any tuning but equal temperament at A4 = 440 Hz: ``a442``, ``just5``."""
    if reference_hz != USUAL_A4_HZ:
        yield f"a{_number(reference_hz)}"
    base = next((name for name in INTONATIONS if intonation.name.startswith(name)), "")
    if base != "equal":
        yield base or intonation.name
    for degree, cents in zip(CHROMATIC, intonation.offsets_cents or (0,) * 12, strict=True):
        if cents:
            named = degree.name.replace("#", "sharp ")
            yield f"{named} {'up' if cents > 0 else 'down'} {_number(abs(cents))}"


def _number(value: float) -> str:
    """Return *value* with all its digits, a minus in words."""
    return repr(float(value)).removesuffix(".0").replace("-", " minus ")
