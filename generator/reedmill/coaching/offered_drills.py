"""Drills that may be practised next: those of the library, and ones written for the student."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from statistics import median

from reedmill.base.errors import InputError
from reedmill.coaching.drill_contents import reached_in
from reedmill.coaching.estimating import LearnedRung
from reedmill.coaching.needs import Needs
from reedmill.coaching.planning import Offer
from reedmill.coaching.practice_history import PracticeHistory
from reedmill.coaching.written_drills import MOST_SURVEYED, Writer
from reedmill.expand import expand
from reedmill.harp import Harp, Reed, ReedKind
from reedmill.harp.harp_registers import register
from reedmill.language import parse
from reedmill.library import Shelved, practice_shelf, shipped
from reedmill.record.kept_take import MOSTLY
from reedmill.score.score import Score
from reedmill.theory.positions import Position

_Write = Callable[[Writer, Sequence[LearnedRung], int, str], tuple[str, str]]

_FINE = 0.6
"""The share of a take's notes in place from which it goes well."""

_FASTER, _SLOWER = 1.08, 0.9  # times the tempo: eight in a hundred are just heard
_AHEAD = 1.1  # times the tempo at which a rung was tried that is not in tune yet
_SLOWEST, _USUAL_TEMPO, _FASTEST = 44, 60, 88  # of a drill that is written
_FAR_CENTS = 25.0  # a rung that is further out is practised more slowly
_FOCUSED = 4  # rungs of a register for which a drill is written, before the best is chosen
_PIECES = ("riffs", "blues", "chords", "melodies")  # topics of the library that are music
_RECENT = 3  # takes of a drill that tell how it goes now


def of_the_library(history: PracticeHistory, harp: Harp, position: Position) -> Iterator[Offer]:
    """Yield the drills of the library up to one level above the student's, at his tempo."""
    most = level(history) + (1 if history.takes else 0)
    for each in practice_shelf():
        if (each.drill.level or 1) <= most:
            score = _score(each, harp, position)
            if score is not None:
                yield _offer(history, each, score)


def level(history: PracticeHistory) -> int:
    """Return the highest level of which a drill went well, 1 where none did."""
    fine = {each.title for each in history.takes if each.in_place >= _FINE}
    return max((each.drill.level or 1 for each in shipped() if each.drill.title in fine), default=1)


@lru_cache(maxsize=2000)
def _score(shelved: Shelved, harp: Harp, position: Position) -> Score | None:
    """Return the drill on *harp*, or ``None`` where it is not meant for that or lacks a note."""
    meant = shelved.drill.positions
    if meant and position.number not in meant:
        return None
    try:
        return expand(shelved.drill, harp, position)
    except InputError:
        return None


def _offer(history: PracticeHistory, shelved: Shelved, score: Score) -> Offer:
    drill, first = shelved.drill, score.tempo_bpm
    # A slow bend is made harder by less tempo, not by more: such a drill stays as it is.
    goal = max(drill.tempo_goal_bpm or first, first)
    tempo, mastered = _tempo(history, drill.title, score, goal)
    return Offer(
        title=drill.title,
        harp=score.harp.full_name,
        position=score.position.number,
        tempo=tempo,
        seconds=float(score.seconds(score.length)) * first / tempo,
        level=drill.level or 1,
        tries=rungs_of(score, lambda reed: reed.kind is not ReedKind.NATURAL),
        music=shelved.topic in _PIECES,
        faster_than=mastered,
    )


def _tempo(history: PracticeHistory, title: str, score: Score, goal: int) -> tuple[int, int]:
    """Return the tempo to practise at, and the one that is mastered if this is the next."""
    first, name = score.tempo_bpm, register(score.harp)
    takes = [
        each
        for each in history.by_title.get(title, ())
        if each.register == name and each.position == score.position.number
    ][-_RECENT:]
    if not takes:
        return first, 0
    good = median(each.in_place for each in takes)
    played = min(max(round(median(each.tempo for each in takes)), first), max(first, goal))
    if good >= MOSTLY and played < goal:
        return min(goal, round(played * _FASTER)), played
    return (played if good >= _FINE else first), 0


def rungs_of(score: Score, counts: Callable[[Reed], bool]) -> Mapping[LearnedRung, int]:
    """Return how often *score* comes to each reed that *counts*, by the note before it."""
    name = register(score.harp)
    found = {LearnedRung(*each, name): times for each, times in reached_in(score).items()}
    return Counter({
        rung: times for rung, times in found.items()
        if rung.is_reached and counts(Reed.parse(rung.tab))
    })  # fmt: skip


def written_for(
    history: PracticeHistory, needs: Needs, harp: Harp, position: Position,
    met: Collection[LearnedRung],
) -> Iterator[Offer]:  # fmt: skip
    """Yield drills written for the rungs with most to gain in the register of *harp*.

    Of those he has *met*, the ones that were never heard are in a survey.
    """
    name = register(harp)
    there = [rung for rung in needs.known if rung.register == name and _playable(rung, harp)]
    urgent = sorted(there, key=lambda rung: (-needs.gain(rung, 2), str(rung)))
    heard = [rung for rung in urgent if needs.known[rung].tries]
    writer = Writer(harp, position)
    for rung in heard[:_FOCUSED]:
        yield _written(Writer.focus, writer, (rung,), _slow(history, needs, [rung]), needs)
    if len(heard) >= _FOCUSED:
        several = tuple(heard[:_FOCUSED])
        yield _written(Writer.in_turn, writer, several, _slow(history, needs, several), needs)
    unheard = [rung for rung in urgent if rung in met and not needs.known[rung].tries]
    if len(unheard) > 1:
        few = tuple(unheard[:MOST_SURVEYED])
        yield replace(_written(Writer.survey, writer, few, _USUAL_TEMPO, needs), survey=True)


def _slow(history: PracticeHistory, needs: Needs, rungs: Sequence[LearnedRung]) -> int:
    """Return the tempo to find *rungs* at: as they were tried, slower where one is far out."""
    tried = [tempo for rung in rungs if (tempo := history.tempo(rung)) is not None]
    usual = min(tried, default=_USUAL_TEMPO)
    far = any(needs.known[rung].cents > _FAR_CENTS for rung in rungs)
    return _bounded(usual * (_SLOWER if far else 1.0))


def at_their_tempo(offer: Offer, history: PracticeHistory, needs: Needs) -> Offer:
    """Return a drill of the library no faster than its rungs allow that are not in tune yet.

    A rung is not practised more than a tenth faster than it was tried.
    """
    tried = [tempo for rung in offer.tries
             if needs.is_wanting(rung) and (tempo := history.tempo(rung)) is not None]  # fmt: skip
    slower = max(_SLOWEST, round(_AHEAD * min(tried, default=math.inf))) if tried else offer.tempo
    if slower >= offer.tempo:
        return offer
    seconds = offer.seconds * offer.tempo / slower
    return replace(offer, tempo=slower, seconds=seconds, faster_than=0)


def _bounded(tempo: float) -> int:
    return round(min(max(tempo, _SLOWEST), _FASTEST))


def _playable(rung: LearnedRung, harp: Harp) -> bool:
    tabs = (rung.tab, rung.came_from or rung.tab)
    return all(harp.refusal(Reed.parse(tab)) is None for tab in tabs)


def _written(
    write: _Write, writer: Writer, rungs: tuple[LearnedRung, ...], tempo: int, needs: Needs
) -> Offer:
    why = f"Written for {needs.said_of(rungs[0])}"
    if write is Writer.survey:
        why = "Written to hear where rungs lie that were never heard"
    title, text = write(writer, rungs, tempo, why)
    beats, tries = _facts(write, writer, rungs)
    return Offer(
        title=title,
        harp=writer.harp.full_name,
        position=writer.position.number,
        tempo=tempo,
        seconds=60 * beats / tempo,
        tries=tries,
        pattern=text,
    )


@lru_cache(maxsize=2000)
def _facts(
    write: _Write, writer: Writer, rungs: tuple[LearnedRung, ...]
) -> tuple[float, Mapping[LearnedRung, int]]:
    """Return the beats of one pass, and the tries in it of the *rungs* it is written for.

    They are the same at every tempo.
    """
    title, text = write(writer, rungs, _USUAL_TEMPO, "Written")
    [drill] = parse(text, title)
    score = expand(drill, writer.harp, writer.position)
    wanted = {rung.tab for rung in rungs}
    tries = rungs_of(score, lambda reed: reed.tab in wanted)
    return float(score.length), {rung: tries[rung] for rung in rungs if rung in tries}


def one_each(harps: Sequence[Harp]) -> dict[str, Harp]:
    """Return one harp for each register: the last of *harps* in it."""
    return {register(harp): harp for harp in harps}
