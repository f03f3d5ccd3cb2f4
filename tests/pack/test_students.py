"""One course for several students: what is each one's own, what they share, and how it is opened.

Outside facts: A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 inches (ANSI Y14.1), a point is
1/72 inch; country tuning has draw 5 a semitone higher than Richter tuning (common practice).
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

import pytest
from lxml import html
from pypdf import PdfReader

from browsers import AXE, DESK, PHONE
from pack_builds import built, made, run
from reedmill.base.errors import PatternError
from reedmill.harp import Reed
from reedmill.pack.build.progress import size_in_words
from reedmill.pack.course.course import Course, Edition, editions
from reedmill.pack.course.course_reading import parse_course, read_course
from reedmill.pack.course.tasks import ChartTask, Failed, Task, charts, tasks
from reedmill.pack.keep.ledger import BuildScope
from reedmill.pack.pages.chapter import chapter_of, front_of
from reedmill.pack.plan.pieces import plan_pack
from reedmill.pack.site.students import StudentLink, top_html
from reedmill.sheet.page import pages

if TYPE_CHECKING:
    from playwright.sync_api import Browser

COURSE = """\
title = "Monday"
harps = ["C", "A"]

[defaults]
hand_out = ["sheet", "midi"]

[[lessons]]
title = "One"

[[lessons.exercises]]
drill = ["Two holes, one note", "Two bars home"]

[[lessons.exercises]]
drill = "Home from every rung"

[[lessons]]
title = "Two"

[[lessons.exercises]]
drill = "Two bars home"
"""


def course(students: str = "", text: str = COURSE) -> Course:
    return parse_course(text + students, "monday.toml", Path("nowhere"))


def ada(keys: str, text: str = COURSE) -> Edition:
    [edition] = editions(course(f'[[students]]\nname = "Ada"\n{keys}\n', text))
    return edition


def rows(edition: Edition) -> list[Task]:
    found = list(tasks(edition))
    assert [each for each in found if isinstance(each, Failed)] == []
    return [each for each in found if isinstance(each, Task)]


# --- what is a student's own --------------------------------------------------------------


def test_a_student_s_sheets_look_as_the_student_needs_them() -> None:
    page = '[page]\npaper = "letter"\nshow = "tab"\nlarge = true\n[defaults]\n'
    text = COURSE.replace("[defaults]\n", page)
    assert ada("black = true\nlarge = false", text).look == course("", text).look.__class__(
        "letter", large=False, black=True, show="tab"
    )
    assert ada("", text).look == course("", text).look
    works = plan_pack(
        course('[[students]]\nname = "Ada"\npaper = "letter"\n'), BuildScope(), lambda _: False
    )
    papers = {piece.facts["paper"] for piece in works.pieces if "paper" in piece.facts}
    assert papers == {"letter"}


def test_a_student_s_reeds_are_named_wherever_the_harp_is_and_sound_as_they_are_tuned() -> None:
    text = COURSE.replace('drill = "Home', 'harps = "C"\ndrill = "Home')
    text += '[[lessons.charts]]\nreeds = "-5"\n'
    edition = ada('tuning = "country"', text)
    assert [harp.label for harp in edition.harps] == ["C country harp", "A country harp"]
    found = rows(edition)
    assert all(task.score.harp.layout.name == "country" for task in found)
    assert found[2].score.harp.full_name == "C country"  # where the course names its C harp
    assert edition.harps[0].midi(Reed.parse("-5")) == 78  # F#5, on a Richter harp F5
    chapter = chapter_of(edition.lessons[0], found)
    assert all("country harp" in each.where for each in chapter.exercises)
    assert front_of(edition).harps == ("C country", "A country")
    assert all("country" in task.name for task in found)
    [chart] = [each for each in charts(edition) if isinstance(each, ChartTask)]
    assert chart.harp.full_name in ("C country", "A country")


def test_a_harp_whose_layout_is_named_keeps_it() -> None:
    edition = ada('tuning = "country"\nharps = ["C", "A natural minor"]')
    assert [harp.full_name for harp in edition.harps] == ["C country", "A natural minor"]


def test_a_chart_with_a_reed_that_a_student_s_harp_lacks_is_told_and_stops_no_other() -> None:
    text = COURSE + '[[lessons.charts]]\nreeds = "-7\'"\n'
    with pytest.raises(PatternError):
        course("", text)  # no Richter harp bends draw 7
    bends = COURSE + '[[lessons.charts]]\nreeds = "-3\'\'\'"\n[[lessons.charts]]\nreeds = "-2"\n'
    failed, good = charts(ada('tuning = "natural-minor"', bends))
    assert isinstance(failed, Failed)
    assert "bends too far: draw 3 bends at most 2 semitones" in failed.message
    assert isinstance(good, ChartTask)


def test_a_student_is_tuned_as_the_student_says() -> None:
    usual, high = rows(ada("")), rows(ada("reference = 442"))
    ratios = {
        round(b.hz / a.hz, 9)
        for one, other in zip(usual, high, strict=True)
        for a, b in zip(one.score.notes, other.score.notes, strict=True)
    }
    assert ratios == {round(442 / 440, 9)}
    assert {task.score.intonation.name for task in rows(ada('intonation = "just5"'))} == {"just5"}


def test_exercises_are_left_out_by_title_or_number_and_the_others_keep_their_harps() -> None:
    def played(keys: str) -> list[tuple[int, str, str]]:
        return [(t.lesson, t.score.title, t.score.harp.name) for t in rows(ada(keys))]

    every = played("")
    assert len(every) == 4
    assert played('without = "two  BARS home"') == [each for each in every if "bars" not in each[1]]
    assert played('without = ["1.1"]') == every[2:]
    assert played('without = ["2.1", "Home from every rung"]') == every[:2]


def test_a_title_that_is_not_in_the_course_is_shown_where_it_stands() -> None:
    with pytest.raises(PatternError) as caught:
        ada('without = ["Two bars home", "Home from evry rung"]')
    assert str(caught.value) == (
        'monday.toml:23:29: no exercise of this course is called "Home from evry rung"\n'
        '   23 | without = ["Two bars home", "Home from evry rung"]\n'
        "      |                             ^^^^^^^^^^^^^^^^^^^^^\n"
        '  Did you mean "Home from every rung"? Write the title of its drill, or lesson and '
        'exercise as numbers: "2.3" is the third exercise of lesson 2.'
    )


def test_a_paper_that_does_not_exist_is_shown_where_it_stands() -> None:
    with pytest.raises(PatternError, match=r'monday.toml:23:9: there is no paper "a5"'):
        ada('paper = "a5"')


def test_students_who_share_a_look_and_a_harp_share_every_sheet() -> None:
    def sheets(second: str) -> int:
        text = '[[students]]\nname = "Ada"\n[[students]]\nname = "Ben"\n'
        found = plan_pack(course(text + second), BuildScope(), lambda _: False)
        return sum(step.kind == "sheet" for step in found.steps.values())

    alone = sheets("")
    assert sheets('without = ["1.1"]\n') == alone
    assert sheets("large = true\n") == 2 * alone


# --- a band under a sheet alone -----------------------------------------------------------


BAND = 'backing = { form = "Twelve bars", feel = "Medium shuffle" }\n'


def test_students_who_play_a_drill_on_the_same_harp_share_its_practice_page(
    tmp_path: Path,
) -> None:
    """It is made once, whatever lessons and folders it is in; another tempo is another page."""
    curriculum = tmp_path / "monday.toml"
    text = COURSE.replace('"sheet", "midi"', '"page"').replace('["C", "A"]', '["C"]')
    more = '[[students]]\nname = "Ada"\n[[students]]\nname = "Ben"\n'
    slow = '[[students]]\nname = "Cleo"\npace = 50\n'
    curriculum.write_text(text + more + slow, "utf-8")
    data = built(curriculum, tmp_path / "out")
    pages = [row for row in data["files"] if row["kind"] == "practice-page"]
    assert len(pages) == 3 * 4
    digests = {Path(row["path"]).read_bytes() for row in pages}
    assert len(digests) == 2 * 3  # three drills, at two paces; one of them is in two lessons
    found = plan_pack(read_course(curriculum), BuildScope(None, None, False), lambda _: False)
    assert sum(step.kind == "practice-page" for step in found.steps.values()) == 2 * 3


def test_a_band_stands_on_a_sheet_that_is_handed_out_without_sound() -> None:
    edition = ada("", COURSE + BAND + 'hand_out = "sheet"\n')
    [task] = [each for each in rows(edition) if each.lesson == 2]
    assert task.recording is None
    assert task.formats == ("sheet", "png")
    assert task.score.band is not None
    assert task.score.band.form == "Twelve bars"
    printed = pages([task.score], edition.look)
    # the four chord of cross harp is the harp's own chord; it comes in bar 5 of a twelve-bar blues
    assert f'"{task.score.harp.key}" "7"' in printed
    assert '"5"' in printed


def test_a_band_plays_in_midi_that_is_handed_out_without_sound() -> None:
    found = plan_pack(course("", COURSE + BAND), BuildScope(), lambda _: False)
    [over] = [each for each in found.pieces if each.kind == "midi" and each.lesson == 2]
    assert over.facts["backing"] == "yes"
    assert all(each.facts.get("backing") != "yes" for each in found.pieces if each.lesson == 1)


# --- the pack -----------------------------------------------------------------------------

STUDENTS = """
[[students]]
name = "Ada"
paper = "letter"
large = true
pace = 80

[[students]]
name = "<b>Ben</b> & Bo"
tuning = "country"
reference = 442
without = ["Two bars home", "1.2"]
"""
VERSIONS = COURSE.replace(
    'drill = "Home from every rung"\n',
    'drill = "Home from every rung"\nembouchure = ["lips", "anchors tongue left, rungs lips"]\n',
)
PLANS = ("lips", "anchors tongue left, rungs lips")


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, str]:
    """The course, its pack, and what the command said."""
    folder = tmp_path_factory.mktemp("students")
    path, out = folder / "monday.toml", folder / "out"
    path.write_text(VERSIONS.replace('"midi"]', '"audio"]\naudio = ["ogg"]') + STUDENTS)
    done = run("pack", path, "--out", out, "--zip")
    assert done.exit_code == 0, done.output
    return path, out, done.output


def points(out: Path, book: str) -> tuple[int, int]:
    box = PdfReader(out / book).pages[0].mediabox
    return round(box.width), round(box.height)


def test_each_book_has_the_paper_of_its_student(pack: tuple[Path, Path, str]) -> None:
    _, out, _ = pack
    assert points(out, "ada/monday.pdf") == (612, 792)
    assert points(out, "b-ben-b-bo/monday.pdf") == pytest.approx(
        (210 / 25.4 * 72, 297 / 25.4 * 72), abs=1
    )


def test_the_end_says_what_to_open_and_what_was_zipped(pack: tuple[Path, Path, str]) -> None:
    path, out, said = pack
    assert f"Open {out}/index.html: it leads to every student" in said
    for name in ("ada", "b-ben-b-bo"):
        archive = out / name / f"monday-{name}.zip"
        size = size_in_words(archive.stat().st_size)
        assert f"  {out}/{name}/index.html; {archive}, {size}\n" in said
    again = run("pack", path, "--out", out, "--zip").output
    assert again.splitlines()[1:] == said.splitlines()[1:]


def test_the_page_at_the_top_leads_to_every_student_and_says_what_each_has(
    pack: tuple[Path, Path, str],
) -> None:
    _, out, _ = pack
    text = (out / "index.html").read_text("utf-8")
    page = html.document_fromstring(text)
    links = page.xpath("//a/@href")
    assert links == [
        "ada/index.html", "ada/monday.pdf", "b-ben-b-bo/index.html", "b-ben-b-bo/monday.pdf",
    ]  # fmt: skip
    assert all((out / unquote(link)).is_file() for link in links)
    first, second = (
        " ".join(each.text_content().split()) for each in page.xpath("//main//li/h3/..")
    )
    assert "Tempi80 % of the course's" in first
    assert "Letter, large print" in first
    assert "<b>Ben</b> & Bo" in second
    assert "HarpsC country, A country" in second
    assert "A4 = 442 Hz" in second
    assert "Home from every rung (lesson 1)" in second
    style = page.xpath("//style/text()")[0]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    [policy] = page.xpath("//meta[@http-equiv]/@content")
    assert f"style-src 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    assert "script-src" not in policy


def test_a_student_s_page_that_is_not_there_yet_is_named_without_a_link() -> None:
    found = course('[[students]]\nname = "Ada"\n')
    [edition] = editions(found)
    page = html.document_fromstring(top_html(found, [StudentLink(edition)]).decode())
    assert page.xpath("//main//a") == []
    assert "Ada (not built yet)" in page.text_content()


def test_names_from_the_right_turn_nothing_around_them_at_the_top() -> None:
    """HTML, 4.5.24: what stands in a bdi element does not change the order of what follows."""
    text = COURSE.replace('"Monday', '"שני').replace("harps =", 'author = "דוד לוי"\nharps =', 1)
    found = course('[[students]]\nname = "שרה כהן"\n', text)
    [edition] = editions(found)
    page = html.document_fromstring(top_html(found, [StudentLink(edition)]).decode())
    assert page.xpath("//h3/bdi/text()") == ["שרה כהן"]
    assert page.xpath("//footer//bdi/text()") == [found.title, "דוד לוי"]
    assert page.xpath("//h1/@dir") == ["auto"]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_at_the_top_opens_from_disk_without_a_barrier(
    browser: Browser, pack: tuple[Path, Path, str], size: tuple[int, int], scheme: Any
) -> None:
    said: list[str] = []
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, bypass_csp=False
    )
    page = context.new_page()
    page.on("console", lambda message: said.append(message.text))
    page.goto((pack[1] / "index.html").as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Ada"
    page.keyboard.press("Enter")
    page.wait_for_url("**/ada/index.html")
    assert page.locator("h1").inner_text() == "Monday"
    assert said == []
    context.close()
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, bypass_csp=True
    )
    page = context.new_page()
    page.goto((pack[1] / "index.html").as_uri())
    page.add_script_tag(content=AXE)
    assert page.evaluate("axe.run().then((found) => found.violations.map((each) => each.id))") == []
    context.close()


def test_two_versions_for_the_mouth_are_told_apart_everywhere(
    pack: tuple[Path, Path, str],
) -> None:
    _, out, _ = pack
    book = PdfReader(out / "ada" / "monday.pdf")
    texts = [" ".join(page.extract_text().split()) for page in book.pages]
    marks = [
        str(getattr(each, "title", ""))
        for part in book.outline
        if isinstance(part, list)
        for each in part
    ]
    site = html.document_fromstring((out / "ada" / "index.html").read_text("utf-8"))
    alts = site.xpath("//img/@alt")
    manifest = json.loads((out / "ada" / "manifest.json").read_text())
    named = {each.get("embouchure") for each in manifest["files"]}
    music = (out / "ada" / "monday.m3u8").read_text()
    lesson = next(text for text in texts if "in this lesson" in text)
    log = next(text for text in texts if "Practice log" in text and "tick each" in text)
    contents = next(text for text in texts if "Contents" in text)
    for words in PLANS:
        assert words in contents
        assert words in lesson
        assert words in log
        assert any(mark.endswith(f"position, {words}") for mark in marks)
        assert any(words in alt for alt in alts)
        assert words in named
        assert f", {words}" in music
        assert words in site.xpath("//dd/text()")


def test_what_one_student_changes_makes_nothing_of_another_s_anew(
    pack: tuple[Path, Path, str], tmp_path: Path
) -> None:
    path, out = pack[0], tmp_path / "out"
    shutil.copytree(pack[1], out)
    text = path.read_text()
    path.write_text(text.replace("large = true", "large = true\nblack = true"))
    changed = made(built(path, out), out)
    path.write_text(text)
    assert changed
    assert {re.split("/", each)[0] for each in changed} == {"ada", "index.html"}
    assert not [each for each in changed if each.endswith(".ogg")]


def test_a_student_called_everyone_has_a_folder_too() -> None:
    found = plan_pack(course('[[students]]\nname = "Everyone"\n'), BuildScope(), lambda _: False)
    assert all(piece.place.startswith("everyone/") for piece in found.pieces)


# --- the plan -----------------------------------------------------------------------------


def test_a_plan_counts_files_books_and_pages_as_they_come_out(
    pack: tuple[Path, Path, str], tmp_path: Path
) -> None:
    path, out, _ = pack
    before = run("pack", path, "--out", tmp_path / "none", "--plan", "--json")
    done = json.loads(run("pack", path, "--out", out, "--plan", "--json").stdout)
    guessed = json.loads(before.stdout)
    there = [each for each in out.rglob("*") if each.is_file() and ".reedmill" not in each.parts]
    archives = [each for each in there if each.suffix == ".zip"]
    assert done["files"] == len(there) - len(archives)
    kinds = {row["kind"]: row for row in done["plan"]}
    books = [each for each in there if each.suffix == ".pdf" and each.stem in _books(each)]
    assert kinds["book"]["files"] == len(books)
    assert kinds["book"]["pages"] == sum(len(PdfReader(each).pages) for each in books)
    first = {row["kind"]: row for row in guessed["plan"]}
    for kind in ("audio", "book", "text"):
        assert first[kind]["files"] == kinds[kind]["files"]
    assert abs(guessed["files"] - done["files"]) <= 0.3 * done["files"]
    made_bytes = sum(
        each.stat().st_size for each in (out / ".reedmill" / "objects").rglob("*") if each.is_file()
    )
    assert 0.7 * made_bytes < guessed["bytes"] < 1.3 * made_bytes


def _books(path: Path) -> set[str]:
    """The names a book in the folder of *path* may have."""
    return {"monday", path.parent.name}


@pytest.mark.parametrize(("kind", "bytes_a_second"), [("wav", 88_200), ("mp3", 6_000)])
def test_sound_is_reckoned_by_its_type(tmp_path: Path, kind: str, bytes_a_second: int) -> None:
    text = COURSE.replace('["sheet", "midi"]', f'"audio"\naudio = "{kind}"')
    path = tmp_path / "monday.toml"
    path.write_text(text)
    done = json.loads(run("pack", path, "--out", tmp_path / "out", "--plan", "--json").stdout)
    [row] = [each for each in done["plan"] if each["kind"] == "audio"]
    seconds = sum(float(t.recording.sound_s(t.score)) for t in rows(ada("", text)) if t.recording)
    assert row["types"] == [kind]
    assert row["bytes"] == pytest.approx(seconds * bytes_a_second, rel=0.3)
