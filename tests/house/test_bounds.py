"""What a small file or a command may ask for, and that asking for more costs next to nothing.

``pytest -s tests/house/test_bounds.py`` prints the table of hostile inputs with what each cost.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hostile_inputs import HEAD, NUMBERS, ROWS, Hostile, Outcome, line, run
from reedmill.band.backing_parser import parse_band
from reedmill.base.errors import InputError, PatternError
from reedmill.expand import expand, versions
from reedmill.expand.over import laid_over_band
from reedmill.harp import HARP_KEYS, Harp
from reedmill.language import parse
from reedmill.language.words import MAX_BARS
from reedmill.library import shipped
from reedmill.make.material import make
from reedmill.pack.course.course_amounts import excess
from reedmill.pack.course.course_reading import read_course
from reedmill.practice.practice import Click, Practice, Recording, plan_recording, played_s
from reedmill.practice.sound_limits import MOST_NOTES, MOST_SCORES, check_scores, check_sound_length
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from tunes import score_from

COURSES = Path(__file__).parents[2] / "courses"

# Long numbers are all refused in one place: a few of them show it here, all of them in
# benchmarks/bounds.py.
SAMPLE = [row for row in ROWS if row not in NUMBERS or row in NUMBERS[::4]]


# --- the table -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def outcomes() -> Iterator[list[Outcome]]:
    """What came of the rows so far; printed when all are done."""
    found: list[Outcome] = []
    yield found
    print("", HEAD, *map(line, found), sep="\n")


@pytest.mark.parametrize("row", SAMPLE, ids=lambda row: row.name)
def test_a_hostile_input_is_refused_in_words_soon_and_with_little_memory(
    row: Hostile, tmp_path: Path, outcomes: list[Outcome]
) -> None:
    outcome = run(row, tmp_path)
    outcomes.append(outcome)
    assert row.says in outcome.said
    assert "Traceback" not in outcome.said
    assert len(outcome.said) < 10_000
    assert outcome.exit_code == row.exit_code
    assert outcome.seconds < row.seconds
    assert outcome.megabytes < row.megabytes


@pytest.mark.parametrize("row", SAMPLE, ids=lambda row: row.name)
def test_what_is_refused_is_small(row: Hostile) -> None:
    """No row is large itself: each is a file a stranger may send, or one line of a shell."""
    sizes = [len(each if isinstance(each, bytes) else each()) for each in row.files.values()]
    assert sum(sizes) <= (4_000_000 if "mine.sf2" in row.files else 250_000)


def test_a_command_that_takes_too_much_memory_or_time_does_not_pass_the_table(
    tmp_path: Path,
) -> None:
    """The measure itself: half a gigabyte is not given, and a second of work is counted."""
    python = (sys.executable, "-c")
    greedy = run(Hostile("greedy", ("b'x' * (5 << 28)",), ""), tmp_path, python)
    assert greedy.exit_code == 1
    assert "MemoryError" in greedy.said
    slow = "import time\nwhile time.process_time() < 1: pass"
    busy = run(Hostile("busy", (slow,), ""), tmp_path, python)
    assert 1 <= busy.seconds < 3
    filled = run(Hostile("filled", ("x = b'x' * (100 << 20)",), ""), tmp_path, python)
    assert 100 < filled.megabytes < 150


# --- numbers are read whole or not at all ----------------------------------------------------


@pytest.mark.parametrize(
    ("nine", "ten"),
    [
        ("play -2x000000010", "play -2x0000000010"),
        ("play -000000004", "play -0000000004"),
        ("play -2:000000001/000000002", "play -2:0000000001/2"),
        ("play -2:1/000000002", "play -2:1/0000000002"),
        ("tempo 000000060\n play -2", "tempo 0000000060\n play -2"),
        ("level 000000001\n play -2", "level 0000000001\n play -2"),
        ("meter 000000004/4\n play -2", "meter 4/0000000004\n play -2"),
        ("pickup 000000001\n play -2", "pickup 0000000001\n play -2"),
        ("length 000000001/2\n play -2", "length 1/0000000002\n play -2"),
        ("positions 000000001\n play -2", "positions 0000000001\n play -2"),
        ("tune 000000003", "tune 0000000003"),
    ],
)
def test_nine_digits_of_a_drill_are_read_and_ten_refused(nine: str, ten: str) -> None:
    parse(f'drill "A"\n {nine}')
    with pytest.raises(PatternError, match="this number has 10 digits; at most 9 are read"):
        parse(f'drill "A"\n {ten}')


def test_zeros_in_front_do_not_change_how_often_something_is_played() -> None:
    assert len(played("play -2x000000010").notes) == 10


@pytest.mark.parametrize(
    "text",
    [
        'form "A"\n bars I7 x0000000004',
        'form "A"\n bars I7:0000000001 IV7 | I7',
        'form "A"\n positions 0000000002\n bars I7',
        'feel "A"\n bass root on 0000000001',
        'feel "A"\n bass root on 1:0000000001',
        'feel "A"\n bass root on 1:1/0000000002',
        'feel "A"\n meter 4/0000000004\n bass root on 1',
        'feel "A"\n tempo 0000000060\n bass root on 1',
        'feel "A"\n swing 0000000002 to 1\n bass root on 1',
        'feel "A"\n loudness bass 0000000060\n bass root on 1',
    ],
)
def test_ten_digits_of_a_form_or_feel_are_refused(text: str) -> None:
    with pytest.raises(PatternError, match="this number has 10 digits; at most 9 are read"):
        parse_band(text, "mine")
    parse_band(re.sub("0{8,}", "", text), "mine")


# --- bars ------------------------------------------------------------------------------------


def played(lines: str) -> Score:
    [drill] = parse(f'drill "A"\n {lines}')
    return expand(drill, Harp("C"), Position(2))


@pytest.mark.parametrize("meter", ["4/4", "12/8", "1/4", "7/8"])
def test_a_drill_may_have_a_thousand_bars_and_none_more(meter: str) -> None:
    beats = int(meter.split("/")[0])
    lines = f"meter {meter}\n play (-2:{beats})x100 ((r:{beats})x100)x9"
    assert played(lines).bars == MAX_BARS == 1000
    with pytest.raises(PatternError, match="more than 1,000 bars") as caught:
        played(f"{lines} -3:1/8")
    assert caught.value.source_line[caught.value.span.column - 1 :] == "-3:1/8"


def test_an_echo_counts_as_it_lasts() -> None:
    assert played("meter 1/4\n echo\n play -2:50 (r:50)x9").bars == 1000
    with pytest.raises(PatternError, match="more than 1,000 bars"):
        played("meter 1/4\n echo\n play -2:51 (r:50)x9")


def test_every_section_counts_with_those_before_it() -> None:
    half = 'section "{}"\n play -2:50 (r:50)x9'
    assert played("meter 1/4\n" + half.format("A") + "\n" + half.format("B")).bars == 1000
    with pytest.raises(PatternError, match="more than 1,000 bars"):
        played("meter 1/4\n" + "\n".join(half.format(name) for name in "ABC"))


# --- what multiplies -------------------------------------------------------------------------


def test_the_whole_library_on_twelve_harps_is_no_more_than_may_be_made() -> None:
    drills = [each.drill for each in shipped()]
    scores = sum(len(versions(drill)) for drill in drills) * len(HARP_KEYS)
    notes = sum(len(versions(drill)) * drill.count(5 * len(drill.rungs)) for drill in drills)
    check_scores(scores, notes * len(HARP_KEYS) // 2)
    assert (MOST_SCORES, MOST_NOTES) == (4_000, 100_000)


def test_more_pieces_or_notes_are_refused_with_what_to_do() -> None:
    check_scores(4_000, 100_000)
    with pytest.raises(InputError, match=r"4,001 pieces.*4,000 is the most. Name fewer drills"):
        check_scores(4_001, 0)
    with pytest.raises(InputError, match=r"100,001 notes.*100,000 is the most. Name fewer drills"):
        check_scores(1, 100_001)


def test_a_program_that_uses_the_library_is_bounded_too(tmp_path: Path) -> None:
    score = score_from("-2:4")
    with pytest.raises(InputError, match="4,001 pieces"):
        make([score] * 4_001, tmp_path, ("midi",))
    ladder = Practice(repeats=100, tempi_bpm=tuple(range(20, 80)))
    hours = Recording(practice=ladder, apart=True, types=("wav", "flac", "ogg", "mp3"))
    with pytest.raises(InputError, match="more than 100 hours in all files together"):
        make([score_from("-2:16")], tmp_path, ("wav",), recording=hours)
    assert list(tmp_path.iterdir()) == []


def test_a_thousand_drills_of_one_title_are_named_apart_in_no_time(tmp_path: Path) -> None:
    made = make([score_from("-2:4")] * 1_000, tmp_path, ("tab",))
    assert [each.path.stem for each in made[:3]] == [
        "test-tune-c-2nd", "test-tune-c-2nd-2", "test-tune-c-2nd-3",
    ]  # fmt: skip
    assert len({each.path for each in made}) == 1_000


def test_an_hour_of_audio_and_a_day_of_it_may_be_made() -> None:
    """Four minutes at 60, fifteen times; and that on twelve harps with every stem."""
    four_minutes = score_from(" ".join(["-2:60"] * 4))
    practice = Practice(repeats=15)
    assert played_s(four_minutes, practice) == 3600
    assert plan_recording(four_minutes, practice).length_s == 3600
    check_sound_length([four_minutes], Recording(practice=practice))
    stems = Recording(drone=("root",), click=Click.BEATS, stems=True, practice=practice)
    check_sound_length([four_minutes] * 24, stems)  # guide, mix, drone and click: 96 hours
    with pytest.raises(InputError, match="more than 100 hours"):
        check_sound_length([four_minutes] * 26, stems)


practices = st.builds(
    Practice,
    count_in_bars=st.integers(0, 3),
    repeats=st.integers(1, 4),
    echo_bars=st.none() | st.integers(0, 3),
    tempi_bpm=st.lists(st.integers(20, 300), max_size=3).map(tuple),
)


@given(practices, st.sampled_from([(4, 4), (12, 8), (7, 8)]), st.integers(20, 300))
def test_the_length_that_is_bounded_is_the_one_that_is_planned(
    practice: Practice, meter: tuple[int, int], tempo: int
) -> None:
    score = score_from("-2:2 -3:1/2 ~-3':9/2 r:2 4:7 -4:1/3", meter=meter, tempo=tempo)
    lead = Fraction(2)
    assert plan_recording(score, practice, lead_s=lead).length_s == lead + played_s(score, practice)


def test_a_drill_over_a_form_may_have_a_thousand_bars(tmp_path: Path) -> None:
    from reedmill.band.accompany import Accompaniment, accompanied

    form, feel = tmp_path / "mine.form", tmp_path / "mine.feel"
    form.write_text('form "A"\n bars I7 x20\n')
    feel.write_text('feel "A"\n bass root on 1\n')
    under = Accompaniment(str(form), str(feel), "once", choruses=50)
    laid = accompanied(score_from("-2:4", tempo=300), under)
    assert laid.bars == 1000
    assert laid.band is not None
    longer = replace(laid.band, length=laid.band.length + 4)
    with pytest.raises(InputError, match=r"1,001 bars; 1,000 is the most\. Ask for fewer choruses"):
        laid_over_band(score_from("-2:4"), longer, "once")


@pytest.mark.parametrize("file", sorted(COURSES.glob("*.toml")), ids=lambda file: file.stem)
def test_the_shipped_courses_are_far_from_every_bound(file: Path) -> None:
    assert excess(read_course(file)) == ""
