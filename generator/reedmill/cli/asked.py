"""From the words of a command line to harps, positions and scores."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from reedmill.cli.saying import warn_each

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from reedmill.band.phrased import ChorusPlan, PhrasedChorus
    from reedmill.cli.wanted import Looks, Over, Phrasing, Playing
    from reedmill.harp import Harp, OwnHarp, Reed
    from reedmill.harp.harp_places import HarpPlace
    from reedmill.language import Drill
    from reedmill.make.made_files import Before
    from reedmill.score.score import Score
    from reedmill.sheet.look import Look
    from reedmill.theory.positions import Position
    from reedmill.theory.song_keys import SongKey


USUAL_REFERENCE_HZ = 440.0


def named_harp(name: str, tuning: str) -> Harp:
    """Return the harp called *name* with the layout *tuning*; raise ``InputError`` for none."""
    from reedmill.harp import Harp, layout_named

    return Harp.parse(name, layout_named(tuning))


def harp_asked(name: str | None, key: str | None, position: Position, tuning: str) -> Harp:
    """Return the harp called *name*, or the one that plays in *key* in *position*; else a C harp.

    ``InputError`` where *name* and *key* do not agree.
    """
    from reedmill.harp import layout_named

    if key is None:
        return named_harp("C" if name is None else name, tuning)
    from reedmill.cli.for_keys import notices_of_thirds, places_for_keys
    from reedmill.theory.song_keys import SongKey

    song, named = SongKey.parse(key), () if name is None else (named_harp(name, tuning),)
    [place] = places_for_keys((song,), named, (position,), layout_named(tuning))
    warn_each(notices_of_thirds([song], [place]))
    return place.harp


def named_harps(texts: tuple[str, ...], tuning: str) -> list[Harp]:
    """Return every harp that *texts* name, with commas between; a C harp where there are none."""
    from reedmill.harp import Harp, layout_named
    from reedmill.practice.sound_limits import check_scores

    texts = texts or ("C",)
    check_scores(sum(text.count(",") for text in texts) + len(texts), 0)
    return list(Harp.parse_list(*texts, layout=layout_named(tuning)))


def harps_for_keys(
    texts: tuple[str, ...], keys: tuple[str, ...], positions: Sequence[Position], tuning: str
) -> list[Harp]:
    """Return the harps that *texts* name, or those that play in *keys* in one of *positions*.

    In cross harp where there are none; ``InputError`` for several positions with keys.
    """
    from reedmill.base.errors import InputError
    from reedmill.theory.positions import Position

    if not keys:
        return named_harps(texts, tuning)
    if len(positions) > 1:
        raise InputError(
            "in every position another harp plays in the key, so that --key takes one position "
            "here. Give the command once for each."
        )
    from reedmill.cli.for_keys import places_for_keys
    from reedmill.harp import layout_named
    from reedmill.theory.song_keys import SongKey

    named = named_harps(texts, tuning) if texts else []
    where = tuple(positions) or (Position(2),)
    places = places_for_keys(SongKey.parse_list(*keys), named, where, layout_named(tuning))
    return list(dict.fromkeys(each.harp for each in places))


def named_position(position: str) -> Position:
    """Return the position called *position*; raise ``InputError`` for none."""
    from reedmill.theory.positions import Position

    return Position.parse(position)


def named_reeds(texts: tuple[str, ...]) -> tuple[Reed, ...]:
    """Return the reeds that *texts* write in tab; ``InputError`` for one a C harp lacks."""
    from reedmill.harp import Harp

    return tuple(reed for text in texts for reed in Harp("C").reeds_named(text))


def scores_of(
    wanted: tuple[str, ...],
    playing: Playing,
    under: Over | None = None,
    formats: tuple[str, ...] = (),
) -> list[Score]:
    """Expand every drill on every harp, in every position and embouchure plan, in that order.

    Without *under* no band can be asked for.

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
    reference = reference_of(playing)
    pieces = [drill for drill, _, _ in played for _ in versions(drill)]
    notes = (drill.count(len(drill.rungs)) for drill in pieces)
    check_scores(len(pieces), sum(min(each, MAX_NOTES) for each in notes))  # more is refused itself
    scores = [
        expand(
            drill, harp, where, tempo_bpm=playing.tempo, intonation=tuning,
            reference_hz=reference, version=version,
        )
        for drill, harp, where in played
        for version in versions(drill)
    ]  # fmt: skip
    scores = accompanied_scores(scores, under) if under is not None else scores
    for drill, score in zip(pieces, scores, strict=True):
        with mistakes_placed_in(drill):
            check_writable(score, formats)
    _say_positions(played)
    _say_thirds(played, playing)
    warn_each(each.worded(COMMAND_LINE) for score in scores for each in score.warnings)
    return scores


class WantedPieces(NamedTuple):
    """The scores that a command asks for; where they are of phrases, which these are."""

    scores: list[Score]
    choruses: tuple[PhrasedChorus, ...] = ()


def pieces_of(
    wanted: tuple[str, ...], playing: Playing, under: Over, phrasing: Phrasing,
    formats: tuple[str, ...] = (),
) -> WantedPieces:  # fmt: skip
    """Expand every drill as ``scores_of``, or fill the form with phrases where that is asked."""
    if phrasing.phrases:
        choruses = phrased_choruses(wanted, playing, under, phrasing)
        for each in choruses:
            checked_and_warned(each.score, formats)
        return WantedPieces(
            [with_players_left_out(each.score, under.without) for each in choruses], choruses
        )
    check_phrasing(phrasing)
    if not wanted:
        check_drill_named()
    return WantedPieces(scores_of(wanted, playing, under, formats))


def check_phrasing(phrasing: Phrasing) -> None:
    """Refuse a choice of phrases where none are asked for."""
    from reedmill.base.errors import InputError

    if not phrasing.phrases and (phrasing.level is not None or phrasing.rungs is not None):
        raise InputError(
            "--level and --rungs say which phrases may fill a form. Add --phrases and --over, for "
            "example: --phrases --over 'Twelve bars'"
        )


def check_drill_named() -> None:
    """Refuse a command without a drill, as click does."""
    import click

    ctx = click.get_current_context()
    [takes] = [each for each in ctx.command.params if isinstance(each, click.Argument)]
    raise click.MissingParameter(ctx=ctx, param=takes)


def checked_and_warned(score: Score, formats: tuple[str, ...]) -> None:
    """Check that *formats* can show *score*, and print its warnings."""
    from reedmill.cli.command_remedies import COMMAND_LINE
    from reedmill.formats.writable import check_writable

    check_writable(score, formats)
    warn_each(each.worded(COMMAND_LINE) for each in score.warnings)


def phrased_choruses(
    wanted: tuple[str, ...], playing: Playing, under: Over, phrasing: Phrasing
) -> tuple[PhrasedChorus, ...]:
    """Fill the form with phrases on every harp, in every position and plan for the mouth."""
    from reedmill.band.phrased import phrased
    from reedmill.language.mouth_plans import parse_plans
    from reedmill.practice.sound_limits import check_scores
    from reedmill.theory.intonation import intonation_named
    from reedmill.theory.positions import Position

    plan = _chorus_plan(playing, under, phrasing)
    tuning = intonation_named(playing.intonation)
    if playing.offsets is not None:
        tuning = tuning.with_offsets(playing.offsets)
    drills = _phrases(wanted)
    places = _harp_places(playing, Position.parse_list(*playing.positions or ("2",)))
    holds = parse_plans(*playing.embouchures) if playing.embouchures else (None,)
    check_scores(len(places) * len(holds), 0)
    return tuple(
        phrased(
            drills, place.harp, place.position, plan, intonation=tuning,
            reference_hz=reference_of(playing), embouchure=hold,
        )
        for place in places
        for hold in holds
    )  # fmt: skip


def _chorus_plan(playing: Playing, under: Over, phrasing: Phrasing) -> ChorusPlan:
    from reedmill.band.accompany import USUAL_FEEL
    from reedmill.band.phrased import ChorusPlan
    from reedmill.base.errors import InputError
    from reedmill.language.words import LEVELS

    if under.over is None:
        raise InputError(
            "--phrases fills a form. Say which one, for example: --phrases --over 'Twelve bars'"
        )
    if under.lay is not None:
        raise InputError(
            "--lay says how one drill goes over a form. Leave out --lay, or --phrases."
        )
    if phrasing.level is not None and phrasing.level not in LEVELS:
        raise InputError(f"there is no level {phrasing.level}. Write --level 1 to 5.")
    return ChorusPlan(
        under.over, under.feel or USUAL_FEEL, under.choruses, under.seed, phrasing.level,
        _learned(phrasing.rungs), playing.tempo,
    )  # fmt: skip


def _learned(rungs: str | None) -> tuple[Reed, ...] | None:
    """Return the reeds that a player has learned; none for the word, ``None`` where all are."""
    from reedmill.base.errors import InputError

    if rungs is None:
        return None
    if rungs.strip().casefold() in ("", "none"):
        return ()
    if not any(letter in "0123456789" for letter in rungs):
        raise InputError(
            f'there are no rungs "{rungs:.40}". Write those you have learned as tab in quotes, '
            "such as --rungs \"-4' -3'\", or --rungs none for natural notes alone."
        )
    return named_reeds((rungs,))


def _phrases(wanted: tuple[str, ...]) -> list[Drill]:
    """Return the phrases that *wanted* names, those of the library where it names none."""
    from reedmill.base.errors import InputError
    from reedmill.library import find_drills, shipped_phrases

    if not wanted:
        return [each.drill for each in shipped_phrases()]
    drills: list[Drill] = []
    for name in wanted:
        found = [drill for drill in find_drills(name) if drill.over]
        if not found:
            raise InputError(
                f'"{name:.80}" is not a phrase and holds none: no drill says what it is over. '
                "Write a line for that, such as: over I"
            )
        drills += [drill for drill in found if drill not in drills]
    return drills


def _say_positions(played: list[DrillOnHarp]) -> None:
    """Warn of drills played outside their positions: the root they come home to is another."""
    from reedmill.library import not_meant_for

    warn_each(not_meant_for(*each) for each in played)


def _say_thirds(played: list[DrillOnHarp], playing: Playing) -> None:
    """Warn of songs in minor on harps whose natural third is major there, and the reverse."""
    if playing.keys:
        from reedmill.cli.for_keys import notices_of_thirds
        from reedmill.harp.harp_places import HarpPlace

        warn_each(notices_of_thirds(
            keys_of(playing), [HarpPlace(each.harp, each.position) for each in played]
        ))  # fmt: skip


def accompanied_scores(scores: list[Score], under: Over) -> list[Score]:
    """Lay the *scores* over the band that the options ask for, if any.

    ``InputError`` for options of a band without a form, and as ``accompanied``.
    """
    from reedmill.base.errors import InputError

    if under.over is not None:
        from reedmill.band.accompany import USUAL_FEEL, Accompaniment, accompanied

        band = Accompaniment(
            under.over, under.feel or USUAL_FEEL, under.lay or "loop", under.choruses, under.seed
        )
        return [with_players_left_out(accompanied(score, band), under.without) for score in scores]
    said = under.feel or under.lay or under.seed or under.band or under.without
    if said or under.choruses is not None:
        raise InputError(
            "--feel, --lay, --choruses, --seed, --band and --without say how a band plays under "
            "the drill. Say over which form, for example: --over 'Twelve bars'"
        )
    return scores


def with_players_left_out(score: Score, without: str) -> Score:
    """Return *score* without the players of its band that are named, with commas between."""
    if not without.strip() or score.band is None:
        return score
    from dataclasses import replace

    from reedmill.score.arrangement import parse_players

    return replace(score, band=score.band.without(*parse_players(without)))


class DrillOnHarp(NamedTuple):
    """A drill to be played, on which harp and where on it."""

    drill: Drill
    harp: Harp
    position: Position


def playings(wanted: tuple[str, ...], playing: Playing) -> list[DrillOnHarp]:
    """Return every drill on every harp in every position: drill by drill, harp by harp."""
    from reedmill.library import find_drills, usual_position
    from reedmill.practice.sound_limits import check_scores
    from reedmill.theory.positions import Position

    fixed = Position.parse_list(*playing.positions) if playing.positions else ()
    places = len(_harp_places(playing, fixed or (Position(2),)))
    drills: list[Drill] = []
    for each in wanted:
        drills += [drill for drill in find_drills(each) if drill not in drills]
        check_scores(len(drills) * places, 0)
    return [
        DrillOnHarp(_held(drill, playing), place.harp, place.position)
        for drill in drills
        for place in _harp_places(playing, fixed or (usual_position(drill),))
    ]


def _harp_places(playing: Playing, positions: Sequence[Position]) -> list[HarpPlace]:
    """Return each harp in each of *positions*, or for each key the harp that plays in it there.

    ``InputError`` for harps that do not play in the keys named beside them.
    """
    from reedmill.harp.harp_places import HarpPlace

    if not playing.keys:
        return [HarpPlace(harp, each) for harp in harps_of(playing) for each in positions]
    from reedmill.cli.for_keys import places_for_keys
    from reedmill.harp import layout_named

    named = harps_of(playing) if playing.harps else []
    places = places_for_keys(keys_of(playing), named, positions, layout_named(playing.tuning))
    if named:
        return places
    tuned = _as_tuned([each.harp for each in places], playing)
    return [HarpPlace(harp, each.position) for harp, each in zip(tuned, places, strict=True)]


def keys_of(playing: Playing) -> tuple[SongKey, ...]:
    """Return the keys of songs that are named; ``InputError`` for what is none."""
    from reedmill.practice.sound_limits import check_scores
    from reedmill.theory.song_keys import SongKey

    check_scores(sum(text.count(",") for text in playing.keys), 0)
    return SongKey.parse_list(*playing.keys)


def _held(drill: Drill, playing: Playing) -> Drill:
    """Return *drill* with the plans for the mouth that are asked for, if any."""
    from dataclasses import replace

    from reedmill.language.mouth_plans import parse_plans

    if not playing.embouchures:
        return drill
    return replace(drill, embouchures=parse_plans(*playing.embouchures))


def harps_of(playing: Playing) -> list[Harp]:
    """Return the harps that are named; with a player's own harp, only that one."""
    own = _own_harp(playing)
    usual = () if own is None else (own.harp,)
    return _as_tuned(named_harps(playing.harps or usual, playing.tuning), playing)


def _as_tuned(harps: Sequence[Harp], playing: Playing) -> list[Harp]:
    """Return *harps* as the player's own harp is, or in the temperament asked for."""
    from reedmill.base.errors import InputError

    own = _own_harp(playing)
    if own is None:
        return _tempered(harps, playing)
    if playing.temperament.casefold() != "equal":
        raise InputError(
            "--my-harp says of every reed how it is tuned. Leave out --temperament, or --my-harp."
        )
    return [harp.kept(own) for harp in harps]


def _tempered(harps: Sequence[Harp], playing: Playing) -> list[Harp]:
    """Return *harps* in the temperament asked for."""
    from reedmill.base.errors import InputError
    from reedmill.harp.temperaments import tempered

    found = [tempered(harp, playing.temperament) for harp in harps]
    if any(harp.own for harp in found) and playing.intonation.casefold() != "equal":
        raise InputError(
            f"--temperament {playing.temperament:.20} tunes the reeds, and --intonation "
            f"{playing.intonation:.20} would move the same notes again. Leave out one of them."
        )
    return found


def reference_of(playing: Playing) -> float:
    """Return A4 in Hz as asked for, else that of the player's own harp, else 440."""
    if playing.reference is not None:
        return playing.reference
    own = _own_harp(playing)
    return USUAL_REFERENCE_HZ if own is None else own.reference_hz


def _own_harp(playing: Playing) -> OwnHarp | None:
    if playing.my_harp is None:
        return None
    from pathlib import Path

    from reedmill.harp.own_harp import read_own_harp

    return read_own_harp(Path(playing.my_harp))


def again(before: Before) -> str:
    """Return the note to print after the path of a file that replaced another."""
    return {"nothing": "", "own": "  (made again)", "other": "  (replaced)"}[before.value]


def shown_kind(stem: str | None, kind: str) -> str:
    """Return what a file is, in one word for a list: its *stem* or else its *kind*."""
    return stem or kind.split("-")[0]


def file_line(kind: str, kinds: Iterable[str], path: Path, before: Before) -> str:
    """Return the line that shows a made file: its *kind* in a column for all *kinds*, its path."""
    width = max(map(len, kinds))
    return f"{kind:<{width}}  {path}{again(before)}"


def counted(number: int, what: str) -> str:
    """Format a count with its noun: ``1 bar``, ``2 bars``."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def unused_look(look: Look, *, drawn: bool, remedy: str) -> str:
    """Return the notice that the choices of *look* change nothing, because nothing is *drawn*.

    The *remedy* is a sentence; the notice is empty where all is well.
    """
    usual = type(look)()
    given = {
        f"--paper {look.paper}": look.paper != usual.paper,
        "--large": look.large,
        "--black": look.black,
        f"--show {look.show}": look.show != usual.show,
    }
    unused = [option for option, is_given in given.items() if is_given]
    if drawn or not unused:
        return ""
    change, they_are = ("changes", "it is") if len(unused) == 1 else ("change", "they are")
    return (
        f"{listed_words(unused)} {change} nothing here: {they_are} for sheets and charts. {remedy}"
    )


def listed_words(words: Sequence[str]) -> str:
    """Return *words* as a sentence lists them.

    >>> listed_words(["--tempo"]), listed_words(["--tempo", "--echo", "--over"])
    ('--tempo', '--tempo, --echo and --over')
    """
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else last


def look_of(looks: Looks) -> Look:
    """Return the look of a sheet that the options ask for."""
    from reedmill.sheet.look import look_named

    return look_named(looks.paper, looks.show, large=looks.large, black=looks.black)
