"""The page of a class: its figures are those of the overview, student by student."""

from __future__ import annotations

import re
import shlex
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from hostile_students import HOSTILE_STUDENTS
from read_pages import check_policy, elements, read_page, words
from reedmill.base.text import printable
from reedmill.cli.classing import make_line
from reedmill.coaching.class_overview import (
    ClassOverview,
    ClassStranger,
    ComparedPlace,
    DrillToPrint,
    LessonMark,
    StuckPlace,
    StudentOverview,
    StudentPlace,
)
from reedmill.coaching.estimating import LearnedRung
from reedmill.record_pages.class_page import class_page
from reedmill.record_pages.piece_bar import WIDTH, piece_bar
from reedmill.record_pages.place_table import place_tables
from simulated_class import COURSE, names_of, simulated_class

MANY = (9, 30)
ON = "middle"
PLACE = LearnedRung("-3''", "-2", ON)
NEVER = StudentOverview(
    name=printable("Ada"), takes=0, days=0, last=None, days_ago=None, reached=None, next=None,
    lessons=0, stuck=(), weakest=None, register_needs=(), to_print=None,
)  # fmt: skip
ADA = replace(
    NEVER, takes=3, days=2, last="2027-02-28", days_ago=1,
    reached=LessonMark(2, printable("Home"), 2, 3), next=LessonMark(3, printable("Up"), 0, 1),
    lessons=8, stuck=(StudentPlace(PLACE, 47.4, 24, 3),), weakest=StudentPlace(PLACE, 47.4, 24, 3),
    to_print=DrillToPrint(printable("Home from it"), "Home from it", "low F", 2, 3, exact=True),
)  # fmt: skip


@pytest.fixture(scope="module")
def classes() -> dict[int, ClassOverview]:
    return {many: simulated_class(names_of(many)) for many in MANY}


@pytest.fixture(scope="module")
def pages(classes: dict[int, ClassOverview]) -> dict[int, Any]:
    return {many: read_page(class_page(found, make_line)) for many, found in classes.items()}


def alone(*students: StudentOverview, **more: Any) -> ClassOverview:
    found = ClassOverview(printable("Bends"), "2027-03-01", students, (), (), ())
    return replace(found, **more)


def page_of(found: ClassOverview) -> Any:
    return read_page(class_page(found, make_line))


def section(page: Any, key: str) -> Any:
    [found] = page.xpath(f'//section[@aria-labelledby="{key}"]')
    return found


def facts(card: Any) -> dict[str, str]:
    return {words(each.xpath("./dt")[0]): words(each.xpath("./dd")[0])
            for each in card.xpath('.//dl[@class="facts"]/div')}  # fmt: skip


def card_of(student: StudentOverview) -> Any:
    [card] = section(page_of(alone(student)), "students").xpath(".//article")
    return card


def bar(element: Any) -> tuple[int, int]:
    """How many pieces of a bar are full, and how many there are."""
    how = element.xpath('.//svg[@class="pieces"]/rect/@class')
    full = how.count("full")
    assert how == ["full"] * full + ["empty"] * (len(how) - full)  # the full ones come first
    return full, len(how)


# --- figures ----------------------------------------------------------------------------------


@pytest.mark.parametrize("many", MANY)
def test_the_head_has_the_course_its_students_and_the_date(
    pages: dict[int, Any], classes: dict[int, ClassOverview], many: int
) -> None:
    page, found = pages[many], classes[many]
    assert words(page.xpath("//h1")[0]) == COURSE
    lately = sum(each.days_ago in range(7) for each in found.students)
    takes = sum(each.takes for each in found.students)
    assert [words(each) for each in page.xpath("//header//dd")] == [
        "1 Mar 2027", str(many), f"{lately} of {many}", str(takes),
    ]  # fmt: skip
    assert 0 < lately < many


@pytest.mark.parametrize("many", MANY)
def test_the_places_where_most_are_stuck_are_those_of_the_overview(
    pages: dict[int, Any], classes: dict[int, ClassOverview], many: int
) -> None:
    cards = section(pages[many], "stuck").xpath(".//article")
    assert len(cards) == len(classes[many].stuck) == 3
    for card, each in zip(cards, classes[many].stuck, strict=True):
        place = each.place
        assert words(card[0]) == f"{place.tab} from {place.came_from} {place.register} harps"
        assert words(card.xpath("./p")[0]) == (
            f"{len(each.students)} of {each.tried} stuck, about {each.cents:.0f} cents out: "
            + ", ".join(each.students)
        )
        assert bar(card) == (len(each.students), each.tried)


@pytest.mark.parametrize("many", MANY)
def test_every_number_of_the_table_is_the_overviews_for_that_student_at_that_place(
    pages: dict[int, Any], classes: dict[int, ClassOverview], many: int
) -> None:
    found = classes[many]
    shown: dict[tuple[str, str], str] = {}
    for table in section(pages[many], "places").xpath(".//table"):
        _, *names = [words(each) for each in table.xpath("./thead//th")]
        rows = table.xpath("./tbody/tr")
        assert [words(row[0]) for row in rows] == [
            f"{each.place.tab} from {each.place.came_from} {each.place.register} harps"
            for each in found.compared
        ]
        for row in rows:
            cells = [words(each) for each in row.xpath("./td")]
            shown.update({(words(row[0]), name): text
                          for name, text in zip(names, cells, strict=True)})  # fmt: skip
    for each in found.compared:
        place = f"{each.place.tab} from {each.place.came_from} {each.place.register} harps"
        for student, cents in zip(found.students, each.cents, strict=True):
            if student.takes:
                wanted = "" if cents is None else f"{cents:.0f}"
                assert shown.pop((place, student.name)) == wanted
    assert shown == {}  # and nobody else


@pytest.mark.parametrize("many", MANY)
def test_every_card_is_what_the_overview_says_of_its_student(
    pages: dict[int, Any], classes: dict[int, ClassOverview], many: int
) -> None:
    playing = [each for each in classes[many].students if each.takes]
    cards = section(pages[many], "students").xpath(".//article")
    assert [words(card[0]) for card in cards] == [each.name for each in playing]
    for card, each in zip(cards, playing, strict=True):
        said = facts(card)
        for number, what in ((each.takes, "take"), (each.days, "day")):
            assert re.search(rf"\b{number} {what}{'s' * (number != 1)}\b", said["practised"])
        reached = each.reached.number if each.reached else 0
        assert bar(card) == (reached, each.lessons)
        if each.reached:
            assert said["reached"] == (
                f"{reached} of 8: {each.reached.title} "
                f"({each.reached.in_place} of {each.reached.exercises} in place)"
            )
        if each.next:
            assert said["next"].startswith(f"{each.next.number}: {each.next.title} (")
        commands = [words(code) for code in card.xpath(".//code")]
        assert commands == ([make_line(each.to_print)] if each.to_print else [])
        assert ("most stuck" in said) == bool(each.stuck)
        if each.weakest:
            weak = said.get("most stuck") or said["furthest out"]
            others = len(each.stuck) - 1
            more = f"; stuck at {others} more place{'s' * (others > 1)}" if others > 0 else ""
            assert weak == (
                f"{each.weakest.place.tab} from {each.weakest.place.came_from} on "
                f"{each.weakest.place.register} harps, about {each.weakest.cents:.0f} cents out, "
                f"{each.weakest.in_place} of {each.weakest.tries} in place{more}"
            )
        assert ("needs" in said) == bool(each.register_needs)


@pytest.mark.parametrize("many", MANY)
def test_who_has_no_take_and_whom_the_course_does_not_know_are_named(
    pages: dict[int, Any], classes: dict[int, ClassOverview], many: int
) -> None:
    idle = [each.name for each in classes[many].students if not each.takes]
    assert idle
    assert words(section(pages[many], "idle").xpath("./p")[0]) == ", ".join(idle)
    [stranger] = classes[many].strangers
    [item] = section(pages[many], "strangers").xpath(".//li")
    takes = "1 take" if stranger.takes == 1 else f"{stranger.takes} takes"
    assert words(item) == f"Guss ({takes}; did you mean Gus?)"


@pytest.mark.parametrize("many", MANY)
def test_each_sheet_is_among_all_sheets_once(
    pages: dict[int, Any], classes: dict[int, ClassOverview], many: int
) -> None:
    lines = section(pages[many], "sheets").xpath("./pre")[0].text_content().splitlines()
    wanted = {make_line(each.to_print) for each in classes[many].students if each.to_print}
    assert sorted(lines) == sorted(wanted)


# --- one student --------------------------------------------------------------------------------


def test_a_student_is_told_in_words() -> None:
    card = card_of(ADA)
    assert facts(card) == {
        "practised": "yesterday (3 takes on 2 days)",
        "reached": "2 of 8: Home (2 of 3 in place)",
        "next": "3: Up (0 of 1 in place)",
        "most stuck": "-3'' from -2 on middle harps, about 47 cents out, 3 of 24 in place",
        "to print": 'reedmill make "Home from it" --harp "low F" --position 2',
    }
    assert bar(card) == (2, 8)
    assert card.xpath('.//span[@class="unseen"]')[0].text == "draw 3 bent two semitones"


def test_who_is_only_a_little_out_is_not_called_stuck() -> None:
    said = facts(card_of(replace(ADA, stuck=(), weakest=StudentPlace(PLACE, 14.6, 24, 20))))
    assert said["furthest out"].startswith("-3'' from -2 on middle harps, about 15 cents out")
    assert "most stuck" not in said


def test_who_is_in_tune_has_nothing_to_print() -> None:
    said = facts(card_of(replace(ADA, stuck=(), weakest=None, to_print=None)))
    assert said["furthest out"] == "nothing over 10 cents, of what was tried 8 times or more"
    assert "to print" not in said


def test_a_place_without_a_drill_says_so_and_one_from_other_notes_too() -> None:
    assert facts(card_of(replace(ADA, to_print=None)))["to print"] == "no drill comes to this note"
    assert ADA.to_print
    others = replace(ADA, to_print=replace(ADA.to_print, exact=False))
    assert facts(card_of(others))["to print"].endswith("2 (comes to it from other notes)")


def test_all_lessons_and_none_are_told() -> None:
    last = LessonMark(8, printable("Riffs"), 4, 4)
    every = card_of(replace(ADA, reached=last, next=None))
    assert (facts(every)["next"], bar(every)) == ("all lessons reached", (8, 8))
    none = card_of(replace(ADA, reached=None))
    assert (facts(none)["reached"], bar(none)) == ("none of 8 reached yet", (0, 8))


def test_without_a_course_nobody_stands_in_a_lesson() -> None:
    found = alone(replace(ADA, reached=None, next=None, lessons=0), course=None)
    page = page_of(found)
    assert words(page.xpath("//h1")[0]) == "Everyone in the record book"
    assert page.xpath("//title")[0].text == "Class"
    assert {"reached", "next"}.isdisjoint(facts(section(page, "students")))
    assert page.xpath('//svg[@class="pieces"]') == []


# --- a class --------------------------------------------------------------------------------------


def test_a_class_that_nobody_is_stuck_in_is_told_so() -> None:
    found = alone(replace(ADA, stuck=(), weakest=None, to_print=None), NEVER)
    page = page_of(found)
    assert words(section(page, "stuck").xpath("./p")[0]) == (
        "Nobody is stuck: no place that was tried 8 times or more is likely to be more than 25 "
        "cents out."
    )
    assert page.xpath("//table | //pre") == []


def test_an_empty_class_has_a_page() -> None:
    page = page_of(alone())
    assert [words(each) for each in page.xpath("//header//dd")] == [
        "1 Mar 2027", "0", "0 of 0", "0",
    ]  # fmt: skip
    assert page.xpath("//article | //table | //ul") == []


@pytest.mark.parametrize(
    ("cents", "how"),
    [(60.0, "stuck"), (25.01, "stuck"), (25.0, "out"), (10.01, "out"), (10.0, "fine"),
     (0.0, "fine"), (None, "untold")],
)  # fmt: skip
def test_what_a_number_means_is_said_by_its_frame(cents: float | None, how: str) -> None:
    """25 and 10 cents are how near "near" and "on" are among the verdicts on a take."""
    [table] = place_tables(alone(ADA, compared=(ComparedPlace(PLACE, (cents,)),)))
    [cell] = table.rows[0].cells
    assert cell.how == how
    assert cell.cents == (None if cents is None else round(cents))


@pytest.mark.parametrize(
    ("many", "abreast"),
    [(1, [1]), (10, [10]), (11, [6, 5]), (21, [7, 7, 7]), (30, [10, 10, 10]), (31, [8, 8, 8, 7])],
)
def test_at_most_ten_stand_abreast_and_nobody_is_lost(many: int, abreast: list[int]) -> None:
    students = [replace(ADA, name=printable(f"Student {n}")) for n in range(many)]
    cents = tuple(float(n) for n in range(many))
    tables = place_tables(alone(*students, compared=(ComparedPlace(PLACE, cents),)))
    assert [len(table.students) for table in tables] == abreast
    assert [name for table in tables for name in table.students] == [s.name for s in students]
    assert [c.cents for table in tables for c in table.rows[0].cells] == [round(c) for c in cents]


def test_who_has_no_take_stands_in_no_table() -> None:
    students = (NEVER, replace(ADA, name=printable("Ben")))
    [table] = place_tables(alone(*students, compared=(ComparedPlace(PLACE, (None, 31.0)),)))
    assert table.students == ("Ben",)
    assert [cell.cents for cell in table.rows[0].cells] == [31]


@pytest.mark.parametrize(("full", "of"), [(0, 8), (3, 8), (8, 8), (1, 1), (20, 40), (33, 100)])
def test_a_bar_is_full_in_proportion(full: int, of: int) -> None:
    pieces = piece_bar(full, of)
    assert pieces[0].x == 0
    assert pieces[-1].x + pieces[-1].width == pytest.approx(WIDTH, abs=0.1)
    edge = max((each.x + each.width for each in pieces if each.full), default=0)
    assert edge / WIDTH == pytest.approx(full / of, abs=0.01)
    for one, other in pairwise(pieces):
        assert one.x + one.width <= other.x


# --- one file, and nobody else's program ----------------------------------------------------------


def hostile(text: str) -> ClassOverview:
    name = printable(text)
    drill = DrillToPrint(name, text, "C", 2, 3, exact=True)
    mark = LessonMark(1, name, 0, 1)
    student = replace(ADA, name=name, to_print=drill, reached=mark, next=mark)
    return alone(
        student, replace(NEVER, name=name), course=name,
        stuck=(StuckPlace(PLACE, (name,), 1, 47.4),),
        compared=(ComparedPlace(PLACE, (47.4, None)),),
        strangers=(ClassStranger(name, 2, nearest=name),),
    )  # fmt: skip


@pytest.mark.parametrize("text", HOSTILE_STUDENTS.values(), ids=HOSTILE_STUDENTS)
def test_a_strangers_text_adds_no_element_and_is_shown(text: str) -> None:
    plain, page = page_of(hostile("Ada")), page_of(hostile(text))
    assert list(elements(page)) == list(elements(plain))
    attributes = [sorted(each.attrib) for each in page.iter() if isinstance(each.tag, str)]
    assert attributes == [sorted(each.attrib) for each in plain.iter() if isinstance(each.tag, str)]
    shown = printable(text)
    assert page.xpath("//title")[0].text == f"{shown}: class"
    for where in (
        "//h1/span", "//h3/span[@dir]", "//thead//span", "//li/bdi[1]", "//li/bdi[2]",
        "//section[@aria-labelledby='idle']//bdi", "//article/p/bdi", "//dd/bdi",
    ):  # fmt: skip
        found = page.xpath(where)
        assert found, where
        assert {each.text for each in found} == {shown}, where


@pytest.mark.parametrize("text", HOSTILE_STUDENTS.values(), ids=HOSTILE_STUDENTS)
def test_what_is_copied_is_the_command_and_a_hostile_drill_is_one_word_of_it(text: str) -> None:
    """As a POSIX shell reads it (shlex); a sign that cannot be seen is shown, not copied."""
    [code] = card_of(hostile(text).students[0]).xpath(".//code")
    copied = code.text_content()
    assert copied == printable(copied)
    named = f"./{text}" if text.startswith("-") else text  # else it would be an option
    assert shlex.split(copied) == [
        "reedmill", "make", printable(named), "--harp", "C", "--position", "2",
    ]  # fmt: skip


def test_options_stay_with_what_they_say_whatever_a_title_has() -> None:
    title = "x --harp " + "W" * 60
    drill = DrillToPrint(printable(title), title, "low F", 2, 3, exact=True)
    [code] = card_of(replace(ADA, to_print=drill)).xpath(".//code")
    assert code.text_content() == make_line(drill)
    assert [each.text for each in code.xpath("./span")] == ['--harp "low F"', "--position 2"]


def test_the_policy_lets_in_the_style_of_the_page_and_nothing_else(pages: dict[int, Any]) -> None:
    """CSP Level 3 (W3C), 6.7.2.3: a style is let in by the SHA-256 of its text."""
    for page in pages.values():
        check_policy(page)


def test_tables_name_their_rows_and_columns_and_bars_are_said_in_words(
    pages: dict[int, Any],
) -> None:
    for page in pages.values():
        ids = page.xpath("//@id")
        assert len(ids) == len(set(ids))
        for table in page.xpath("//table"):
            assert table.xpath("./caption")[0].text
            assert set(table.xpath("./thead//th/@scope")) == {"col"}
            assert set(table.xpath("./tbody//th/@scope")) == {"row"}
        empty = page.xpath('//td/span[@class="cents untold"]')
        assert empty
        assert {each.text_content() for each in empty} == {"too few tries"}
        # Beside each bar its two numbers stand as words, which the tests above read.
        assert set(page.xpath("//svg/@aria-hidden")) == {"true"}
        assert "keep it to yourself" in words(page.xpath("//footer")[0])


def test_the_same_class_makes_the_same_page(classes: dict[int, ClassOverview]) -> None:
    assert class_page(classes[9], make_line) == class_page(classes[9], make_line)
