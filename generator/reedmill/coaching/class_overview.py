"""A class before its lesson: who stands where in the course, what is stuck, what to print.

Everything is made by pure functions from the outline of a course, the sums of a record book and
today's date.  A *place* is a rung as it is learned: from another note, on a register of harps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cached_property, lru_cache
from itertools import chain, zip_longest
from statistics import fmean
from unicodedata import combining, normalize

from reedmill.base.errors import InputError
from reedmill.base.text import NO_TEXT, ForeignText
from reedmill.coaching.drill_contents import DrillContent, Reached, library_contents
from reedmill.coaching.estimating import LearnedRung, Tally, likely_cents
from reedmill.harp import Harp
from reedmill.harp.harp_registers import REGISTERS, register
from reedmill.record.record_book import RecordBook, alike_name
from reedmill.record.rung_sums import DrillSum, RungSum, StudentSums, SummedDrill, Sums, fading
from reedmill.score.verdicts import Tolerance

STUCK_CENTS = Tolerance().near_cents
"""A place is stuck that is likely to be further out: not even nearly in place, on the average."""

IN_TUNE_CENTS = Tolerance().on_cents
"""A place that is not further out than this needs no sheet."""

ENOUGH_TRIES = 8
"""Fewer tries of a place say nothing of it alone."""

ENOUGH_OF_REGISTER = 24
"""With fewer tries a register counts as not played: two short drills."""

REGISTER_CENTS = 10.0
"""A register is behind where the same rungs are so much further out than on another one."""

_ENOUGH_RUNGS = 3  # that two registers share, before they are compared
_MOST_STUCK = 3  # places that are named
_MOST_COMPARED = 12  # places that all students are shown at


# --- what a course asks ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class OutlineExercise:
    """One drill of a lesson, with the harps and positions on which a take of it counts."""

    title: ForeignText
    harps: tuple[str, ...]  # by name; empty: any harp
    positions: tuple[int, ...]  # at least one


@dataclass(frozen=True, slots=True)
class OutlineLesson:
    """A lesson and those of its exercises that a student gets."""

    number: int  # from 1
    title: ForeignText
    exercises: tuple[OutlineExercise, ...]


@dataclass(frozen=True, slots=True)
class OutlineStudent:
    """The lessons of a course for one student, and his harps as far as they are known."""

    lessons: tuple[OutlineLesson, ...] = ()
    harps: tuple[Harp, ...] = ()  # that he has; empty: nobody knows
    registers: tuple[str, ...] = REGISTERS  # that he is to play


@dataclass(frozen=True, slots=True)
class CourseOutline:
    """A course as far as a class overview asks for it."""

    title: ForeignText
    everyone: OutlineStudent
    students: Mapping[ForeignText, OutlineStudent]  # in the course's order; none: all of the book


# --- what is seen ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LessonMark:
    """A lesson and how much of it a student has played in place."""

    number: int  # from 1
    title: ForeignText
    in_place: int  # exercises of which a take was
    exercises: int


@dataclass(frozen=True, slots=True)
class StudentPlace:
    """A place of one student, and how far out it is likely to be."""

    place: LearnedRung
    cents: float
    tries: int
    in_place: int  # of the tries


@dataclass(frozen=True, slots=True)
class RegisterNeed:
    """A register of harps that a student needs to play."""

    register: str
    harp: str | None  # one that he has; ``None``: he has none, or nobody knows
    further_cents: float | None  # than on the other one; ``None``: it was not played
    than: str | None  # the register on which the same rungs are nearest


@dataclass(frozen=True, slots=True)
class DrillToPrint:
    """The drill that practises a place most, and how it is asked for."""

    title: ForeignText
    named: str  # what it is asked for by: its title, or the path of its file
    harp: str
    position: int
    times: int  # that it comes to the rung
    exact: bool  # from the very note; else from others


@dataclass(frozen=True, slots=True)
class StudentOverview:
    """One student before the lesson."""

    name: ForeignText
    takes: int
    days: int  # on which at least one take was played
    last: str | None  # the day of the newest take, ISO 8601
    days_ago: int | None
    reached: LessonMark | None  # the furthest lesson of which most was in place
    next: LessonMark | None  # the one after it
    lessons: int  # the number of his last lesson that has exercises; 0 without a course
    stuck: tuple[StudentPlace, ...]  # the furthest out first
    weakest: StudentPlace | None
    register_needs: tuple[RegisterNeed, ...]
    to_print: DrillToPrint | None  # for the weakest place


@dataclass(frozen=True, slots=True)
class StuckPlace:
    """A place where students of a class are stuck."""

    place: LearnedRung
    students: tuple[ForeignText, ...]  # who are stuck there
    tried: int  # students who tried it often enough to tell
    cents: float  # how far out it is likely to be, the mean of those who are stuck


@dataclass(frozen=True, slots=True)
class ComparedPlace:
    """A place that is out of tune for at least one student, and how far out it is for each."""

    place: LearnedRung
    cents: tuple[float | None, ...]  # as the students are; ``None``: not tried often enough


@dataclass(frozen=True, slots=True)
class ClassStranger:
    """A student of the book whom the course does not know."""

    name: ForeignText
    takes: int
    nearest: str  # a student of the course without a take, whose name is much like it; or empty


@dataclass(frozen=True, slots=True)
class ClassOverview:
    """A class before its lesson."""

    course: ForeignText | None  # its title
    day: str  # of the overview, ISO 8601
    students: tuple[StudentOverview, ...]  # in the order of the course, or of their names
    stuck: tuple[StuckPlace, ...]  # where most are stuck first, at most three
    compared: tuple[ComparedPlace, ...]  # the same first, at most twelve
    strangers: tuple[ClassStranger, ...]


def class_overview(
    course: CourseOutline | None,
    sums: Sequence[StudentSums],
    contents: Iterable[DrillContent],
    today: date,
) -> ClassOverview:
    """Return how a class stands *today* by the *sums* of its record book.

    *contents* are the drills to choose sheets from.  Raises ``InputError`` where two students of
    the course are one to the book.
    """
    named = course.students if course else {}
    _check_apart(named)
    by_name = {alike_name(each.name): each for each in sums}
    known = {alike_name(name) for name in named}
    if named:
        everyone = [
            (replace(by_name.get(alike_name(name), _NOBODY), name=name), outline)
            for name, outline in named.items()
        ]
    else:
        usual = course.everyone if course else OutlineStudent()
        everyone = [(each, usual) for each in sums]
    idle = [str(each.name) for each, _ in everyone if not each.takes]
    choice = DrillChoice(contents)
    seen = [_Seen(each, outline, today) for each, outline in everyone]
    stuck = _stuck(seen)
    return ClassOverview(
        course=course.title if course else None,
        day=today.isoformat(),
        students=tuple(each.overview(choice) for each in seen),
        stuck=tuple(stuck[:_MOST_STUCK]),
        compared=tuple(_compared(seen, stuck)),
        strangers=tuple(
            ClassStranger(each.name, each.takes, _meant_name(each.name, idle))
            for each in sums
            if named and alike_name(each.name) not in known
        ),
    )


def book_overview(
    book: RecordBook,
    now: datetime,
    course: CourseOutline | None = None,
    own: Iterable[DrillContent] = (),
) -> ClassOverview:
    """Return how the students of *book* stand *now*, or those of *course*.

    Sheets are chosen from the library and from the drills of a course that are its *own*.  Raises
    ``InputError`` where two students of the course are one to the book.
    """
    sums = book.sums()
    heard = any(each.sums.rungs for each in sums)  # else there is nothing to choose a sheet for
    contents = chain(library_contents(), own) if heard else ()
    return class_overview(course, sums, contents, now.astimezone(UTC).date())


def _check_apart(named: Iterable[ForeignText]) -> None:
    taken: dict[str, ForeignText] = {}
    for name in named:
        other = taken.setdefault(alike_name(name), name)
        if other != name:
            raise InputError(
                f'the students "{other}" and "{name}" of the course are one to the record book, '
                f'which takes capital and small letters as the same. Write for example: "{name} B."'
            )


_ALIKE, _WORD_ALIKE = 0.85, 0.6  # of 1: how much of two names, and of each word of theirs, is alike
_MOST_ALIKE = 3  # names that are looked at word by word


def _meant_name(name: str, idle: Iterable[str]) -> str:
    """Return the name among *idle* that *name* may be a slip for; an empty string when none is.

    Each word must be alike by itself: a long family name that two people share says nothing.

    >>> _meant_name("Ana Schneider", ["Jan Schneider", "Anna Schneider"])
    'Anna Schneider'
    >>> _meant_name("Zoe", ["Zoë"]), _meant_name("Cleo (simulated)", ["Dan (simulated)"])
    ('Zoë', '')
    """
    from difflib import SequenceMatcher, get_close_matches  # a stranger alone asks

    def same_words(one: str, other: str) -> bool:
        pairs = list(zip_longest(one.split(), other.split(), fillvalue=""))
        return all(SequenceMatcher(None, *pair).ratio() >= _WORD_ALIKE for pair in pairs)

    plain = _without_accents(name)
    names = {_without_accents(each): each for each in idle}
    near = get_close_matches(plain, names, n=_MOST_ALIKE, cutoff=_ALIKE)
    return next((names[each] for each in near if same_words(plain, each)), "")


def _without_accents(name: str) -> str:
    apart = normalize("NFKD", name.casefold())
    return "".join(each for each in apart if not combining(each))


_NOBODY = StudentSums(NO_TEXT, 0, 0, None, Sums())


# --- one student -----------------------------------------------------------------------------


class _Seen:
    """A student with the estimates of all his places."""

    def __init__(self, of: StudentSums, outline: OutlineStudent, today: date) -> None:
        self.of, self.outline, self.today = of, outline, today
        self.rungs = {place: each for place, each in of.sums.rungs.items() if place.is_reached}
        self.cents = likely_cents(dict(_tallies(self.rungs, today)))

    def overview(self, choice: DrillChoice) -> StudentOverview:
        weakest = self.weakest
        last = self.of.last
        reached, following = standing(self.outline.lessons, self.of.sums.drills)
        return StudentOverview(
            name=self.of.name,
            takes=self.of.takes,
            days=self.of.days,
            last=last,
            days_ago=max(0, (self.today - date.fromisoformat(last)).days) if last else None,
            reached=reached,
            next=following,
            lessons=self._last_lesson,
            stuck=tuple(self.stuck),
            weakest=weakest,
            register_needs=tuple(self.register_needs()),
            to_print=choice.drill(weakest.place, self._harp_for(weakest.place.register))
            if weakest
            else None,
        )

    @property
    def _last_lesson(self) -> int:
        return max((each.number for each in self.outline.lessons if each.exercises), default=0)

    @cached_property
    def weakest(self) -> StudentPlace | None:
        """The place that is furthest out, of those tried often enough; ``None`` if it is in tune.

        Of places that are alike the first in the order of tab.
        """
        told = self.told
        place = min(told, key=lambda each: (-told[each], _in_order(each)), default=None)
        return self._weak(place) if place and told[place] > IN_TUNE_CENTS else None

    @cached_property
    def stuck(self) -> list[StudentPlace]:
        """The places where he is stuck, the furthest out first."""
        found = [self._weak(place) for place, cents in self.told.items() if cents > STUCK_CENTS]
        return sorted(found, key=lambda each: (-each.cents, _in_order(each.place)))

    @cached_property
    def told(self) -> Mapping[LearnedRung, float]:
        """The places that were tried often enough to tell, and how far out each is."""
        rungs = self.rungs
        return {
            place: cents
            for place, cents in self.cents.items()
            if rungs[place].tries >= ENOUGH_TRIES
        }

    def _weak(self, place: LearnedRung) -> StudentPlace:
        rung = self.rungs[place]
        return StudentPlace(place, self.cents[place], rung.tries, rung.in_place)

    # --- registers -----------------------------------------------------------------------

    def register_needs(self) -> Iterator[RegisterNeed]:
        """Yield the registers he needs: a second one, and those that are behind."""
        tries: dict[str, int] = defaultdict(int)
        for place, each in self.rungs.items():
            tries[place.register] += each.tries
        played = [name for name in REGISTERS if tries[name] >= ENOUGH_OF_REGISTER]
        unplayed = [name for name in self.outline.registers if name not in played]
        owned = [name for name in unplayed if self._own_harp(name)]
        if len(played) == 1 or (played and owned):
            for name in owned or unplayed:
                yield RegisterNeed(name, self._own_harp(name), None, None)
        for name in played:
            further = {other: self._further(name, other) for other in played if other != name}
            nearest = max(further, key=lambda other: further[other], default=None)
            if nearest and further[nearest] >= REGISTER_CENTS:
                yield RegisterNeed(name, self._harp_for(name), further[nearest], nearest)

    def _further(self, name: str, other: str) -> float:
        """Return by how many cents the rungs of both registers are further out on *name*."""
        here, there = self._by_register[name], self._by_register[other]
        apart = [here[each] - there[each] for each in here.keys() & there.keys()]
        return fmean(apart) if len(apart) >= _ENOUGH_RUNGS else 0.0

    @cached_property
    def _by_register(self) -> Mapping[str, Mapping[Reached, float]]:
        found: dict[str, dict[Reached, float]] = defaultdict(dict)
        for (tab, came_from, name), cents in self.cents.items():
            found[name][Reached(tab, came_from)] = cents
        return found

    def _own_harp(self, name: str) -> str | None:
        return next((each.name for each in self.outline.harps if register(each) == name), None)

    def _harp_for(self, name: str) -> str | None:
        """Return a harp of that register: of those he has, the one he played last."""
        owned = {each.name for each in self.outline.harps}
        last: dict[str, tuple[bool, str, int]] = {}
        for drill, each in self.of.sums.drills.items():
            if _register_of(drill.harp) == name:
                mark = (drill.harp in owned, each.last, each.takes)
                last[drill.harp] = max(mark, last.get(drill.harp, mark))
        played = max(last, key=lambda harp: (last[harp], harp), default=None)
        if played and (last[played][0] or not owned):
            return played
        return self._own_harp(name) or played


def _tallies(
    rungs: Mapping[LearnedRung, RungSum], today: date
) -> Iterator[tuple[LearnedRung, Tally]]:
    """Yield the tally of each rung; one so old that it counts nothing is left out."""
    left = fading(today)
    for place, each in rungs.items():
        weight = min(float(each.tries), left * each.weight)
        if weight > _NOTHING:
            yield place, Tally(each.tries, weight, each.out_sum / each.weight)


_NOTHING = 1e-6  # of a try: twenty half-lives, a year and more


@lru_cache(1000)
def _register_of(harp: str) -> str | None:
    try:
        return register(Harp.parse(harp))
    except InputError:
        return None


def _in_order(place: LearnedRung) -> tuple[str, str, int]:
    at = REGISTERS.index(place.register) if place.register in REGISTERS else len(REGISTERS)
    return place.tab, place.came_from or "", at


# --- where he stands -------------------------------------------------------------------------


def standing(
    lessons: Sequence[OutlineLesson], played: Mapping[SummedDrill, DrillSum]
) -> tuple[LessonMark | None, LessonMark | None]:
    """Return the furthest lesson of which most was played in place, and the one after it.

    An exercise was, where a take of its drill was mostly in place (``mostly_in_place``), on one of
    its harps in one of its positions.  A lesson without exercises is passed over.
    """
    good = {key for key, each in played.items() if each.good}
    marks = [
        LessonMark(each.number, each.title, sum(_was_played(one, good) for one in each.exercises),
                   len(each.exercises))
        for each in lessons if each.exercises
    ]  # fmt: skip
    mostly = [at for at, each in enumerate(marks) if 2 * each.in_place > each.exercises]
    at = mostly[-1] if mostly else -1
    return (
        marks[at] if mostly else None,
        marks[at + 1] if at + 1 < len(marks) else None,
    )


def _was_played(exercise: OutlineExercise, good: Iterable[SummedDrill]) -> bool:
    return any(
        each.drill == exercise.title
        and each.position in exercise.positions
        and (not exercise.harps or each.harp in exercise.harps)
        for each in good
    )


# --- the class -------------------------------------------------------------------------------


def _stuck(seen: Sequence[_Seen]) -> list[StuckPlace]:
    stuck: dict[LearnedRung, list[tuple[ForeignText, float]]] = defaultdict(list)
    tried: dict[LearnedRung, int] = defaultdict(int)
    for each in seen:
        for place, rung in each.rungs.items():
            tried[place] += rung.tries >= ENOUGH_TRIES
        for weak in each.stuck:
            stuck[weak.place].append((each.of.name, weak.cents))
    found = [
        StuckPlace(place, tuple(name for name, _ in who), tried[place], fmean(c for _, c in who))
        for place, who in stuck.items()
    ]
    found.sort(key=lambda each: (-len(each.students), -each.cents, _in_order(each.place)))
    return found


def _compared(seen: Sequence[_Seen], stuck: Sequence[StuckPlace]) -> Iterator[ComparedPlace]:
    """Yield the places of *stuck*, then those that are out of tune for most, twelve at most."""
    out: dict[LearnedRung, list[float]] = defaultdict(list)
    for each in seen:
        for place, cents in each.told.items():
            if cents > IN_TUNE_CENTS:
                out[place].append(cents)
    for found in stuck:
        del out[found.place]
    rest = sorted(out, key=lambda each: (-len(out[each]), -fmean(out[each]), _in_order(each)))
    for place in [*(found.place for found in stuck), *rest][:_MOST_COMPARED]:
        yield ComparedPlace(place, tuple(each.told.get(place) for each in seen))


class DrillChoice:
    """The drills of a library and a course, by what they practise."""

    def __init__(self, contents: Iterable[DrillContent]) -> None:
        self._best: dict[Reached, DrillContent] = {}
        self._best_of_tab: dict[str, DrillContent] = {}
        rung: dict[str, float] = {}
        for each in contents:
            of_tab: dict[str, int] = defaultdict(int)
            for reached, times in each.times.items():
                of_tab[reached.tab] += times
                known = self._best.get(reached)
                if known is None or _better(each, each.share(reached), known, known.share(reached)):
                    self._best[reached] = each
            for tab, times in of_tab.items():
                share = times / each.notes
                known = self._best_of_tab.get(tab)
                if known is None or _better(each, share, known, rung[tab]):
                    self._best_of_tab[tab], rung[tab] = each, share

    def drill(self, place: LearnedRung, harp: str | None) -> DrillToPrint | None:
        """Return the drill of which *place* is the largest part; ``None`` where no drill has it."""
        reached = Reached(place.tab, place.came_from)
        found, exact = self._best.get(reached), True
        if found is None:
            found, exact = self._best_of_tab.get(place.tab), False
        if found is None or harp is None:
            return None
        times = sum(
            count for each, count in found.times.items()
            if each == reached or (not exact and each.tab == place.tab)
        )  # fmt: skip
        return DrillToPrint(found.title, found.named, harp, found.position, times, exact)


def _better(one: DrillContent, share: float, known: DrillContent, known_share: float) -> bool:
    """Tell whether *one* is to be printed: by its share, then as the course has it, then easier."""
    return (share, one.of_course, -one.level) > (known_share, known.of_course, -known.level)
