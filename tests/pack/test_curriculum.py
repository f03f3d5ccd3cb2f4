"""Courses: what counts where, harps that take turns, students, and the rows they come to."""

from __future__ import annotations

import pickle
import re
import tracemalloc
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedmill.base.errors import InputError
from reedmill.base.source import Span
from reedmill.harp import HARP_KEYS, Harp
from reedmill.harp.harp_registers import REGISTERS, register
from reedmill.library import shipped
from reedmill.pack.course.beside import DEVICES
from reedmill.pack.course.course import Course, Edition, Entry, Lesson, Student, editions
from reedmill.pack.course.course_reading import parse_course
from reedmill.pack.course.elsewhere import played_elsewhere
from reedmill.pack.course.registers import Every, Named, Rotation
from reedmill.pack.course.tasks import (
    ChartTask,
    Failed,
    LessonRow,
    Task,
    charts,
    expanded,
    planned,
    tasks,
)
from reedmill.pack.pages.chapter import exercise_of, ladder_words
from reedmill.pack.site.manifest import safe_path
from reedmill.practice.practice import Click, Recording, parse_ladder
from reedmill.score.score import Embouchure, LipShape
from reedmill.theory.positions import Position

TOP = 'title = "Monday"\nharps = ["C", "F", "A"]\n'
LESSON = '[[lessons]]\ntitle = "One"\n'
EXERCISE = '[[lessons.exercises]]\ndrill = "Home from every rung"\n'


def course(text: str, folder: Path = Path("nowhere")) -> Course:
    return parse_course(text, "monday.toml", folder)


def only_entry(text: str) -> Entry:
    [entry] = course(text).lessons[0].entries
    return entry


def done(text: str) -> list[Task]:
    """The rows of the first edition, none of which may fail."""
    found = list(tasks(editions(course(text))[0]))
    assert [each for each in found if isinstance(each, Failed)] == []
    return [each for each in found if isinstance(each, Task)]


def harps(*names: str) -> tuple[Harp, ...]:
    return tuple(Harp.parse(name) for name in names)


# --- registers and rotations --------------------------------------------------------------

# F and E are high harps, C and B middle, A, G and low F low: common practice, no published
# source.
KNOWN = {"F": "high", "E": "high", "C": "middle", "B": "middle", "A": "low", "G": "low"}


@pytest.mark.parametrize("name", KNOWN)
def test_the_register_of_a_harp(name: str) -> None:
    assert register(Harp.parse(name)) == KNOWN[name]
    assert register(Harp.parse(f"low {name}")) == "low"
    assert register(Harp.parse(f"high {name}")) == "high"


def test_registers_follow_the_pitch_of_the_harp() -> None:
    # In the trade G is the lowest common harp and F# the highest, as HARP_KEYS lists them.
    assert [register(Harp(key)) for key in HARP_KEYS] == ["low"] * 4 + ["middle"] * 5 + ["high"] * 3


def test_a_rotation_goes_through_the_registers_and_then_through_the_harps_of_each() -> None:
    owned = harps("C", "A", "F", "D", "G")
    turns = [Rotation().harp(owned, turn) for turn in range(7)]
    names = [harp.name for harp in turns if harp]
    assert names == ["F", "C", "A", "F", "D", "G", "F"]


def test_a_rotation_keeps_to_the_registers_it_names() -> None:
    low = Rotation(("low",))
    assert [low.harp(harps("C", "A", "F", "G"), turn) for turn in range(3)] == [
        *harps("A", "G", "A")
    ]
    assert low.harp(harps("C", "F"), 0) is None


owned_harps = st.lists(
    st.builds(Harp, st.sampled_from(HARP_KEYS), st.sampled_from(["", "low", "high"])),
    min_size=1, max_size=8, unique=True,
)  # fmt: skip
orders = st.lists(st.sampled_from(REGISTERS), min_size=1, max_size=5)


@given(owned_harps, orders)
def test_a_rotation_gives_every_harp_of_its_registers_its_turn(
    owned: list[Harp], order: list[str]
) -> None:
    rotation = Rotation(tuple(order))
    heard: set[Harp | None] = {rotation.harp(owned, turn) for turn in range(len(order) * 8 * 7 * 6)}
    wanted: set[Harp | None] = {harp for harp in owned if register(harp) in order}
    assert heard == (wanted if wanted else {None})


@given(owned_harps, orders, st.integers(0, 200))
def test_a_turn_is_of_the_register_whose_turn_it_is(
    owned: list[Harp], order: list[str], turn: int
) -> None:
    there = [name for name in order if any(register(harp) == name for harp in owned)]
    harp = Rotation(tuple(order)).harp(owned, turn)
    assert (register(harp) if harp else None) == (there[turn % len(there)] if there else None)


def test_exercises_take_turns_through_the_whole_course() -> None:
    text = TOP + (LESSON + EXERCISE * 2) * 2
    assert [task.score.harp.name for task in done(text)] == ["F", "C", "A", "F"]


def test_lessons_take_turns_where_they_are_asked_to() -> None:
    text = TOP + '[defaults]\nturn = "lesson"\n' + (LESSON + EXERCISE * 2) * 2
    assert [task.score.harp.name for task in done(text)] == ["F", "F", "C", "C"]


def test_all_means_every_harp_of_the_player_in_the_order_they_were_written() -> None:
    text = TOP + LESSON + EXERCISE + 'harps = "all"\n'
    assert [task.score.harp.name for task in done(text)] == ["C", "F", "A"]


def test_named_harps_are_exactly_these() -> None:
    text = TOP + LESSON + EXERCISE + 'harps = ["low F", "Bb", "low F"]\n'
    assert [task.score.harp.name for task in done(text)] == ["low F", "Bb"]


def test_a_harp_has_the_tuning_of_the_course() -> None:
    text = TOP + 'tuning = "country"\n' + LESSON + EXERCISE + 'harps = "all"\n'
    assert {task.score.harp.layout.name for task in done(text)} == {"country"}


# --- what counts --------------------------------------------------------------------------


def test_the_nearest_word_counts() -> None:
    entry = only_entry(
        TOP
        + '[defaults]\ndrone = "root"\nclick = "beats"\ntempo = 50\nrepeat = 2\n'
        + LESSON
        + 'drone = "root+fifth"\ntempo = 60\n'
        + EXERCISE
        + "tempo = 70\n"
    )
    assert entry.recording is not None
    assert entry.recording.drone == ("root", "fifth")
    assert entry.recording.click is Click.BEATS
    assert entry.recording.practice.repeats == 2
    assert entry.tempo_bpm == 70


def test_none_takes_back_what_was_said_further_up() -> None:
    entry = only_entry(
        TOP
        + '[defaults]\ndrone = "root"\ntempo = 50\nladder = "50 to 60 by 5"\nhand_out = "audio"\n'
        + 'embouchure = "lips"\nbacking = { form = "One chord", feel = "Rumba" }\n'
        + LESSON
        + EXERCISE
        + "\n".join(
            f'{key} = "none"'
            for key in ("drone", "tempo", "ladder", "hand_out", "embouchure", "backing")
        )
    )
    assert entry == only_entry(TOP + LESSON + EXERCISE)


def test_every_practice_key_reaches_the_exercise() -> None:
    entry = only_entry(
        TOP
        + LESSON
        + EXERCISE
        + 'harps = "all"\npositions = [3, 1, 3]\ntempo = 61\nhand_out = ["midi", "audio"]\n'
        + 'drone = "octave"\nclick = "offbeats"\ncount_in = 2\nrepeat = 3\necho = "all"\n'
        + 'fade_out = true\nladder = "60 to 70 by 5"\napart = true\nstems = true\nwide = true\n'
        + 'loop = true\naudio = ["ogg", "flac"]\nnote = "Slowly."\n'
        + 'embouchure = ["tongue right", "anchors tongue left, rungs lips"]\n'
        + 'backing = { form = "eight BARS", feel = "rumba", choruses = 3, lay = "once" }\n'
    )
    sound = entry.recording
    assert sound is not None
    practice = sound.practice
    assert entry.harps == Every()
    assert entry.positions == (Position(3), Position(1))
    assert (entry.tempo_bpm, entry.formats, entry.note) == (61, ("midi", "audio"), "Slowly.")
    assert (sound.drone, sound.click) == (("root", "octave"), Click.OFFBEATS)
    assert (practice.count_in_bars, practice.repeats, practice.echo_bars) == (2, 3, 0)
    assert (practice.fade_out, practice.tempi_bpm) == (True, (60, 65, 70))
    assert (sound.apart, sound.stems, sound.wide, sound.loop) == (True, True, True, True)
    assert sound.types == ("ogg", "flac")
    assert entry.drill.embouchures == (
        Embouchure(LipShape.TONGUE_RIGHT, LipShape.TONGUE_RIGHT),
        Embouchure(LipShape.TONGUE_LEFT, LipShape.LIPS),
    )
    assert entry.backing is not None
    backing = entry.backing
    assert (backing.form.title, backing.feel.title) == ("Eight bars", "Rumba")
    assert (backing.choruses, backing.lay) == (3, "once")


def test_what_is_left_out() -> None:
    entry = only_entry(TOP + LESSON + EXERCISE)
    assert entry.harps == Rotation()
    assert entry.positions == (Position(2),)
    assert entry.formats == ("sheet", "page", "tab", "audio")
    assert entry.recording == Recording()
    assert (entry.tempo_bpm, entry.backing, entry.note) == (None, None, "")


def test_a_drill_for_another_position_is_played_in_it() -> None:
    entry = only_entry(TOP + LESSON + '[[lessons.exercises]]\ndrill = "Third position scale"\n')
    assert entry.positions == (Position(3),)


def test_no_sound_is_planned_where_none_is_handed_out() -> None:
    entry = only_entry(TOP + '[defaults]\ndrone = "root"\nhand_out = "sheet"\n' + LESSON + EXERCISE)
    assert (entry.recording, entry.formats) == (None, ("sheet",))


def test_the_course_itself() -> None:
    found = course(
        'author = "A. Teacher"\nabout = "Slow\treeds"\nintonation = "just7"\nreference = 442\n'
        'cautions = false\npage = { paper = "letter", large = true, show = "tab" }\n'
        + TOP
        + LESSON
        + 'goal = "One\\u0007 note"\ntext = """\n  Play\\tslowly.\n\n* One\u202e\n"""\n'
    )
    assert (found.title, found.slug, found.author) == ("Monday", "monday", "A. Teacher")
    assert (found.about, found.cautions, found.reference_hz) == ("Slow reeds", False, 442.0)
    assert (found.intonation.name, found.look.paper, found.look.show) == ("just7", "letter", "tab")
    [lesson] = found.lessons
    assert (lesson.number, lesson.title, lesson.name) == (1, "One", "01-one")
    assert lesson.goal == "One[U+0007] note"
    assert lesson.text == "  Play  slowly.\n\n* One[U+202E]"


def test_drills_of_a_topic_and_level_come_easiest_first() -> None:
    text = TOP + LESSON + '[[lessons.exercises]]\ntopic = "thirds"\n'
    levels = [entry.drill.level or 0 for entry in course(text).lessons[0].entries]
    assert levels == sorted(levels)
    assert len(levels) == len([each for each in shipped() if each.topic == "thirds"])
    text = TOP + LESSON + "[[lessons.exercises]]\nlevel = 5\n"
    assert {entry.drill.level for entry in course(text).lessons[0].entries} == {5}


def test_drills_and_texts_of_files_beside_the_curriculum(tmp_path: Path) -> None:
    (tmp_path / "texts").mkdir()
    (tmp_path / "texts/week-1.md").write_bytes(b"\xef\xbb\xbfPlay\r\nslowly.\r\n")
    mine = 'drill "Mine"\n anchor -2\n rungs -4 -4\'\n phrase anchor rung\n'
    (tmp_path / "mine.drill").write_text(
        mine + 'drill "Mine too"\n from "Home from every rung"\n rungs -4\n'
    )
    text = TOP + LESSON + 'text_file = "texts/week-1.md"\n'
    exercise = '[[lessons.exercises]]\nfile = "mine.drill"\n'
    found = course(text + exercise + exercise + 'drill = "mine TOO"\n', tmp_path).lessons[0]
    assert found.text == "Play\nslowly."
    assert [entry.drill.title for entry in found.entries] == ["Mine", "Mine too", "Mine too"]


def test_windows_line_ends_change_nothing() -> None:
    text = TOP + LESSON + 'text = """\nOne\n\nTwo\n"""\n' + EXERCISE
    assert course(text.replace("\n", "\r\n").replace("\r\n", "\n")) == course(text)


# --- charts -------------------------------------------------------------------------------


def test_a_chart_is_for_the_harps_of_its_lesson_or_its_own() -> None:
    chart = "[[lessons.charts]]\nreeds = \"-3, -3' -3''\"\n"
    text = TOP + '[defaults]\nturn = "lesson"\n' + (LESSON + chart + chart + 'harps = "all"\n') * 2
    found = list(charts(editions(course(text))[0]))
    assert all(isinstance(each, ChartTask) for each in found)
    rows = [each for each in found if isinstance(each, ChartTask)]
    assert [row.harp.name for row in rows] == ["F", "C", "F", "A", "C", "C", "F", "A"]
    assert {" ".join(reed.tab for reed in row.reeds) for row in rows} == {"-3 -3' -3''"}
    assert [row.name for row in rows][:4] == [
        "01-roles-f", "01-roles-c", "01-roles-f-2", "01-roles-a",
    ]  # fmt: skip


# --- students -----------------------------------------------------------------------------

STUDENTS = (
    '[[students]]\nname = "Ada"\nharps = ["D", "E", "G"]\npace = 75\n'
    '[[students]]\nname = "Zo\u00eb"\nregisters = ["middle", "low"]\n'
    '[[students]]\nname = "Zoe"\n[[students]]\nname = "Con"\n'
)


def test_without_students_there_is_one_edition_for_everyone() -> None:
    [edition] = editions(course(TOP + LESSON + EXERCISE))
    assert (edition.slug, edition.student, edition.pace_percent) == ("everyone", None, 100)


def test_every_student_has_an_edition_on_harps_of_their_own() -> None:
    found = editions(course(TOP + LESSON + EXERCISE * 3 + STUDENTS))
    assert [edition.slug for edition in found] == ["ada", "zo\u00eb", "zoe", "con-"]
    played = [
        [row.harp.name for row in planned(edition) if isinstance(row, LessonRow)]
        for edition in found
    ]
    assert played == [["E", "D", "G"], ["C", "A", "C"], ["F", "C", "A"], ["F", "C", "A"]]


def test_students_whose_names_differ_by_a_sign_have_folders_of_their_own() -> None:
    names = "".join(f'[[students]]\nname = "{name}"\n' for name in ("Zoe", "Zoe!", "\u00bfZoe?"))
    found = editions(course(TOP + LESSON + EXERCISE + names))
    assert [edition.slug for edition in found] == ["zoe", "zoe-2", "zoe-3"]


def test_the_pace_of_a_student_changes_every_tempo() -> None:
    text = TOP + LESSON + EXERCISE + 'tempo = 66\nladder = "60 to 70 by 5"\n' + STUDENTS
    ada, zoe = (next(iter(tasks(edition))) for edition in editions(course(text))[:2])
    assert isinstance(ada, Task)
    assert isinstance(zoe, Task)
    assert ada.recording is not None
    # 0.75 of 60, 65 and 70 is 45, 48.75 and 52.5; halves go up.  The first rung is the tempo
    assert (ada.score.tempo_bpm, ada.recording.practice.tempi_bpm) == (45, (45, 49, 53))
    assert (zoe.score.tempo_bpm, zoe.score.tempi_bpm) == (60, (60, 65, 70))


@pytest.mark.parametrize(
    ("percent", "range_bpm"), [(100, (56, 84)), (60, (34, 50)), (50, (28, 42)), (25, (20, 21))]
)
def test_the_pace_of_a_student_changes_both_ends_of_a_range(
    percent: int, range_bpm: tuple[int, int]
) -> None:
    """60 per cent of 56 and 84 is 33.6 and 50.4; 25 per cent of 56 is 14, and 20 the slowest."""
    text = TOP + LESSON + EXERCISE + f'[[students]]\nname = "Ada"\npace = {percent}\n'
    [task] = [task for edition in editions(course(text)) for task in tasks(edition)]
    assert isinstance(task, Task)
    assert (task.score.tempo_bpm, task.score.tempo_goal_bpm) == range_bpm


def test_a_ladder_is_what_every_page_names() -> None:
    text = TOP + LESSON + EXERCISE + 'tempo = 66\nladder = "{}"\n'
    [up], [down] = (done(text.format(ladder)) for ladder in ("50 to 60 by 5", "60 to 50 by 4"))
    assert (up.score.tempi_bpm, up.score.tempo_goal_bpm) == ((50, 55, 60), 60)
    assert (down.score.tempi_bpm, down.score.tempo_goal_bpm) == ((60, 56, 52, 50), None)
    assert (up.score.tempo_bpm, down.score.tempo_bpm) == (50, 60)
    assert exercise_of(up).tempo == "50, 55, 60"


ladders = st.tuples(st.integers(20, 300), st.integers(20, 300), st.integers(5, 60))


@given(ladders)
def test_the_words_of_a_ladder_ask_for_that_ladder(asked: tuple[int, int, int]) -> None:
    start, end, step = asked
    tempi = parse_ladder(f"{start} to {end} by {step}")
    words = ladder_words(tempi)
    if len(set(tempi)) > 1:
        assert parse_ladder(words) == tempi
    assert words.startswith(str(start))


def test_a_sheet_comes_with_the_pictures_that_the_page_shows() -> None:
    [asked, alone, none] = done(
        TOP + LESSON + "".join(
            EXERCISE + f"hand_out = {kinds}\n"
            for kinds in ('["tab", "sheet", "midi"]', '["png"]', '["tab"]')
        )
    )  # fmt: skip
    assert asked.formats == ("sheet", "png", "midi", "tab")
    assert (alone.formats, none.formats) == (("png",), ("tab",))


@pytest.mark.parametrize("path", ["con", "a/NUL.tar.gz", "com1/x.pdf", "01-home/Aux.txt"])
def test_no_file_of_a_pack_is_a_device_to_windows(path: str) -> None:
    """The names are those that Microsoft lists, with any ending."""
    with pytest.raises(InputError, match="on some computers that is the name of a device"):
        safe_path(path)
    assert safe_path(f"a-{path.replace('/', '-')}")


@pytest.mark.parametrize("name", sorted(DEVICES))
def test_whatever_is_called_like_a_device_gets_files_of_another_name(name: str) -> None:
    drill = f'[[lessons]]\ntitle = "{name}"\n' + EXERCISE + '[[lessons.charts]]\nreeds = "-3"\n'
    found = course(f'title = "{name}"\nharps = "C"\n{drill}[[students]]\nname = "{name}"\n')
    [edition] = editions(found)
    [row], [chart] = planned(edition), charts(edition)
    assert isinstance(row, LessonRow)
    assert isinstance(chart, ChartTask)
    for stem in (found.slug, edition.slug, found.lessons[0].name, row.name, chart.name):
        assert safe_path(f"{stem}/{stem}.pdf")


def test_a_student_without_the_harp_is_told_and_the_others_go_on() -> None:
    text = TOP + LESSON + EXERCISE + 'harps = ["C", "D"]\n' + EXERCISE + STUDENTS
    rows = list(tasks(editions(course(text))[0]))
    assert [type(row) for row in rows] == [Failed, Task, Task]
    assert rows[0] == Failed(
        1,
        "01-home-from-every-rung-c",
        'Ada has no C harp, only: D, E, G. Add it to their harps, or write harps = "rotate" for '
        "this exercise.",
        Span("monday.toml", 6, 9, 22),  # the title of the drill, with its quotes
    )


def test_a_rotation_without_a_harp_for_it_is_told() -> None:
    text = TOP + LESSON + EXERCISE + 'rotation = "high"\n' + STUDENTS
    [row] = tasks(editions(course(text))[1])
    assert row == Failed(
        1,
        "01-home-from-every-rung",
        "Zo\u00eb has no high harp to play it on, only: C, A. Add one to their harps, or name "
        "another register in the rotation.",
        Span("monday.toml", 6, 9, 22),
    )


# --- the key of a song --------------------------------------------------------------------

# What plays in E and in F, in 2nd and in 3rd position, counted by fifths: common practice.
PLAYS_IN = {("E", 2): "A", ("E", 3): "D", ("F", 2): "Bb", ("F", 3): "Eb"}


def played(text: str) -> list[tuple[str, int]]:
    """The harp and the position of every row of the first edition, made or not."""
    rows = planned(editions(course(text))[0])
    return [(row.harp.name, row.position.number) for row in rows if isinstance(row, LessonRow)]


def test_a_key_takes_the_harp_that_plays_in_it_in_each_position() -> None:
    text = TOP + LESSON + EXERCISE + 'key = "E, F"\npositions = [2, 3]\n'
    found = [(name, number) for name, number in played(text)]
    assert found == [(harp, number) for (_, number), harp in PLAYS_IN.items()]


def test_the_nearest_of_key_and_harps_counts_and_none_takes_a_key_back() -> None:
    key = 'key = "E"\n'
    exercises = (EXERCISE, EXERCISE + 'harps = "D"\n', EXERCISE + 'key = "F"\n',
                 EXERCISE + 'key = "none"\n', EXERCISE + 'harps = "none"\n')  # fmt: skip
    text = TOP + '[defaults]\nharps = "C"\n' + LESSON + key + "".join(exercises)
    assert [name for name, _ in played(text)] == ["A", "D", "Bb", "C", "A"]


def test_a_student_plays_a_key_on_the_register_they_own_or_is_told_which_harp_it_needs() -> None:
    own = '[[students]]\nname = "Cy"\nharps = ["C", "low A"]\n'
    text = TOP + LESSON + 'key = "E"\n' + EXERCISE + EXERCISE + "positions = 3\n" + own
    assert played(text) == [("low A", 2)]
    failed = [row for row in tasks(editions(course(text))[0]) if isinstance(row, Failed)]
    assert [row.message for row in failed] == [
        "Cy has no D harp, only: C, low A. Add it to their harps, or choose another key than E, "
        "or another position than 3rd."
    ]


def test_a_chart_is_drawn_for_the_harp_of_the_key() -> None:
    chart = '[[lessons.charts]]\nreeds = "-3 -3\'"\n'
    text = TOP + LESSON + 'key = "E"\npositions = 3\n' + chart + chart + 'key = "F"\n'
    found = [each for each in charts(editions(course(text))[0]) if isinstance(each, ChartTask)]
    assert [each.harp.name for each in found] == ["D", "Eb"]


def test_a_minor_song_on_a_harp_with_a_major_third_is_told() -> None:
    [told] = played_elsewhere(course(TOP + LESSON + EXERCISE + 'key = "Em"\n'))
    assert told.notice == (
        "E minor: the natural third of an A harp in 2nd position is major. A D harp in 3rd "
        "position has a minor third: positions = 3"
    )


# --- rows ---------------------------------------------------------------------------------


def test_a_drill_that_one_harp_cannot_play_stops_no_other() -> None:
    text = (
        TOP
        + 'tuning = "natural-minor"\n'
        + LESSON
        + '[[lessons.exercises]]\nharps = "C"\n'
        + 'drill = ["Straight onto the deepest rung", "Two holes, one note"]\n'
    )
    failed, good = tasks(editions(course(text))[0])
    assert isinstance(failed, Failed)
    assert failed.name == "01-straight-onto-the-deepest-rung-c-natural-minor-2nd"
    assert re.match(r"approach/straight-on\.drill:\d+:\d+: -3''' ", failed.message)
    assert isinstance(good, Task)
    assert good.score.title == "Two holes, one note"


def test_a_recording_of_hours_fails_before_it_is_made() -> None:
    text = TOP + LESSON + EXERCISE + "tempo = 20\nrepeat = 100\n" + 'ladder = "20 to 79 by 1"\n'
    [row] = tasks(editions(course(text))[0])
    assert isinstance(row, Failed)
    assert row.message.startswith(
        'the recording of "Home from every rung" would last more than 3 hours. '
    )


def test_a_band_makes_the_score_as_long_as_its_form() -> None:
    text = TOP + LESSON + '[[lessons.exercises]]\ndrill = "Two bars home"\ntempo = 92\n'
    backing = 'backing = { form = "Twelve bars", feel = "Medium shuffle", choruses = 2 }\n'
    [task] = done(text + backing)
    assert task.score.bars == 24
    assert task.score.band is not None
    assert (task.score.band.form, task.score.band.tempo_bpm) == ("Twelve bars", 92)
    assert task.score.band.key == task.score.key
    assert task.recording is not None
    assert task.recording.backing


def test_a_drill_that_does_not_go_over_a_band_stops_no_other() -> None:
    text = TOP + LESSON + '[[lessons.exercises]]\ndrill = ["Pick-up to the root", "Waltz home"]\n'
    rows = tasks(editions(course(text + 'backing = { form = "One chord", feel = "Rumba" }\n'))[0])
    assert [type(row) for row in rows] == [Failed, Failed]


def test_each_embouchure_plan_is_a_row() -> None:
    text = TOP + LESSON + EXERCISE + 'embouchure = ["lips", "anchors tongue left, rungs lips"]\n'
    assert [task.name for task in done(text)] == [
        "01-home-from-every-rung-f-2nd-lips",
        "01-home-from-every-rung-f-2nd-anchors-tongue-left-rungs-lips",
    ]


def test_equal_courses_give_equal_rows() -> None:
    text = TOP + LESSON + EXERCISE * 2 + 'ladder = "50 to 60 by 5"\n' + STUDENTS
    first, second = ([list(tasks(edition)) for edition in editions(course(text))] for _ in range(2))
    assert first == second


def test_rows_can_be_sent_to_another_process() -> None:
    row = next(iter(planned(editions(course(TOP + LESSON + EXERCISE))[0])))
    assert isinstance(row, LessonRow)
    assert expanded(pickle.loads(pickle.dumps(row))) == expanded(row)  # noqa: S301  our own


def every_drill_on(*names: str) -> Edition:
    entries = tuple(
        Entry(each.drill, Every(), (Position(2),), ("sheet",), None) for each in shipped()
    )
    return Edition(
        Course("Everything", "everything", harps(*names), (Lesson(1, "All", "", "", entries),))
    )


def test_a_thousand_rows_are_planned_without_expanding_one() -> None:
    edition = every_drill_on("G", "A", "Bb", "C", "D", "E", "F", "F#")
    names = [row.name for row in planned(edition)]
    plans = sum(max(1, len(each.drill.embouchures)) for each in shipped())
    assert len(names) == len(set(names)) == 8 * plans > 1000


def test_a_thousand_rows_hold_one_score_at_a_time() -> None:
    rows = tasks(every_drill_on("G", "A", "C"))
    for _ in range(50):
        next(rows)
    tracemalloc.start()
    try:
        for _ in range(150):
            next(rows)
        left, _peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert left < 1_500_000  # bytes; 150 scores of these drills are ten times as much


def is_safe(name: str) -> bool:
    """Letters, marks and digits of any script with hyphens between them, one name on any disk."""
    signs = {unicodedata.category(sign)[0] for sign in name} - {"L", "M", "N"}
    written = not signs - {"P"} and re.fullmatch(r"[^-]+(-[^-]+)*-?", name) is not None
    plain = not re.search(r"[^\w-]", "".join(re.findall(r"[\x00-\x7f]", name)))
    return written and plain and "_" not in name and name == unicodedata.normalize("NFC", name)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.text(max_size=12), min_size=1, max_size=4),
    st.lists(
        st.tuples(st.sampled_from(range(len(shipped()))), owned_harps), min_size=1, max_size=6
    ),
    owned_harps,
)
def test_names_are_safe_and_unique_whatever_things_are_called(
    titles: list[str], wanted: list[tuple[int, list[Harp]]], owned: list[Harp]
) -> None:
    drills = shipped()
    entries = tuple(
        Entry(
            drills[which].drill, Named(tuple(on)) if len(on) % 2 else Rotation(),
            (Position(2), Position(1)), ("tab",), None,
        )
        for which, on in wanted
    )  # fmt: skip
    lessons = tuple(
        Lesson(number, title, entries=entries * 2) for number, title in enumerate(titles, start=1)
    )
    students = (Student("A", "a", tuple(owned)),)
    for edition in editions(Course("x", "x", tuple(owned), lessons, students=students)):
        names = [row.name for row in planned(edition)]
        assert len(names) == len(set(names))
        for name in (*names, *(lesson.name for lesson in lessons)):
            assert is_safe(name)
            assert safe_path(name) == name == name.lower()
            assert len(name.encode()) < 200  # file systems allow 255 bytes, endings among them
            assert name not in DEVICES
