"""From the words of a command line to harps, positions and scores."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reedmill.cli.saying import warn_each

if TYPE_CHECKING:
    from reedmill.cli.wanted import Looks, Over, Playing
    from reedmill.harp import Harp, Reed
    from reedmill.language import Drill
    from reedmill.make.made_files import Before
    from reedmill.score.score import Score
    from reedmill.sheet.look import Look
    from reedmill.theory.positions import Position


def named_harp(name: str, tuning: str) -> Harp:
    """The harp called *name* with the reeds of *tuning*; ``InputError`` for none."""
    from reedmill.harp import Harp, layout_named

    return Harp.parse(name, layout_named(tuning))


def named_harps(texts: tuple[str, ...], tuning: str) -> list[Harp]:
    """Every harp that *texts* name, with commas between; a C harp where there are none."""
    from reedmill.harp import Harp, layout_named
    from reedmill.practice.sound_limits import check_scores

    texts = texts or ("C",)
    check_scores(sum(text.count(",") for text in texts) + len(texts), 0)
    return list(Harp.parse_list(*texts, layout=layout_named(tuning)))


def named_position(position: str) -> Position:
    """The position called *position*; ``InputError`` for none."""
    from reedmill.theory.positions import Position

    return Position.parse(position)


def named_reeds(texts: tuple[str, ...]) -> tuple[Reed, ...]:
    """The reeds in *texts*, as tab; ``InputError`` for what is none of a C harp."""
    from reedmill.harp import Harp

    return tuple(reed for text in texts for reed in Harp("C").reeds_named(text))


def scores_of(
    wanted: tuple[str, ...], playing: Playing, under: Over, formats: tuple[str, ...] = ()
) -> list[Score]:
    """Every drill on every harp in every position with every embouchure plan, in that order.

    ``PatternError`` with its line, too, for a value that one of *formats* cannot show.
    """
    from reedmill.cli.command_remedies import COMMAND_LINE
    from reedmill.expand import expand, versions
    from reedmill.expand.taken_over import mistakes_placed_in
    from reedmill.formats.writable import check_writable
    from reedmill.language.words import MAX_NOTES
    from reedmill.practice.sound_limits import check_scores
    from reedmill.theory.intonation import intonation_named

    tuning = intonation_named(playing.intonation)
    if playing.offsets is not None:
        tuning = tuning.with_offsets(playing.offsets)
    played = playings(wanted, playing)
    pieces = [drill for drill, _, _ in played for _ in versions(drill)]
    notes = (drill.count(len(drill.rungs)) for drill in pieces)
    check_scores(len(pieces), sum(min(each, MAX_NOTES) for each in notes))  # more is refused itself
    scores = [
        expand(
            drill, harp, where, tempo_bpm=playing.tempo, intonation=tuning,
            reference_hz=playing.reference, version=version,
        )
        for drill, harp, where in played
        for version in versions(drill)
    ]  # fmt: skip
    scores = accompanied_scores(scores, under)
    for drill, score in zip(pieces, scores, strict=True):
        with mistakes_placed_in(drill):
            check_writable(score, formats)
    _say_positions(played)
    warn_each(each.worded(COMMAND_LINE) for score in scores for each in score.warnings)
    return scores


def _say_positions(played: list[tuple[Drill, Harp, Position]]) -> None:
    """Say which drills were written for another position: their home is not at home in this."""
    from reedmill.library import not_meant_for

    warn_each(not_meant_for(drill, where) for drill, _, where in played)


def accompanied_scores(scores: list[Score], under: Over) -> list[Score]:
    """The *scores* over the band that is asked for, if one is."""
    from reedmill.base.errors import InputError

    if under.over is not None:
        from reedmill.band.accompany import USUAL_FEEL, Accompaniment, accompanied

        band = Accompaniment(
            under.over, under.feel or USUAL_FEEL, under.lay or "loop", under.choruses, under.seed
        )
        return [accompanied(score, band) for score in scores]
    said = under.feel or under.lay or under.seed or under.band
    if said or under.choruses is not None:
        raise InputError(
            "--feel, --lay, --choruses, --seed and --band say how a band plays under the drill. "
            "Say over which form, for example: --over 'Twelve bars'"
        )
    return scores


def playings(wanted: tuple[str, ...], playing: Playing) -> list[tuple[Drill, Harp, Position]]:
    """Every drill on every harp in every position: drill by drill, on each harp in turn."""
    from reedmill.library import find_drills, usual_position
    from reedmill.practice.sound_limits import check_scores
    from reedmill.theory.positions import Position

    harps = named_harps(playing.harps, playing.tuning)
    fixed = Position.parse_list(*playing.positions) if playing.positions else ()
    drills: list[Drill] = []
    for each in wanted:
        drills += [drill for drill in find_drills(each) if drill not in drills]
        check_scores(len(drills) * len(harps) * max(1, len(fixed)), 0)
    return [
        (drill, harp, position)
        for drill in drills
        for harp in harps
        for position in fixed or (usual_position(drill),)
    ]


def again(before: Before) -> str:
    """What to say after the path of a file of what was at its place."""
    return {"nothing": "", "own": "  (made again)", "other": "  (replaced)"}[before.value]


def counted(number: int, what: str) -> str:
    """``1 bar``, ``2 bars``."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def look_of(looks: Looks) -> Look:
    """The look of a sheet that the options ask for."""
    from reedmill.sheet.look import look_named

    return look_named(looks.paper, looks.show, large=looks.large, black=looks.black)
