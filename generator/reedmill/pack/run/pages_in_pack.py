"""Practice pages in the lessons of a pack: with a way back, and with the band beside them."""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.page.practice_page import PageBand, practice_pages
from reedmill.practice.practice import Recording
from reedmill.score.score import Score
from reedmill.sheet.engrave import Engraver
from reedmill.sound.recording.record import planned_sounds


def pages_in_pack(
    scores: Sequence[Score],
    engraver: Engraver | None = None,
    recordings: Sequence[Recording | None] = (),
) -> list[bytes]:
    """Return the pages of *scores* in lessons' folders of a pack, with a way back to its index.

    An app on a phone's home screen has no button of the browser to go back with.  *recordings*
    are those of the sound files beside each page.
    """
    bands = [
        None if each is None else band_beside(score, each)
        for score, each in zip(scores, recordings, strict=False)
    ]
    return practice_pages(scores, engraver, home="../index.html", bands=bands)


def band_beside(score: Score, recording: Recording) -> PageBand | None:
    """Return the file of *recording* with the band of *score* and least else; ``None`` for none.

    A recording with an echo goes another way through the bars than a page does.
    """
    if not recording.backing or recording.practice.echo_bars is not None:
        return None
    files = [each for each in planned_sounds(recording) if "backing" in each.holds]
    found = min(files, key=lambda each: len(each.holds))
    _, first = recording.one_by_one()[0]
    plan = first.plan(score)
    begins = plan.passes[0]
    return PageBand(
        ending=found.ending,
        first_s=float(plan.lead_in_s + begins.start_s),
        tempo=begins.score.tempo_bpm,
        tones="tones" in found.holds,
    )
