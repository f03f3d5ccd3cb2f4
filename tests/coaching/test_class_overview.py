"""A teacher sees who stands where, where most are stuck, and what to print for whom."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import cast

import numpy as np
import pytest

from reedmill.base.errors import InputError
from reedmill.base.text import ForeignText, printable
from reedmill.coaching.class_overview import (
    ENOUGH_OF_REGISTER,
    ENOUGH_TRIES,
    REGISTER_CENTS,
    STUCK_CENTS,
    ClassOverview,
    CourseOutline,
    LessonMark,
    OutlineExercise,
    OutlineLesson,
    OutlineStudent,
    RegisterNeed,
    StudentOverview,
    class_overview,
    standing,
)
from reedmill.coaching.drill_contents import DrillContent, Reached, library_contents
from reedmill.coaching.estimating import (
    HALF_LIFE_DAYS,
    LearnedRung,
    Tally,
    estimates,
    likely_cents,
    tallies,
)
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.harp.harp_registers import register
from reedmill.library import find_drills
from reedmill.record.kept_take import Try
from reedmill.record.rung_sums import DrillSum, StudentSums, SummedDrill, Sums
from reedmill.score.verdicts import Tolerance
from reedmill.theory.positions import Position

TODAY = date(2027, 3, 10)
HOSTILE = ["\u202eadA", "a\x1b[31mb", "'; DROP TABLE student; --", "<b>", "x" * 200]


def t(text: str) -> ForeignText:
    return printable(text)


def tries(tab: str, before: str | None, *cents: float | None) -> list[Try]:
    """Tries of one rung, each so many cents out; one without cents was another note."""
    return [Try(tab, before, each, Tolerance().verdict(each)) for each in cents if each is not None]


def student(
    name: str, *takes: tuple[str, int, Sequence[Try]], title: str = "Home", position: int = 2
) -> StudentSums:
    """A student with takes: the harp, how many days ago, the tries."""
    sums, days = Sums(), []
    for harp, ago, tried in takes:
        days.append((TODAY - timedelta(days=ago)).isoformat())
        sums.add(SummedDrill(t(title), harp, position), register(Harp.parse(harp)), days[-1], tried)
    return StudentSums(t(name), len(takes), len(set(days)), max(days, default=None), sums)


def seen(
    *students: StudentSums,
    course: CourseOutline | None = None,
    contents: Sequence[DrillContent] = (),
) -> ClassOverview:
    return class_overview(course, students, contents, TODAY)


def course_of(
    *names: str, everyone: OutlineStudent | None = None, **own: OutlineStudent
) -> CourseOutline:
    usual = everyone or OutlineStudent()
    return CourseOutline(t("Bends"), usual, {t(name): own.get(name, usual) for name in names})


def named(found: ClassOverview) -> Mapping[str, StudentOverview]:
    return {str(each.name): each for each in found.students}


FINE = [*tries("-3'", "-2", *[3.0] * 12), *tries("-2", "-3'", *[2.0] * 12)]
WILD = tries("-3''", "-2", *[48.0] * 12)  # a semitone is 100 cents
OFF = tries("-4'", "4", *[36.0] * 12)


# --- what is stuck ------------------------------------------------------------------------------


def test_of_three_students_the_place_where_two_are_stuck_comes_first() -> None:
    found = seen(
        student("Ada", ("C", 1, [*FINE, *WILD])),
        student("Ben", ("C", 0, [*FINE, *WILD, *OFF])),
        student("Cem", ("C", 2, [*FINE, *tries("-3''", "-2", *[4.0] * 12)])),
    )
    first, second = found.stuck
    assert (first.place, first.students, first.tried) == (
        LearnedRung("-3''", "-2", "middle"), ("Ada", "Ben"), 3
    )  # fmt: skip
    assert (second.place, second.students, second.tried) == (
        LearnedRung("-4'", "4", "middle"), ("Ben",), 1
    )  # fmt: skip
    assert 40 < first.cents < 49  # drawn a little to what else they play
    by_name = named(found)
    assert by_name["Cem"].stuck == ()
    assert [each.place.tab for each in by_name["Ben"].stuck] == ["-3''", "-4'"]
    assert (by_name["Ben"].stuck[0].tries, by_name["Ben"].stuck[0].in_place) == (12, 0)


def test_a_place_is_one_register_and_one_note_before() -> None:
    """The same rung from another note, and on another harp, is another place."""
    found = seen(
        student("Ada", ("C", 1, [*FINE, *WILD])),
        student("Ben", ("low F", 1, [*FINE, *WILD])),
        student("Cem", ("C", 1, [*FINE, *tries("-3''", "-3'", *[48.0] * 12)])),
    )
    assert {(each.place.came_from, each.place.register, each.students) for each in found.stuck} == {
        ("-2", "middle", ("Ada",)), ("-2", "low", ("Ben",)), ("-3'", "middle", ("Cem",)),
    }  # fmt: skip


def test_no_more_than_three_places_are_named() -> None:
    wild = [one for tab in ("-3''", "-3'", "-4'", "-2'", "-1'")
            for one in tries(tab, "-2", *[50.0] * 12)]  # fmt: skip
    found = seen(student("Ada", ("C", 1, wild)))
    assert len(found.stuck) == 3
    assert len(found.students[0].stuck) == 5


def test_places_are_compared_where_somebody_is_out_of_tune_the_stuck_first() -> None:
    """Ada and Ben are stuck; Cem is a little out at a place where nobody is; one is in tune."""
    off = tries("-3'", "-2", *[15.0] * 40)
    fine = tries("-4", "4", *[2.0] * 40)
    found = seen(
        student("Ada", ("C", 1, [*WILD, *fine])),
        student("Ben", ("C", 1, [*WILD, *OFF, *off, *fine])),
        student("Cem", ("C", 1, [*off, *tries("-3''", "-2", 1.0)])),
        student("Dee"),
    )
    assert [each.place.tab for each in found.compared] == ["-3''", "-4'", "-3'"]
    assert [each.place for each in found.compared[:2]] == [each.place for each in found.stuck]
    wild, off_place, a_little = (each.cents for each in found.compared)
    assert [cents is None for cents in wild] == [False, False, True, True]
    assert [cents is None for cents in off_place] == [True, False, True, True]
    assert [cents is None for cents in a_little] == [True, False, False, True]
    by_name = named(found)
    weakest = by_name["Ben"].weakest
    assert weakest
    assert wild[1] == weakest.cents
    assert a_little[2] == pytest.approx(15, abs=1.5)


def test_no_more_than_twelve_places_are_compared() -> None:
    wild = [one for hole in range(1, 8) for breath in ("", "-")
            for one in tries(f"{breath}{hole}", "8", *[50.0] * 12)]  # fmt: skip
    found = seen(student("Ada", ("C", 1, wild)))
    assert len(found.students[0].stuck) == 14
    assert len(found.compared) == 12
    assert [each.place for each in found.compared] == [
        each.place for each in found.students[0].stuck[:12]
    ]


@pytest.mark.parametrize(("count", "is_stuck"), [(ENOUGH_TRIES - 1, False), (ENOUGH_TRIES, True)])
def test_a_few_tries_say_nothing(count: int, is_stuck: bool) -> None:
    found = seen(student("Ada", ("C", 0, tries("-3''", "-2", *[60.0] * count))))
    assert bool(found.stuck) == is_stuck
    assert found.students[0].takes == 1


def test_where_a_note_is_nearly_in_place_nobody_is_stuck() -> None:
    many = 200
    below = seen(student("Ada", ("C", 0, tries("-3''", "-2", *[STUCK_CENTS - 1] * many))))
    above = seen(student("Ada", ("C", 0, tries("-3''", "-2", *[STUCK_CENTS + 1] * many))))
    assert (len(below.stuck), len(above.stuck)) == (0, 1)
    assert STUCK_CENTS == 25  # cents: beyond this a verdict is sharp or flat


def test_who_has_learned_it_since_is_not_stuck() -> None:
    """Fifteen weeks are five half-lives: an old try counts a 32nd."""
    old, new = tries("-3''", "-2", *[55.0] * 20), tries("-3''", "-2", *[6.0] * 20)
    found = seen(student("Ada", ("C", 105, old), ("C", 0, new)))
    assert found.stuck == ()
    assert seen(student("Ada", ("C", 105, new), ("C", 0, old))).stuck


def test_tries_of_years_ago_say_nothing() -> None:
    found = seen(student("Ada", ("C", 2000, WILD)))
    assert (found.stuck, found.students[0].weakest) == ((), None)
    assert found.students[0].days_ago == 2000


def test_estimates_are_those_of_tries_one_by_one() -> None:
    """The sums of a book and a list of tries with their ages are two ways to one estimate."""
    rng = random.Random(4)
    rungs = [("-3'", "-2"), ("-3''", "-2"), ("-2", None), ("-4'", "4")]
    heard, takes = [], []
    for ago in range(0, 90, 3):
        harp = rng.choice(("C", "F", "A"))
        tried = [one for tab, before in rungs for one in tries(tab, before, rng.uniform(-59, 59))]
        takes.append((harp, ago, tried))
        for one in tried:
            if one.came_from is None:
                continue
            place = LearnedRung(one.tab, one.came_from, register(Harp.parse(harp)))
            heard.append((place, abs(cast("float", one.cents)), float(ago)))
    one_by_one = tallies(heard)
    wanted = estimates(one_by_one, list(one_by_one))
    found = seen(student("Ada", *takes)).students[0]
    most = max(wanted, key=lambda each: wanted[each].cents if wanted[each].tries >= 8 else 0)
    assert found.weakest is not None
    assert found.weakest.place == most
    assert found.weakest.cents == pytest.approx(wanted[most].cents, abs=1e-6)
    quick = likely_cents(one_by_one)
    assert quick.keys() == wanted.keys()
    assert all(quick[each] == pytest.approx(wanted[each].cents, abs=1e-9) for each in wanted)
    assert HALF_LIFE_DAYS == 7


def test_a_first_note_and_one_that_is_played_again_are_no_places() -> None:
    odd = [*tries("-3''", "-3''", *[50.0] * 30), *tries("-2", None, *[50.0] * 30)]
    found = seen(student("Ada", ("C", 0, [*FINE, *odd])))
    assert (found.stuck, found.students[0].weakest) == ((), None)


def test_a_place_that_counts_nothing_has_no_estimate() -> None:
    place = LearnedRung("-3'", "-2", "low")
    assert likely_cents({place: Tally(3, 0.0, 50.0)}) == {}
    assert likely_cents({}) == {}


# --- where each stands --------------------------------------------------------------------------


def exercise(title: str, *harps: str, positions: tuple[int, ...] = (2,)) -> OutlineExercise:
    return OutlineExercise(t(title), harps, positions)


LESSONS = (
    OutlineLesson(1, t("Home"), (exercise("A"), exercise("B"), exercise("C"))),
    OutlineLesson(2, t("Text alone"), ()),
    OutlineLesson(3, t("Rungs"), (exercise("D", "C", "low F"), exercise("E"))),
    OutlineLesson(4, t("Low"), (exercise("F", positions=(1, 3)),)),
)


def good(title: str, harp: str = "C", position: int = 2) -> tuple[SummedDrill, DrillSum]:
    return SummedDrill(t(title), harp, position), DrillSum(3, 1, "2027-03-01")


@pytest.mark.parametrize(
    ("played", "reached", "following"),
    [
        ([], None, (1, 0, 3)),
        ([good("A")], None, (1, 1, 3)),
        ([good("A"), good("B", "G")], (1, 2, 3), (3, 0, 2)),  # any harp, where none is named
        ([good("A"), good("A", "G")], None, (1, 1, 3)),  # one exercise, however often
        ([good("D"), good("E")], (3, 2, 2), (4, 0, 1)),  # the furthest, whatever came before
        ([good("A"), good("B"), good("D", "low F")], (1, 2, 3), (3, 1, 2)),  # half is not most
        ([good("A"), good("B"), good("D", "F"), good("E")], (1, 2, 3), (3, 1, 2)),  # other harp
        ([good("F")], None, (1, 0, 3)),  # another position than the course gives it
        ([good("F", "A", 3)], (4, 1, 1), None),
        ([(good("F", "A", 3)[0], DrillSum(5, 0, "2027-03-01"))], None, (1, 0, 3)),  # never in place
    ],
)  # fmt: skip
def test_a_lesson_is_reached_when_most_of_it_was_in_place(
    played: list[tuple[SummedDrill, DrillSum]],
    reached: tuple[int, int, int] | None,
    following: tuple[int, int, int] | None,
) -> None:
    def figures(mark: LessonMark | None) -> tuple[int, int, int] | None:
        return None if mark is None else (mark.number, mark.in_place, mark.exercises)

    found = standing(LESSONS, dict(played))
    assert tuple(map(figures, found)) == (reached, following)


def test_each_student_has_lessons_of_his_own() -> None:
    short = OutlineStudent(LESSONS[:1])
    course = course_of("Ada", "Ben", everyone=OutlineStudent(LESSONS), Ben=short)
    takes = [("C", 0, FINE)]
    found = named(seen(student("Ada", *takes, title="A"), student("Ben", *takes, title="A"),
                       course=course))  # fmt: skip
    for name in ("Ada", "Ben"):
        following = found[name].next
        assert following is not None
        assert (following.number, following.in_place, following.title) == (1, 1, "Home")
    # Ben has the first lesson alone; the others are told by the last that has exercises.
    with_exercises = [each.number for each in LESSONS if each.exercises]
    assert (found["Ada"].lessons, found["Ben"].lessons) == (max(with_exercises), 1)


def test_without_a_course_nobody_stands_anywhere() -> None:
    found = seen(student("Ada", ("C", 3, FINE)))
    [ada] = found.students
    assert (found.course, ada.reached, ada.next, ada.days_ago) == (None, None, None, 3)
    assert ada.lessons == 0
    assert (ada.last, ada.days) == ("2027-03-07", 1)


# --- who is in the class ------------------------------------------------------------------------


def test_students_of_the_course_come_in_its_order_with_and_without_takes() -> None:
    found = seen(
        student("Zo\u00eb", ("C", 0, FINE)), student("ada", ("C", 0, FINE)),
        course=course_of("Zo\u00eb", "Ben", "Ada"),
    )  # fmt: skip
    assert [(each.name, each.takes) for each in found.students] == [
        ("Zo\u00eb", 1), ("Ben", 0), ("Ada", 1),
    ]  # fmt: skip
    idle = named(found)["Ben"]
    assert (idle.last, idle.days_ago, idle.weakest, idle.to_print) == (None, None, None, None)
    assert idle.register_needs == ()


def test_a_student_whom_the_course_does_not_know_is_told_of_and_counts_nowhere() -> None:
    found = seen(
        student("Ada", ("C", 0, FINE)), student("Zoe", ("C", 0, WILD)),
        student("Quentin", ("C", 0, WILD)), course=course_of("Ada", "Zo\u00eb"),
    )  # fmt: skip
    assert [(each.name, each.takes, each.nearest) for each in found.strangers] == [
        ("Zoe", 1, "Zo\u00eb"), ("Quentin", 1, ""),
    ]  # fmt: skip
    assert found.stuck == ()


@pytest.mark.parametrize(
    ("in_book", "in_course", "meant"),
    [
        ("Anna Schneider", "Jan Schneider", ""),  # the family of two
        ("Cleo (simulated)", "Dan (simulated)", ""),
        ("Student A", "Student B", ""),
        ("Ada Schneider", "Ada", ""),
        ("Ana Schneider", "Anna Schneider", "Anna Schneider"),
        ("anna schnieder", "Anna Schneider", "Anna Schneider"),
        ("Anna Schneider", "Anna Schneidewind", ""),
        ("Jose\u0301 Gu\u0308nes", "Jose Gunes", "Jose Gunes"),
        ("Quentin", "Zo\u00eb", ""),
    ],
)
def test_a_slip_of_the_hand_is_seen_and_two_people_are_not_taken_for_one(
    in_book: str, in_course: str, meant: str
) -> None:
    [stranger] = seen(student(in_book, ("C", 0, FINE)), course=course_of(in_course)).strangers
    assert stranger.nearest == meant


def test_whoever_has_takes_of_his_own_is_not_meant_by_a_name_that_is_like_his() -> None:
    """Both play, so they are two."""
    both = [student("Anna", ("C", 0, FINE)), student("Hanna", ("C", 0, FINE))]
    [stranger] = seen(*both, course=course_of("Anna")).strangers
    assert (stranger.name, stranger.nearest) == ("Hanna", "")
    [stranger] = seen(both[1], course=course_of("Anna")).strangers
    assert stranger.nearest == "Anna"


def test_two_students_with_nearly_the_same_name_are_two() -> None:
    course = course_of("Jose", "Jos\u00e9")
    found = seen(student("Jose", ("C", 0, FINE)), student("Jos\u00e9", ("C", 0, WILD)),
                 course=course)  # fmt: skip
    assert [each.students for each in found.stuck] == [("Jos\u00e9",)]
    assert found.strangers == ()


def test_two_students_who_are_one_to_the_book_are_refused() -> None:
    with pytest.raises(InputError) as refused:
        seen(course=course_of("Ada", "ADA"))
    assert str(refused.value) == (
        'the students "Ada" and "ADA" of the course are one to the record book, which takes '
        'capital and small letters as the same. Write for example: "ADA B."'
    )


def test_a_course_without_students_shows_the_whole_book() -> None:
    course = course_of(everyone=OutlineStudent(LESSONS))
    found = seen(student("Ada", ("C", 0, FINE), title="A"), course=course)
    assert [(each.name, each.next and each.next.number) for each in found.students] == [("Ada", 1)]
    assert (found.course, found.strangers) == ("Bends", ())


def test_an_empty_book_is_an_empty_class() -> None:
    found = seen()
    assert (found.students, found.stuck, found.strangers) == ((), (), ())
    assert found.day == "2027-03-10"


def test_nine_students_are_nine_and_the_most_crowded_place_comes_first() -> None:
    """Everyone is stuck at -3'' but two, five of them at -4' too, and one at -1'."""
    several = []
    for number in range(9):
        tried = list(FINE)
        tried += WILD if number < 7 else tries("-3''", "-2", *[5.0] * 12)
        tried += OFF if number < 5 else tries("-4'", "4", *[5.0] * 12)
        tried += tries("-1'", "1", *[44.0 if number == 3 else 6.0] * 12)
        several.append(student(f"Student {number}", ("C", number, tried)))
    found = seen(*several)
    assert [(each.place.tab, len(each.students), each.tried) for each in found.stuck] == [
        ("-3''", 7, 9), ("-4'", 5, 9), ("-1'", 1, 9),
    ]  # fmt: skip
    assert [each.days_ago for each in found.students] == list(range(9))


@pytest.mark.parametrize("name", HOSTILE)
def test_a_strangers_name_is_only_a_name(name: str) -> None:
    course = course_of(name, "Ada")
    found = seen(student(name, ("C", 0, WILD)), course=course)
    assert (found.students[0].takes, found.strangers) == (1, ())
    assert found.stuck[0].students == (printable(name),)


# --- registers ----------------------------------------------------------------------------------


def harps(*names: str) -> tuple[Harp, ...]:
    return tuple(Harp.parse(name) for name in names)


def needs(outline: OutlineStudent, *takes: tuple[str, int, Sequence[Try]]) -> list[RegisterNeed]:
    course = course_of("Ada", everyone=outline)
    return list(seen(student("Ada", *takes), course=course).students[0].register_needs)


def test_who_played_one_register_alone_needs_another() -> None:
    twice = [("C", 0, [*FINE, *FINE])]
    assert needs(OutlineStudent(), *twice) == [
        RegisterNeed("high", None, None, None), RegisterNeed("low", None, None, None),
    ]  # fmt: skip
    assert needs(OutlineStudent(harps=harps("C", "A")), *twice) == [
        RegisterNeed("low", "A", None, None)
    ]
    assert needs(OutlineStudent(registers=("middle",)), *twice) == []  # as his teacher wants it
    few = tries("-3'", "-2", *[3.0] * (ENOUGH_OF_REGISTER - 1))
    assert needs(OutlineStudent(), ("C", 0, few)) == []


def test_two_registers_are_enough_unless_he_has_a_harp_of_the_third() -> None:
    takes = [("C", 0, FINE), ("A", 0, FINE)]
    assert needs(OutlineStudent(), *takes) == []
    assert needs(OutlineStudent(harps=harps("C", "A")), *takes) == []
    assert needs(OutlineStudent(harps=harps("C", "A", "F")), *takes) == [
        RegisterNeed("high", "F", None, None)
    ]


def rungs(out: float) -> list[Try]:
    return [one for tab in ("-3'", "-3''", "-4'", "-2'") for one in tries(tab, "-2", *[out] * 40)]


def test_a_register_on_which_the_same_rungs_are_further_out_is_named() -> None:
    found = needs(OutlineStudent(), ("C", 0, rungs(8.0)), ("A", 0, rungs(30.0)))
    [low] = found
    assert (low.register, low.harp, low.than) == ("low", "A", "middle")
    assert low.further_cents == pytest.approx(22, abs=3)
    near = needs(OutlineStudent(), ("C", 0, rungs(8.0)), ("A", 0, rungs(REGISTER_CENTS + 4)))
    assert near == []


def test_registers_are_compared_by_the_rungs_they_share() -> None:
    """Nobody is behind on low harps because he plays harder rungs there."""
    hard = [one for tab in ("-3'", "-3''") for one in tries(tab, "-4", *[45.0] * 40)]
    assert needs(OutlineStudent(), ("C", 0, rungs(8.0)), ("A", 0, hard)) == []


# --- what to print ------------------------------------------------------------------------------


def content(title: str, times: dict[tuple[str, str | None], int], **more: object) -> DrillContent:
    counts = {Reached(*each): count for each, count in times.items()}
    whole = {"named": title, "position": 2, "level": 2, "notes": 20, **more}
    return DrillContent(t(title), times=counts, **whole)  # type: ignore[arg-type]


WAY = ("-3''", "-2")


def printed(*contents: DrillContent, harp: str = "C", outline: OutlineStudent | None = None) -> str:
    course = course_of("Ada", everyone=outline or OutlineStudent())
    [ada] = seen(student("Ada", (harp, 0, WILD)), course=course, contents=contents).students
    each = ada.to_print
    return f"{each.title} {each.harp} {each.position} {each.times} {each.exact}" if each else ""


def test_the_drill_is_printed_of_which_the_place_is_the_largest_part() -> None:
    less, most = content("Less", {WAY: 4}), content("Most", {WAY: 9, ("-2", "-3''"): 9})
    long = content("Long", {WAY: 10}, notes=80)
    assert printed(less, most, long) == "Most C 2 9 True"
    assert printed(long, most, less) == "Most C 2 9 True"


def test_of_two_alike_the_courses_own_is_printed_and_then_the_easier() -> None:
    hard, easy = content("Hard", {WAY: 9}, level=4), content("Easy", {WAY: 9}, level=1)
    own = content("Own", {WAY: 9}, level=5, of_course=True, position=3)
    assert printed(hard, easy) == printed(easy, hard) == "Easy C 2 9 True"
    assert printed(hard, easy, own) == "Own C 3 9 True"


def test_a_rung_that_no_drill_reaches_from_there_is_printed_from_elsewhere() -> None:
    other = content("Other", {("-3''", "-3'"): 5, ("-3''", "4"): 2, ("-3'", "-2"): 9})
    assert printed(other) == "Other C 2 7 False"
    assert printed(content("None of it", {("-4'", "4"): 9})) == ""


def test_the_harp_is_one_of_that_register_that_he_has_and_plays() -> None:
    drill = content("Drill", {WAY: 9})
    assert printed(drill, harp="Bb") == "Drill Bb 2 9 True"
    assert printed(drill, harp="Bb", outline=OutlineStudent(harps=harps("C", "A", "Bb"))) == (
        "Drill Bb 2 9 True"
    )
    assert printed(drill, harp="Bb", outline=OutlineStudent(harps=harps("C", "A"))) == (
        "Drill A 2 9 True"  # that Bb harp was his teacher's
    )
    last = seen(student("Ada", ("A", 9, WILD), ("G", 2, WILD)), contents=[drill]).students[0]
    assert last.to_print is not None
    assert last.to_print.harp == "G"


def test_who_is_in_tune_everywhere_needs_no_sheet() -> None:
    [ada] = seen(student("Ada", ("C", 0, FINE)), contents=[content("D", {WAY: 9})]).students
    assert (ada.weakest, ada.to_print) == (None, None)


def test_the_library_is_counted_note_by_note() -> None:
    """Against the scores themselves, counted another way."""
    contents = {each.title: each for each in library_contents()}
    for title in ("Home from every rung", "Step from the rung before", "Two holes, one note"):
        [drill] = find_drills(title)
        found = contents[drill.title]
        tabs = [note.reed.tab for note in expand(drill, Harp("A"), Position(2)).notes]
        for reached in found.times:
            wanted = sum(
                tabs[at] == reached.tab and (tabs[at - 1] if at else None) == reached.came_from
                for at in range(len(tabs))
            )
            assert found.times[reached] == wanted
        assert sum(found.times.values()) == found.notes == len(tabs)
        assert not found.of_course


def test_an_average_student_of_the_model_is_not_stuck() -> None:
    """Who is out by a normal 18 cents is out by 14 in the mean: most are under the tolerance."""
    rng = np.random.default_rng(3)
    stuck = 0
    for _ in range(40):
        out = [float(each) for each in np.clip(rng.normal(0, 18, 40), -60, 60)]
        stuck += bool(seen(student("Ada", ("C", 0, tries("-3'", "-2", *out)))).stuck)
    assert stuck == 0
