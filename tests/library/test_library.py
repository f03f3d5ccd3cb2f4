"""The shipped drills: each on every harp in every position, and what the set covers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

import oracles
from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import file_slug, printable
from reedmill.cli.command_remedies import COMMAND_LINE
from reedmill.expand import expand
from reedmill.harp import LAYOUTS, Harp, Layout, Reed
from reedmill.language import Drill, parse
from reedmill.language.drill import RungItem
from reedmill.language.mouth_plans import parse_plan
from reedmill.library import (
    Shelved,
    Wanted,
    drills_data,
    find_drills,
    patterns_dir,
    search,
    shipped,
    techniques,
    techniques_data,
    topics_data,
)
from reedmill.score.score import Role, Score
from reedmill.theory.intonation import intonation_named
from reedmill.theory.positions import Position
from sampling import part_of
from together import together

# What players call the twelve notes over a root: common practice, no published source.
PLAYERS_DEGREES = [
    ["1"], ["b2"], ["2"], ["b3"], ["3"], ["4"], ["b5", "#4"], ["5"], ["b6"], ["6"], ["b7"], ["7"],
]  # fmt: skip

SHELF: dict[str, Shelved] = {each.drill.title: each for each in shipped()}
PUBLISHED_CENTS = oracles.published_cents()
every_drill = pytest.mark.parametrize("title", SHELF)
all_drills = together("title", SHELF)  # of what takes no time


def meant_for(drill: Drill) -> tuple[int, ...]:
    """The positions a drill is for; all twelve when it names none."""
    return drill.positions or tuple(oracles.POSITIONS)


def usual(drill: Drill) -> Position:
    """Cross harp, else the first position the drill is for."""
    return Position(2 if 2 in meant_for(drill) else meant_for(drill)[0])


@cache
def on_c(title: str) -> Score:
    """The drill as most players first meet it: C harp, cross harp unless it is not for it."""
    drill = SHELF[title].drill
    return expand(drill, Harp("C"), usual(drill))


def sounding(harp: str, reed: Reed) -> int:
    """The MIDI key number of a reed by A291810.

    An overbend is one semitone (common practice) above the hole's higher note (outside
    the two: Bahnson, Antaki and Beery, 1998).
    """
    if not reed.over:
        return oracles.sounding(harp, reed.tab.rstrip("q"))
    plain = (oracles.sounding(harp, f"{sign}{reed.hole}") for sign in ("", "-"))
    return max(plain) + 1


def quarter(reed: Reed) -> float:
    """The ratio of a quarter tone down, half of a tempered semitone; 1 for any other reed."""
    return 2 ** (-1 / 24) if reed.tab.endswith("q") else 1.0


def tabs(score: Score) -> list[str]:
    return [note.reed.tab for note in score.notes]


def rungs(title: str) -> list[str]:
    return [reed.tab for reed in on_c(title).rungs]


def anchor(title: str) -> str | None:
    reed = on_c(title).anchor
    return reed.tab if reed else None


# --- every drill, harp and position, against music21 and the published layout ---


@pytest.mark.parametrize("harp", oracles.HARPS)
@pytest.mark.parametrize("position", oracles.POSITIONS)
def test_every_note_of_every_drill_agrees_with_music21(
    harp: str, position: int, whole: bool
) -> None:
    """Key numbers from A291810, frequencies from ISO 16, names and degrees from music21.

    A fifth of the drills on each harp, every drill on three of the fifteen; with ``--whole``
    every drill on every harp.
    """
    root = oracles.root(harp, position)
    for shelved in part_of(shipped(), oracles.HARPS.index(harp), 5, whole=whole):
        if position not in meant_for(shelved.drill):
            continue
        score = expand(shelved.drill, Harp.parse(harp), Position(position))
        tonic = score.key.name
        assert oracles.most_sharps_or_flats(tonic) <= 7
        assert oracles.in_music21(tonic).pitchClass == root.pitchClass
        for each in (sounded for note in score.notes for sounded in note.sounded):
            expected = sounding(harp, each.reed)
            assert each.pitch.midi == expected
            name, lower = each.pitch.name.replace("q", ""), quarter(each.reed)
            assert oracles.key_number(name) == expected
            assert each.hz == pytest.approx(oracles.tempered_hz(expected) * lower, rel=1e-12)
            degree = each.degree.name.rstrip("q")
            assert degree == oracles.degree_by_spelling(tonic, each.pitch.note.rstrip("q"))
            assert degree in PLAYERS_DEGREES[(expected - root.pitchClass) % 12]


# Just cents from the Scala archive; the root of the key stays at its tempered place.
# Every drill on one of three harps in each intonation, in turn; with --whole on all three.
@pytest.mark.parametrize("harp", ["Ab", "C", "low F"])
@pytest.mark.parametrize("intonation", ["equal", "just5", "just7"])
def test_frequencies_in_each_intonation_at_442_hz(intonation: str, harp: str, whole: bool) -> None:
    turn = ["Ab", "C", "low F"].index(harp) + ["equal", "just5", "just7"].index(intonation)
    for title in list(SHELF)[slice(None) if whole else slice(turn % 3, None, 3)]:
        check_frequencies(title, intonation, harp)


def check_frequencies(title: str, intonation: str, harp: str) -> None:
    for position in meant_for(SHELF[title].drill):
        score = expand(
            SHELF[title].drill, Harp.parse(harp), Position(position),
            intonation=intonation_named(intonation), reference_hz=442.0,
        )  # fmt: skip
        root = oracles.root(harp, position).pitchClass
        for each in (sounded for note in score.notes for sounded in note.sounded):
            key = sounding(harp, each.reed)
            above = (key - root) % 12
            cents = PUBLISHED_CENTS[intonation][above]
            root_hz = oracles.tempered_hz(key - above) * 442 / 440
            hz = root_hz * 2 ** (cents / 1200) * quarter(each.reed)
            assert each.hz == pytest.approx(hz, rel=1e-6)


# Neighbours in every hole: nothing bends.
STIFF = Layout(printable("stiff"), blow=tuple(range(0, 40, 4)), draw=tuple(range(1, 41, 4)))


def refusal(drill: Drill, harp: Harp) -> PatternError | None:
    try:
        expand(drill, harp, usual(drill))
    except PatternError as error:
        return error
    return None


@pytest.mark.parametrize("layout", [*LAYOUTS.values(), STIFF], ids=lambda each: each.name)
@every_drill
def test_on_another_tuning_a_drill_plays_or_says_where_it_cannot(
    title: str, layout: Layout
) -> None:
    drill, harp = SHELF[title].drill, Harp("Bb", "", layout)
    error = refusal(drill, harp)
    if error is None:
        notes = expand(drill, harp, usual(drill)).notes
        assert all(harp.refusal(note.reed) is None for note in notes)
        return
    line = (patterns_dir() / error.span.file).read_text("utf-8").split("\n")[error.span.line - 1]
    spot = line[error.span.column - 1 :][: error.span.width]
    assert error.source_line == line
    assert layout.name != "richter"
    word = re.split("[:!]", spot)[0]
    if line.split()[0] == "tune":
        assert error.fact.startswith(f"no reed gives {word.rstrip('+-')} here")
        return
    if line.split()[0] == "move":  # the bend stands in the lines that are taken over
        assert error.led_to is not None
        told = error.led_to
        assert told.fact in error.fact
        assert drill.parent is not None
        line = (patterns_dir() / told.span.file).read_text("utf-8").split("\n")[told.span.line - 1]
        assert told.source_line == line
        word = re.split("[:!]", line[told.span.column - 1 :][: told.span.width])[0]
    assert re.search("['^]|bends of", word)
    words = re.split("[ &]", word)
    reed = Reed.parse(next(each for each in words if each[-1] in "'^0123456789"))
    hole = reed.hole + (drill.move.holes if drill.move else 0)
    assert re.search(f"hole {hole}|{reed.breath.value} {hole}", error.fact)


def test_where_nothing_bends_only_the_drills_that_name_a_bend_are_refused() -> None:
    """The others say "all of", which on such a harp is the natural note alone."""
    harp = Harp("C", "", STIFF)
    home = {title for title, each in SHELF.items() if each.topic == "home"}
    playable = {title for title in home if refusal(SHELF[title].drill, harp) is None}
    assert playable == {title for title in home if "hole" in title} | {"Home from four rungs"}


def test_natural_minor_has_no_room_for_the_deepest_bend_of_draw_3() -> None:
    """Draw 3 is a semitone lower there (common practice), so that it bends one less."""
    drill = find_drills("The semitone as a blues figure")[0]
    harp = Harp("C", "", LAYOUTS["natural-minor"])
    assert {n.pitch.name for n in expand(drill, harp, Position(2)).notes} == {"G4", "A4", "Bb4"}
    four = expand(find_drills("Home from four rungs")[0], harp, Position(2))
    assert [reed.tab for reed in four.rungs] == ["-3", "-3'", "-3''"]


# --- what the set covers ---


def test_at_least_twelve_drills_each_with_what_a_player_wants_to_know() -> None:
    assert len(SHELF) >= 12
    for shelved in SHELF.values():
        drill = shelved.drill
        assert drill.level in range(1, 6), drill.title
        assert (drill.about or "").endswith("."), drill.title
        assert drill.tempo_bpm, drill.title


def test_titles_and_the_files_made_from_them_are_unique() -> None:
    titles = [each.drill.title for each in shipped()]
    assert len({title.lower() for title in titles}) == len(titles)
    assert len({file_slug(title) for title in titles}) == len(titles)


@all_drills
def test_bars_add_up_and_the_music_is_long_enough_to_practise(title: str) -> None:
    score = on_c(title)
    assert score.length == score.bars * score.meter.beats
    last = max([score.notes[-1].end, *(end for _, end in score.echoes)])
    assert score.length - last < score.meter.beats
    assert score.bars >= 2


@all_drills
def test_every_span_points_at_text_of_the_shelf(title: str) -> None:
    for note in on_c(title).notes:
        line = (patterns_dir() / note.span.file).read_text("utf-8").split("\n")[note.span.line - 1]
        word = re.split("[:!]", line[note.span.column - 1 :][: note.span.width])[0]
        if note.role is Role.ANCHOR:
            assert word == "anchor"
        elif note.role is Role.RUNG:
            assert word in {"rung", "previous", "next", "first", "last"}
        elif line.split()[0] == "tune":
            assert word.rstrip("+-") == note.degree.name
        else:
            assert word == note.tab


def comes_home_from(title: str) -> set[str]:
    """The rungs of a drill that its anchor follows directly, if it does so every time."""
    notes = on_c(title).notes
    after = [(a, b) for a, b in pairwise(notes) if a.role is Role.RUNG]
    home = bool(after) and all(b.role is Role.ANCHOR for _, b in after)
    return {a.reed.tab for a, _ in after} if home and not any(n.joined for n in notes) else set()


HOME_HOLES = (1, 2, 3, 4, 6, 8, 9, 10)  # five bend on the draw, three on the blow


@pytest.mark.parametrize("hole", HOME_HOLES)
def test_home_from_every_rung_of_each_hole_that_bends(hole: int) -> None:
    """How far a hole bends: strictly between its two notes of A291810."""
    wanted = set(oracles.run(hole))
    assert len(wanted) > 1
    assert any(wanted == comes_home_from(title) for title in SHELF)


def test_the_first_drill_places_three_rungs_of_draw_3_down_and_up() -> None:
    score = on_c("Home from every rung")
    down = ["-2", "-3", "-2", "-3'", "-2", "-3''"]
    up = ["-2", "-3''", "-2", "-3'", "-2", "-3"]
    assert tabs(score) == [*down, *up, "-2"]
    # G B, G Bb, G A: common practice, no published source.
    assert [note.pitch.name for note in score.notes[:6]] == ["G4", "B4", "G4", "Bb4", "G4", "A4"]
    assert [note.degree.name for note in score.notes[:6]] == ["1", "3", "1", "b3", "1", "2"]


def test_the_same_idea_one_hole_down() -> None:
    """Draw 1 is the anchor, draw 2 and its bends are the rungs: common practice."""
    [title] = [t for t, each in SHELF.items() if each.topic == "home" and anchor(t) == "-1"]
    assert rungs(title) == ["-2", "-2'", "-2''"]
    model = on_c("Home from every rung")
    assert [(n.start, n.length, n.role) for n in on_c(title).notes] == [
        (n.start, n.length, n.role) for n in model.notes
    ]


@pytest.mark.parametrize("slides", [True, False], ids=["with a slide", "with a new attack"])
def test_each_rung_is_approached_from_the_rung_before(slides: bool) -> None:
    ladder = ["-3", "-3'", "-3''"]
    steps = [*pairwise(ladder), *pairwise(ladder[::-1])]

    def approaches(title: str) -> set[tuple[str, str]]:
        pairs = pairwise(on_c(title).notes)
        return {
            (a.reed.tab, b.reed.tab)
            for a, b in pairs
            if a.role is b.role is Role.RUNG and b.joined == slides and a.reed != b.reed
        }

    assert any(approaches(title) == set(steps) for title in SHELF)


def test_the_semitone_rung_has_a_blues_figure_of_its_own() -> None:
    """Draw 3 bent a semitone is the b3 of cross harp: common practice."""
    figures = [title for title in SHELF if rungs(title) == ["-3'"]]
    assert figures
    for title in figures:
        blue = [note for note in on_c(title).notes if note.reed.tab == "-3'"]
        assert {note.degree.name for note in blue} == {"b3"}
        assert len(blue) >= 4


def test_the_deepest_rung_joins_as_a_fourth() -> None:
    four = [title for title in SHELF if rungs(title) == ["-3", "-3'", "-3''", "-3'''"]]
    assert four
    assert {"b2"} == {n.degree.name for n in on_c(four[0]).notes if n.reed.tab == "-3'''"}


def test_two_riffs_of_two_bars_or_more_that_use_a_rung() -> None:
    riffs = [each for each in shipped() if each.file.startswith("riffs/")]
    scores = [on_c(riff.drill.title) for riff in riffs]
    assert sum(any(note.reed.bend for note in score.notes) for score in scores) >= 2
    for score in scores:
        assert score.bars >= 2
        assert not score.rungs
        assert score.notes[-1].degree.name == "1"  # it comes home


# --- finding drills ---


@every_drill
def test_a_drill_is_found_by_its_title_in_any_case_and_by_its_file_name(title: str) -> None:
    assert find_drills(title) == find_drills(title.upper()) == find_drills(file_slug(title))
    assert [drill.title for drill in find_drills(title)] == [title]


def test_the_drills_of_a_file_are_found_by_its_path() -> None:
    path = patterns_dir() / "riffs" / "two-bars-home.drill"
    found = find_drills(str(path))
    assert [d.title for d in found] == ["Two bars home", "Question on four, answer on two"]


def test_a_drill_of_ones_own_may_derive_from_a_shipped_one(tmp_path: Path) -> None:
    path = tmp_path / "mine"
    path.write_text('drill "Mine"\n from "Home from every rung"\n anchor -1\n')
    [mine] = find_drills(str(path))
    assert mine.parent is not None
    assert tabs(expand(mine, Harp("C"), Position(2)))[:4] == ["-1", "-3", "-1", "-3'"]


@pytest.mark.parametrize(
    ("wanted", "hint"),
    [
        ("Home from every rugn", ' Did you mean "Home from every rung"?'),
        ("two bar home", ' Did you mean "Two bars home"?'),
        ("zzz", ""),
        ("", ""),
    ],
)
def test_an_unknown_drill(wanted: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        find_drills(wanted)
    assert str(caught.value.worded(COMMAND_LINE)) == (
        f'there is no drill "{wanted}".{hint} Put a whole title in quotes; '
        "reedmill drills lists them. A file of your own ends in .drill."
    )


def test_a_name_no_file_can_have_is_an_unknown_drill_and_shown_cut() -> None:
    with pytest.raises(InputError, match=f'there is no drill "{"x" * 120}"'):
        find_drills("x" * 5_000)


def test_a_missing_file_is_named() -> None:
    with pytest.raises(InputError) as caught:
        find_drills("none.drill")
    assert str(caught.value) == (
        "none.drill: cannot read this file: it is not there. "
        "Check how its name and its folder are spelled."
    )


# --- searching ---


def titles(found: list[Shelved]) -> set[str]:
    return {each.drill.title for each in found}


def hole_of(tab: str) -> int:
    return int(re.sub(r"\D", "", tab))


# Semitones each reed of a Richter harp bends: strictly between the hole's two notes (Bahnson,
# Antaki and Beery, 1998) of the published layout (OEIS A291810).
_DEPTHS = {oracles.run(hole)[0]: oracles.bend_depth(hole) for hole in HOME_HOLES}


def rungs_of(item: RungItem) -> list[str]:
    """The tabs one item of a rungs line stands for."""
    natural = item.reed.tab
    if item.how == "one":
        return [reed.tab for reed in (*item.beside, item.reed)]
    deepest = item.floor.bend if item.floor else _DEPTHS[natural]
    return [natural + "'" * bend for bend in range(item.how == "bends", deepest + 1)]


def trained(title: str) -> set[str]:
    """What a drill practises, from its lines and its notes: rungs, else bends, else the most.

    Of holes that sound together only where no note is alone.
    """
    drill, tabs_played = SHELF[title].drill, [note.tab for note in on_c(title).notes]
    notes = [tab for tab in tabs_played if "&" not in tab] or [
        reed.tab for note in on_c(title).notes for reed in note.reeds
    ]
    if drill.rungs:
        return {tab for item in drill.rungs for tab in rungs_of(item)}
    bent = {tab for tab in notes if tab[-1] in "'^q"}
    return bent or {tab for tab in notes if notes.count(tab) == max(map(notes.count, notes))}


def test_rungs_are_searched_all_at_once_and_so_is_the_note_they_come_from() -> None:
    for wanted in (["-3'''"], ["-3'", "-3''"], ["-2'"], ["8'"]):
        found = search(Wanted(rungs=tuple(map(Reed.parse, wanted))))
        assert found
        assert titles(found) == {t for t in SHELF if set(wanted) <= trained(t)}
    leaning = search(Wanted(rungs=(Reed.parse("-3''"),), come_from=(Reed.parse("-3'"),)))
    assert "Lean on the rung before" in titles(leaning)
    assert "Home from every rung" not in titles(leaning)  # it comes home between its rungs
    for each in leaning:
        assert ("-3'", "-3''") in pairwise(note.reed.tab for note in each.score.notes)


def test_a_drill_is_found_by_the_hole_it_practises_not_by_its_anchor() -> None:
    assert "Home from every rung" in titles(search(Wanted(hole=3)))
    assert "Home from every rung" not in titles(search(Wanted(hole=2)))  # draw 2 is its anchor


def test_plurals_find_what_the_singular_finds() -> None:
    for word in ("bend", "slide", "rung", "blow bend", "echo"):
        several = f"{word}es" if word == "echo" else f"{word}s"
        assert titles(search(Wanted((several,)))) == titles(search(Wanted((word,))))
    bends = titles(search(Wanted(technique="draw bend")))
    assert bends == titles(search(Wanted(technique="Draw bends")))
    assert titles(search(Wanted(topic="HOME"))) == titles(search(Wanted(topic="home")))
    assert search(Wanted(("chess",))) == []


def test_the_techniques_of_every_embouchure_count() -> None:
    for title, each in SHELF.items():
        plans = [plan.short for plan in each.drill.embouchures]
        notes = on_c(title).notes
        words = {word for note in notes for word in note.style.words}
        covers = any("tongue on" in note.words for note in notes) or words & {"slap", "pull"}
        planned = any("tongue" in plan for plan in plans)
        assert ("tongue block" in each.techniques) == (planned or bool(covers)), title
    later = [e for e in SHELF.values() if e.drill.embouchures[:1] == (parse_plan("lips"),)]
    assert any("tongue block" in each.techniques for each in later)


def test_topics_and_techniques_are_listed_with_how_many_drills_they_have() -> None:
    listed = {row["topic"]: row["drills"] for row in topics_data(search(Wanted()))["topics"]}
    folders = {place.parent.name for place in patterns_dir().glob("*/*.drill")}
    assert list(listed) == sorted(folders - {"phrases"})  # which stand apart
    assert sum(listed.values()) == len(SHELF)
    rows = techniques_data(search(Wanted(level=1)))["techniques"]
    assert rows
    for row in rows:
        assert row["drills"] == len(search(Wanted(level=1, technique=row["technique"])))


def test_searching_narrows_by_every_word_level_and_hole() -> None:
    assert titles(search(Wanted())) == set(SHELF)
    assert titles(search(Wanted(("RUNG", "blow 9")))) == {
        "Home from every rung, hole 8 blow",
        "Home from every rung, hole 9 blow",
        "Home from every rung, hole 10 blow",
    }
    for level in range(1, 6):
        assert titles(search(Wanted(level=level))) == {
            t for t, e in SHELF.items() if e.drill.level == level
        }
    for hole in range(1, 11):
        practising = {t for t in SHELF if hole in map(hole_of, trained(t))}
        assert titles(search(Wanted(hole=hole))) == practising
    assert search(Wanted(("rung", "no such word"))) == []


def test_the_easiest_come_first() -> None:
    levels = [each.drill.level or 0 for each in search(Wanted())]
    assert levels == sorted(levels)
    assert levels[0] == 1


def drill_of(music: str) -> Drill:
    return parse(f'drill "Tune"\n play {music}')[0]


@pytest.mark.parametrize("name", ["mine.dril", "mien.drll", "Mine.dirll"])
def test_a_mistyped_drill_file_is_answered_with_the_one_that_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    (tmp_path / "mine.drill").write_text('drill "Mine"\n  play -2\n', "utf-8")
    (tmp_path / "notes.txt").write_text("", "utf-8")
    with pytest.raises(InputError, match=re.escape(f'Did you mean "{tmp_path}/mine.drill"?')):
        find_drills(f"{tmp_path}/{name}")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError, match=re.escape('Did you mean "mine.drill"?')):
        find_drills(name)
    with pytest.raises(InputError, match=r'there is no drill "gone/mine.dril"\.$'):
        find_drills("gone/mine.dril")


@pytest.mark.parametrize(
    ("music", "names"),
    [
        ("-2 3", ("single notes",)),
        ("-3'", ("draw bend",)),
        ("8'", ("blow bend",)),
        ("6^ -7^", ("overbend",)),
        ("-3~-3'", ("draw bend", "slide")),
        ("-2~-2", ("single notes",)),  # one longer note, no slide
        ("6^ 8' -1' 8~8'", ("draw bend", "blow bend", "overbend", "slide")),
    ],
)
def test_techniques(music: str, names: tuple[str, ...]) -> None:
    assert techniques(expand(drill_of(music), Harp("C"), Position(2))) == names


def test_the_listing_says_what_each_drill_needs() -> None:
    rows = {row["title"]: row for row in drills_data(search(Wanted()))["drills"]}
    assert set(rows) == set(SHELF)
    assert rows["Home from every rung, hole 8 blow"] == {
        "title": "Home from every rung, hole 8 blow",
        "file": "home/blow-bends.drill",
        "level": 3,
        "about": SHELF["Home from every rung, hole 8 blow"].drill.about,
        "holes": [8, 9],
        "techniques": ["blow bend"],
        "topic": "home",
        "positions": [2],
        "over": [],
        "practised": ["8", "8'"],
        "practised_holes": [8],
        "approaches": [{"from": "9", "to": "8"}, {"from": "9", "to": "8'"}],
    }


def test_the_library_is_read_only_for_a_drill_that_derives_from_another() -> None:
    asked: list[str] = []

    def library() -> Iterator[Drill]:
        asked.append("the library")
        yield from parse('drill "Home"\n  play -2')

    parse('drill "From afar"\n  about "From afar."\n  play -3', "mine", library())
    assert asked == []
    [drill] = parse('drill "Mine"\n  from "Home"\n  tempo 66', "mine", library())
    assert asked == ["the library"]
    assert drill.title == "Mine"
